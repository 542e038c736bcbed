"""Where a phone on the same network reaches this computer, and that address as a QR code."""

from __future__ import annotations

import io
import socket
from functools import lru_cache

_QUIET_ZONE = 2
"""Light modules around it: half of what ISO/IEC 18004 asks for, as a terminal has few lines."""


@lru_cache(maxsize=1)
def code_lines(text: str) -> tuple[str, ...]:
    """Return the code's lines, for a white pen on black ground."""
    import segno  # noqa: PLC0415

    written = io.StringIO()
    segno.make(text, error="l").terminal(written, compact=True, border=_QUIET_ZONE)
    return tuple(written.getvalue().splitlines())


_ELSEWHERE = ("192.0.2.1", 9)
"""An address kept for documentation (RFC 5737): it is only asked which way it would lie."""


def own_addresses() -> list[str]:
    """Return the IPv4 addresses of this computer that others may reach, the likeliest first.

    That is the one by which the default route goes out. Empty where there is no network.
    """
    import ifaddr  # noqa: PLC0415

    found = [str(ip.ip) for adapter in ifaddr.get_adapters() for ip in adapter.ips if ip.is_IPv4]
    reachable = [ip for ip in found if not ip.startswith(("127.", "169.254."))]
    outward = _outward()
    return sorted(dict.fromkeys(reachable), key=lambda ip: ip != outward)


def _outward() -> str | None:
    """The address by which the default route goes out; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_ELSEWHERE)
        except OSError:
            return None
        return str(probe.getsockname()[0])
