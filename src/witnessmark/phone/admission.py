"""Who may come in from the network, and how much of it is taken before it is looked at.

Whoever has the token that is in the code may come in, by the address that is in it. A page from
elsewhere that a browser of this network shows must not: it names another Origin, or, where
its own name was made to lead here, another Host; and it has no cookie, which is sent only with what
our own page asks for.

Each connection has an allowance of bytes, which a person who taps as fast as fingers go never uses
up; all together have one of their own. Who sends more is broken off with nothing decoded, so that
no turn of the event loop has more to decode than one allowance. A connection that has not shown the
token is a *caller*: callers give way to newer ones, those of the busiest address first, so that
whoever has the token gets in however many others hold a line.
"""

from __future__ import annotations

import asyncio
import enum
import secrets
from collections import Counter
from collections.abc import Iterator
from http import HTTPStatus
from typing import ClassVar

import msgspec
from websockets.asyncio.server import ServerConnection
from websockets.datastructures import Headers
from websockets.http11 import Request
from websockets.protocol import State

_ROOT, _LIVE = "/", "/live"


class Way(enum.Enum):
    """What a request that may come in is for."""

    PAGE = enum.auto()
    SOCKET = enum.auto()


class RequestRefused(Exception):
    """A request that may not come in, with the status that it is answered with."""

    def __init__(self, status: HTTPStatus, why: str) -> None:
        super().__init__(why)
        self.status = status


class Guard:
    """Lets in what comes to ``authority``, an address and a port, with a token of its own."""

    def __init__(self, authority: str) -> None:
        self.authority = authority
        self._token = secrets.token_urlsafe(16)
        # a cookie is sent to all ports of an address, and must not meet that of another program
        self._name = f"witnessmark-{authority.rpartition(':')[2]}"

    @property
    def url(self) -> str:
        """Where the page is, with the token."""
        return f"http://{self.authority}/{self._token}"

    @property
    def cookie(self) -> str:
        """The header that moves the token from the address into a cookie."""
        return f"{self._name}={self._token}; Path=/; HttpOnly; SameSite=Strict"

    def admit(self, request: Request) -> Way:
        """Return what a request is for.

        Raises:
            RequestRefused: when it may not come in.
        """
        headers, path = request.headers, request.path
        if headers.get_all("Host") != [self.authority]:
            raise RequestRefused(
                HTTPStatus.MISDIRECTED_REQUEST, "This is not the address on the screen."
            )
        origins = headers.get_all("Origin")
        if any(origin != f"http://{self.authority}" for origin in origins):
            raise RequestRefused(HTTPStatus.FORBIDDEN, ("Requests from another page are refused."))
        if request.method != "GET":
            raise RequestRefused(
                HTTPStatus.METHOD_NOT_ALLOWED, ("This page only answers GET requests.")
            )
        by_token = self._is_token(path.removeprefix(_ROOT))
        if not by_token and not any(map(self._is_token, self._tokens(headers))):
            raise RequestRefused(
                HTTPStatus.FORBIDDEN, "Scan the code on the computer's screen again."
            )
        if by_token or path == _ROOT:
            return Way.PAGE
        if path == _LIVE and origins:
            return Way.SOCKET
        raise RequestRefused(HTTPStatus.NOT_FOUND, "There is nothing here.")

    def _tokens(self, headers: Headers) -> Iterator[str]:
        """The values of our cookie."""
        for header in headers.get_all("Cookie"):
            for pair in header.split(";"):
                name, _, value = pair.strip().partition("=")
                if name == self._name:
                    yield value

    def _is_token(self, text: str) -> bool:
        return secrets.compare_digest(text.encode(), self._token.encode())


class Limits(msgspec.Struct, frozen=True):
    """What one phone may ask of us, and how many may."""

    phones: int = 6
    lines: int = 24
    """Connections of any kind at a time."""
    lines_of_address: int = 12
    """Those of one address."""
    message_bytes: int = 256
    request_bytes: int = 8192
    """Largest request, bytes: a browser's is a quarter of it."""
    burst_bytes: int = 2048
    """What a phone may send at once, bytes."""
    bytes_a_second: int = 512
    """What it may send further: a decision has 40 bytes, an answer to a ping 10."""
    calls_a_second: float = 20.0
    """Connections that may be made, of one address half of them; twice as many at once."""
    header_s: float = 3.0
    """Time that a request may take to come in, seconds."""
    slow_s: float = 5.0
    """Time that a phone may take to receive a state, seconds."""
    beat_s: float = 4.0
    """Time after which a state is sent again, seconds."""


