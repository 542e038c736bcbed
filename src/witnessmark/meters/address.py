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
_OWN_SCHEMES = frozenset({"ble", "replay", "serial", "sim", "typed"})
"""Those of this project, whose targets are on no network but for a URL or a shared folder."""
_OWN_OPTIONS = frozenset({"adapter", "baud", "every", "profile", "unit"})
"""Those of this project, whose values are no hosts, whichever driver has them."""
_SHARED = re.compile(
    r"(?:[/\\]{2}(?:[.?][/\\](?:UNC|GLOBALROOT[/\\]Device[/\\]Mup)[/\\]+)?|/net/)"
    r"(?![.?])(?P<rest>[^/\\].*)",
    re.DOTALL | re.IGNORECASE,
)
"""A file of another computer, as Windows names it, or as Unix mounts it by itself; a device of this
computer has a dot at its head."""
_HERE = re.compile(
    r"|[/\\.~].*|[a-z]:[/\\].*|com[0-9]+|[0-9a-f]{2}(?:[:-][0-9a-f]{2}){5}",
    re.DOTALL | re.IGNORECASE,
)
"""What can be no host: nothing, a path, a port of this computer, the address of a radio."""
_NO_HOST = re.compile(r"[+-]?(?:[0-9]{0,5}|[0-9]*\.[0-9]*)|true|false|yes|no|on|off", re.IGNORECASE)
"""Values of options that can be no host: a number that is not as long as a whole address is."""


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
        if len(dict(pairs)) < len(pairs):  # a driver might take another of them than is told
            raise BadInput(f'meter address "{text}": an option is there twice; give each once')
        return cls(match["scheme"], match["target"], dict(pairs), text.strip())

    @property
    def network_host(self) -> str:
        """The other computer that is connected to, as ``HOST:PORT``; empty where there is none.

        What a scheme that is not known here means by its target and its options nobody can tell, so
        whatever may be a host counts as one; of several all are named. ``Driver.network_host`` may
        know better.
        """
        values = (value for name, value in self.options.items() if name not in _OWN_OPTIONS)
        hosts = (self._host_in_target, *(map(_host_in_option, values)))
        return ", ".join(dict.fromkeys(filter(None, hosts)))

    @property
    def _host_in_target(self) -> str:
        kind, is_url, _ = self.target.partition("://")
        if self.scheme in _OWN_SCHEMES and not _SHARED.fullmatch(self.target):
            is_there = self.scheme == "serial" and is_url and kind.lower() not in _LOCAL_URLS
            return _possible_host(self.target) if is_there else ""
        return _possible_host(self.target)

    def with_options(self, **changes: str | None) -> Address:
        """Return the same address with some options set, or left out where None."""
        options = {name: value for name, value in (self.options | changes).items() if value}
        # quoted but for what stays readable in an address and means nothing there
        written = "&".join(
            f"{quote(name, safe='')}={quote(value, safe='/:,')}" for name, value in options.items()
        )
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


def _host_in_option(value: str) -> str:
    return "" if _NO_HOST.fullmatch(value) else _possible_host(value)


def _possible_host(text: str) -> str:
    """Return what may be a host in the target or in an option of an address."""
    if shared := _SHARED.fullmatch(text):
        return _host(shared["rest"])
    _, is_url, rest = text.partition("://")
    if is_url:
        return _host(rest)
    return "" if _HERE.fullmatch(text) else _host(text)


def _host(target: str) -> str:
    """Return the host and port at the beginning of a target, without who signs in there."""
    return re.split(r"[/\\]", target, maxsplit=1)[0].rpartition("@")[2]
