"""A meter's address: ``scheme:target?option=value``, such as ``serial:COM3?unit=m``."""

from __future__ import annotations

import re
from urllib.parse import parse_qsl, quote

import msgspec

from witnessmark.errors import BadInput

_FORM = re.compile(
    r"(?P<scheme>[a-z][a-z0-9-]*):(?P<target>[^?]*)(?:\?(?P<options>.*))?", re.DOTALL
)

_LOCAL_URLS = frozenset({"alt", "cp2110", "hwgrep", "loop", "spy"})
"""Kinds of pyserial URL that stay on this computer."""


class Address(msgspec.Struct, frozen=True):
    """How a meter is reached. ``text`` is the address as it was written."""

    scheme: str
    target: str
    options: dict[str, str]
    text: str

    @classmethod
    def parse(cls, text: str) -> Address:
        """Read an address.

        Raises:
            BadInput: when there is no ``scheme:`` or an option has no value.
        """
        match = _FORM.fullmatch(text.strip())
        if match is None:
            raise BadInput(
                f'meter address "{text}": write it as serial:PORT, typed:, replay:FILE or sim:'
            )
        try:
            pairs = parse_qsl(
                match["options"] or "",
                keep_blank_values=False,
                strict_parsing=bool(match["options"]),
            )
        except ValueError:
            raise BadInput(
                f'meter address "{text}": options after ? are written name=value, joined by &'
            ) from None
        return cls(match["scheme"], match["target"], dict(pairs), text.strip())

    @property
    def network_host(self) -> str:
        """The other computer that is connected to, as ``HOST:PORT``; empty where there is none."""
        kind, is_url, rest = self.target.partition("://")
        is_local = not is_url or kind.lower() in _LOCAL_URLS
        return "" if self.scheme != "serial" or is_local else rest.rpartition("@")[2].split("/")[0]

    def with_options(self, **changes: str | None) -> Address:
        """Return the same address with some options set, or left out where None."""
        options = {name: value for name, value in (self.options | changes).items() if value}
        # quoted but for what stays readable in an address and means nothing there
        written = "&".join(f"{name}={quote(value, safe='/:,')}" for name, value in options.items())
        text = f"{self.scheme}:{self.target}" + (f"?{written}" if written else "")
        return Address(self.scheme, self.target, options, text)

    def allow_options(self, *names: str) -> None:
        """Refuse options that the driver does not know.

        Raises:
            BadInput: naming the first unknown option and those that would be right.
        """
        for name in self.options:
            if name not in names:
                known = ", ".join(names) or "none"
                raise BadInput(
                    f'meter address "{self.text}": no option "{name}" here; known: {known}'
                )