class Allowance:
    """An amount at once, and more with each second, up to that amount again."""

    def __init__(self, burst: float, a_second: float, now: float) -> None:
        self._burst, self._a_second = burst, a_second
        self._left, self._at = burst, now

    def spend(self, amount: float, now: float) -> bool:
        """Use up an amount, and return whether that was there."""
        self._left = min(self._burst, self._left + (now - self._at) * self._a_second)
        self._at = now
        if amount > self._left:
            return False
        self._left -= amount
        return True

    @property
    def is_half_used(self) -> bool:
        """Whether half of it was used up when something was spent last."""
        return self._left < self._burst / 2

    def is_whole(self, now: float) -> bool:
        """Return whether nothing of it is used up any more."""
        return self._left + (now - self._at) * self._a_second >= self._burst


class Lines:
    """The connections that there are, and what may come over all of them."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self.open: dict[AdmittedConnection, None] = {}
        """In the order in which they came."""
        now = asyncio.get_running_loop().time()
        self._calls = Allowance(2 * limits.calls_a_second, limits.calls_a_second, now)
        self._calls_of: dict[str, Allowance] = {}
        self.known: set[str] = set()
        """Addresses from which the token was shown: the calls of others keep none of them out."""
        self.bytes = Allowance(
            limits.phones * limits.burst_bytes, limits.phones * limits.bytes_a_second, now
        )

    def admits(self, address: str, now: float) -> bool:
        """Whether one more call may come from there now; a caller gives way where need be."""
        return self._has_calls(address, now) and self._has_room(address)

    def _has_calls(self, address: str, now: float) -> bool:
        used = self._calls_of.items()
        self._calls_of = {one: allowance for one, allowance in used if not allowance.is_whole(now)}
        a_second = self.limits.calls_a_second
        own = self._calls_of.setdefault(address, Allowance(a_second, a_second / 2, now))
        # its own first, so that who calls all the time uses up nothing of what others share
        return own.spend(1, now) and (address in self.known or self._calls.spend(1, now))

    def _has_room(self, address: str) -> bool:
        lines = Counter(line.address for line in self.open)
        if lines[address] >= self.limits.lines_of_address:
            return self._give_way(address)
        callers = Counter(line.address for line in self.open if line.is_caller)
        return len(self.open) < self.limits.lines or any(
            self._give_way(busiest) for busiest, _ in callers.most_common(1)
        )

    def _give_way(self, address: str) -> bool:
        """Break off the oldest caller of an address; whether there was one."""
        for line in self.open:
            if line.address == address and line.is_caller:
                line.break_off()
                return True
        return False


class AdmittedConnection(ServerConnection):
    """A connection that is counted from its first moment, and of which each byte is.

    A request that never comes in whole is counted nowhere else.
    """

    lines: ClassVar[Lines]

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Count it, or break it off where it is one too many."""
        peer = transport.get_extra_info("peername")
        self.address = str(peer[0]) if peer else ""
        super().connection_made(transport)
        now, limits = self.loop.time(), self.lines.limits
        self._request_left = limits.request_bytes
        self._allowance = Allowance(limits.burst_bytes, limits.bytes_a_second, now)
        if self.lines.admits(self.address, now):
            self.lines.open[self] = None
        else:
            self.transport.abort()

    @property
    def is_caller(self) -> bool:
        """Whether it has not shown the token."""
        return self.state is State.CONNECTING

    def break_off(self) -> None:
        """End it at once, and count it no more."""
        self.lines.open.pop(self, None)
        self.transport.abort()

    def data_received(self, data: bytes) -> None:
        """Decode what came, or break off whose it is where that is too much."""
        if self.transport.is_closing():
            return
        if self._is_too_much(len(data)):
            self.break_off()
        else:
            super().data_received(data)

    def _is_too_much(self, count: int) -> bool:
        if self.is_caller:
            self._request_left -= count
            return self._request_left < 0
        now = self.loop.time()
        has_own, has_all = self._allowance.spend(count, now), self.lines.bytes.spend(count, now)
        # where all together send too much, those are in the right who send little
        return not has_own or (not has_all and self._allowance.is_half_used)

    def connection_lost(self, exc: Exception | None) -> None:
        """Count it no more."""
        self.lines.open.pop(self, None)
        super().connection_lost(exc)
