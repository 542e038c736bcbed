"""Page and socket on one port of one address, in the program's own loop.

Each phone gets the newest state only, at its own pace: one that cannot keep up skips what is
past, one that takes nothing at all is dropped, and neither holds up anybody. A state is sent again
after a while even if nothing has changed, so that a phone notices when it has lost us.

A decision names the state that it was taken on by its ``seq``, and each state takes one decision:
what comes late, twice, or from two phones at once is refused.
"""

from __future__ import annotations

import asyncio
import base64
import contextlib
import hashlib
import logging
import re
from collections.abc import Callable, Iterable
from functools import cache
from http import HTTPStatus
from pathlib import Path

import msgspec
from websockets.asyncio.server import Server, ServerConnection, serve
from websockets.datastructures import Headers
from websockets.exceptions import ConnectionClosed
from websockets.frames import CloseCode
from websockets.http11 import Request, Response

from witnessmark.model import Act, Onward
from witnessmark.phone.admission import (
    AdmittedConnection,
    Guard,
    Limits,
    Lines,
    RequestRefused,
    Way,
)
from witnessmark.phone.state import PhoneState
from witnessmark.placing.cues import Tones
from witnessmark.sentences import visible_within

_FILE = Path(__file__).with_name("page.html")


def page_response(authority: str, cookie: str) -> Response:
    """Return the page, which may run its own script and style and talk to ``authority`` alone."""
    html = _html()
    policy = (
        f"default-src 'none'; script-src {_hash(html, 'script')}; "
        f"style-src {_hash(html, 'style')}; connect-src ws://{authority}; img-src data:; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
    return response(HTTPStatus.OK, html, "text/html", policy, cookie)


def response(
    status: HTTPStatus,
    text: str,
    kind: str = "text/plain",
    policy: str = "default-src 'none'",
    cookie: str | None = None,
) -> Response:
    """Return an answer that is kept nowhere and tells no other site where it came from."""
    body = text.encode()
    headers = Headers(
        {
            "Content-Type": f"{kind}; charset=utf-8",
            "Content-Length": str(len(body)),
            "Content-Security-Policy": policy,
            "Referrer-Policy": "no-referrer",
            "X-Content-Type-Options": "nosniff",
            "Cross-Origin-Resource-Policy": "same-origin",
            "Cache-Control": "no-store",
            "Connection": "close",
        }
    )
    if cookie:
        headers["Set-Cookie"] = cookie
    return Response(status.value, status.phrase, headers, body)


@cache
def _html() -> str:
    return _FILE.read_text(encoding="utf-8")


def _hash(html: str, element: str) -> str:
    """The hash by which a policy allows the one ``script`` or ``style`` of the page."""
    found = re.search(f"<{element}>(.*?)</{element}>", html, re.DOTALL)
    assert found is not None  # noqa: S101 - our own file has one of each
    digest = hashlib.sha256(found[1].encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


_ACTS = {str(act): act for act in (*Act, *Onward)}
_FAREWELL_S = 0.5
"""Time that a phone, which may be asleep, is waited for at the end, seconds."""
_LATE = "The screen has changed since: look again."
_NOT_OFFERED = "That is not possible now."

# what goes wrong with one phone is no matter for the terminal, on which the app is painted
_SILENT = logging.getLogger(__name__)
_SILENT.addHandler(logging.NullHandler())
_SILENT.propagate = False


class PhoneDecision(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What a phone sends."""

    act: str
    seq: int


class Sound(msgspec.Struct, frozen=True):
    """The last cue, numbered so that it is heard once."""

    number: int
    tones: Tones


class Told(msgspec.Struct, frozen=True):
    """What a phone is sent."""

    seq: int
    beat_s: float
    state: PhoneState
    sound: Sound | None


class PhoneServer:
    """Tells phones each state, and hands on what is decided on them."""

    def __init__(
        self, decided: Callable[[Act | Onward], object], limits: Limits | None = None
    ) -> None:
        """``decided`` is called with each decision that is one of those offered."""
        self._decided = decided
        self._limits = limits or Limits()
        self._phones: set[ServerConnection] = set()
        self._told: Told | None = None
        self._taken = -1
        self._news = asyncio.Event()

    @property
    def phones(self) -> int:
        """How many phones are connected."""
        return len(self._phones)

    @property
    def address(self) -> str:
        """The address that is listened on."""
        return self._guard.authority.rpartition(":")[0]

    @property
    def url(self) -> str:
        """Where the page is, with the token."""
        return self._guard.url

    async def start(self, address: str) -> None:
        """Listen on any free port of one address of this computer.

        Raises:
            OSError: when that cannot be listened on.
        """
        limits = self._limits
        self._lines = Lines(limits)

        class Connection(AdmittedConnection):
            lines = self._lines

        self._server: Server = await serve(
            self._attend,
            address,
            0,
            process_request=self._answer,
            create_connection=Connection,
            compression=None,
            server_header=None,
            open_timeout=limits.header_s,
            ping_interval=limits.beat_s,
            ping_timeout=limits.slow_s,
            close_timeout=limits.slow_s,
            max_size=limits.message_bytes,
            logger=_SILENT,
        )
        port = self._server.sockets[0].getsockname()[1]
        self._guard = Guard(f"{address}:{port}")

    async def stop(self, why: str) -> None:
        """Tell the phones ``why`` and listen no more."""
        self._server.close(code=CloseCode.GOING_AWAY, reason=why)
        # a browser keeps a line at hand on which it never asks
        self._break_off(line for line in self._lines.open if line.is_caller)
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(_FAREWELL_S):
                await self._server.wait_closed()
        self._break_off(self._lines.open)
        await self._server.wait_closed()

    @staticmethod
    def _break_off(lines: Iterable[ServerConnection]) -> None:
        for line in tuple(lines):
            line.transport.abort()

    def show(self, state: PhoneState, tones: Tones | None = None) -> None:
        """Tell all phones a state, and what is to be heard of it."""
        before = self._told
        seq, sound = (before.seq, before.sound) if before else (0, None)
        if before is None or self._taken == seq or not _same(before.state, state):
            seq += 1
        if tones:
            sound = Sound(sound.number + 1 if sound else 1, tones)
        self._told = Told(seq, self._limits.beat_s, state, sound)
        self._news.set()
        self._news = asyncio.Event()

    def _answer(self, line: ServerConnection, request: Request) -> Response | None:
        """The page, a refusal, or None for a socket to be opened."""
        try:
            way = self._guard.admit(request)
        except RequestRefused as refused:
            return response(refused.status, str(refused))
        if isinstance(line, AdmittedConnection):
            self._lines.known.add(line.address)
        if way is Way.SOCKET:
            return None
        return page_response(self._guard.authority, self._guard.cookie)

    async def _attend(self, phone: ServerConnection) -> None:
        if len(self._phones) >= self._limits.phones:
            await phone.close(CloseCode.TRY_AGAIN_LATER, "Too many phones are connected.")
            return
        self._phones.add(phone)
        telling = asyncio.create_task(self._tell(phone))
        try:
            async for message in phone:
                await self._take(phone, message)
        except ConnectionClosed:
            pass
        finally:
            self._phones.discard(phone)
            telling.cancel()
            await asyncio.gather(telling, return_exceptions=True)

    async def _tell(self, phone: ServerConnection) -> None:
        told = None
        while True:
            if self._told is told or self._told is None:
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(self._limits.beat_s):
                        await self._news.wait()
            told = self._told
            if told is not None:
                await self._send(phone, told)

    async def _take(self, phone: ServerConnection, message: str | bytes) -> None:
        """Hand a decision on, or say why not; what our page would not send ends the connection."""
        try:
            decision = msgspec.json.decode(message, type=PhoneDecision)
            act = _ACTS[decision.act]
        except (msgspec.DecodeError, KeyError):
            await phone.close(CloseCode.POLICY_VIOLATION, ("That is not a command of this page."))
            return
        told = self._told
        if told is None or decision.seq != told.seq or decision.seq == self._taken:
            await self._send(phone, {"refused": _LATE})
        elif decision.act not in told.state.offered:
            await self._send(phone, {"refused": _NOT_OFFERED})
        else:
            self._taken = decision.seq
            self._decided(act)

    async def _send(self, phone: ServerConnection, what: object) -> None:
        try:
            async with asyncio.timeout(self._limits.slow_s):
                shown = visible_within(msgspec.to_builtins(what))
                await phone.send(msgspec.json.encode(shown).decode())
        except TimeoutError:
            phone.transport.abort()


def _same(one: PhoneState, other: PhoneState) -> bool:
    """Whether two states are one but for what no decision is about: meter, voice and walk."""
    alike = msgspec.structs.replace(one, meter=other.meter, spoken=other.spoken, walk=other.walk)
    return alike == other
