"""Whoever knocks at the server: raw requests, and sockets as a phone opens them."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator, Callable
from contextlib import asynccontextmanager
from typing import NamedTuple

import msgspec
from patience import HUNG_S
from websockets.asyncio.client import ClientConnection, connect

from witnessmark.phone.server import Told
from witnessmark.phone.state import PhoneState

HOST = "127.0.0.1"


class Answer(NamedTuple):
    """What came back: 0 and nothing where the line was only broken off."""

    status: int
    headers: dict[str, str]
    body: str


class Visitor:
    """Knows where the server is and, by the address on the screen, its token."""

    def __init__(self, url: str) -> None:
        self.authority, self.token = url.removeprefix("http://").split("/")
        self.port = int(self.authority.partition(":")[2])
        self.cookie = f"witnessmark-{self.port}={self.token}"

    async def ask(self, path: str = "/", method: str = "GET", **headers: str) -> Answer:
        """Return the answer to one request, its Host as it should be unless given."""
        lines = {"Host": self.authority} | headers
        head = "".join(f"{name}: {value}\r\n" for name, value in lines.items())
        return await self.send(f"{method} {path} HTTP/1.1\r\n{head}\r\n".encode())

    async def send(self, request: bytes) -> Answer:
        """Return the answer to these bytes."""
        reader, writer = await asyncio.open_connection(HOST, self.port)
        writer.write(request)
        answer = (await reader.read()).decode()
        writer.close()
        await writer.wait_closed()
        head, _, body = answer.partition("\r\n\r\n")
        status, *lines = head.split("\r\n")
        headers = dict(line.split(": ", 1) for line in lines)
        return Answer(int((status.split() or ["", 0])[1]), headers, body)

    @asynccontextmanager
    async def socket(self, cookie: str | None = None) -> AsyncGenerator[Line, None]:
        """Open a socket as our page does."""
        async with connect(
            f"ws://{self.authority}/live",
            origin=f"http://{self.authority}",  # type: ignore[arg-type]
            additional_headers={"Cookie": cookie or self.cookie},
            max_size=None,
            proxy=None,
        ) as connection:
            yield Line(connection)


class Line:
    """A socket that is open."""

    def __init__(self, connection: ClientConnection) -> None:
        self.connection = connection

    async def told(self) -> Told:
        """Return the next state."""
        return msgspec.json.decode(await self.connection.recv(), type=Told)

    async def told_of(self, wanted: Callable[[PhoneState], bool]) -> Told:
        """Return the first state that is as wanted; those before it are passed over."""
        async with asyncio.timeout(HUNG_S):
            while not wanted((told := await self.told()).state):
                pass
        return told

    async def refused(self) -> str:
        """Return the words of the next refusal; states that come before it are passed over."""
        async for message in self.connection:
            if why := msgspec.json.decode(message).get("refused"):
                return str(why)
        raise AssertionError("the line ended")

    async def send(self, act: str, seq: int) -> None:
        """Decide."""
        await self.connection.send(msgspec.json.encode({"act": act, "seq": seq}).decode())

    async def ended(self) -> tuple[int | None, str]:
        """Return the code and the words with which the server ends it."""
        await self.connection.wait_closed()
        return self.connection.close_code, str(self.connection.close_reason)
