"""A simulated meter behind a serial-to-network bridge that takes its line's settings (RFC 2217)."""

from __future__ import annotations

import contextlib
import socket
import threading
from typing import Final

from witnessmark_simulators.in_background import repeating
from witnessmark_simulators.tcp import TcpLine

_IAC: Final = 0xFF
_SE, _SB, _WILL, _WONT, _DO, _DONT = 0xF0, 0xFA, 0xFB, 0xFC, 0xFD, 0xFE
_ANSWERS: Final = {_WILL: (_DO, _DONT), _DO: (_WILL, _WONT)}
"""What is said to an offer and to a request, agreed or not (RFC 854)."""
_BINARY, _SUPPRESS_GO_AHEAD, _COM_PORT = 0, 3, 44
_AGREED: Final = frozenset({_BINARY, _SUPPRESS_GO_AHEAD, _COM_PORT})
_TOLD_BACK: Final = 100
"""A setting is confirmed under its own number and this (RFC 2217, section 3)."""


class Rfc2217Line(TcpLine):
    """A bridge that pyserial opens as ``rfc2217://127.0.0.1:PORT``.

    It agrees to every setting of the line and keeps it in ``settings`` by its number.
    """

    def __init__(self) -> None:
        super().__init__()
        self.settings: dict[int, bytes] = {}
        self._using = threading.Lock()
        self._talking = contextlib.ExitStack()
        self._unread: dict[socket.socket, bytes] = {}
        self._received = b""

    @property
    def port(self) -> str:
        """The pyserial URL to open."""
        return super().port.replace("socket://", "rfc2217://")

    def plug_in(self) -> None:
        """Listen and answer, in a thread of its own."""
        if not self.plugged_in:
            super().plug_in()
            self._talking.enter_context(repeating(self._talk, "bridge"))

    def unplug(self) -> None:
        """Close every connection and stop listening."""
        self._talking.close()
        super().unplug()
        self._unread.clear()

    def send(self, raw: bytes) -> None:
        """Send bytes to every client; the byte that begins a command is doubled."""
        with self._using:
            super().send(raw.replace(bytes([_IAC]), bytes([_IAC, _IAC])))

    def receive(self) -> bytes:
        """Return what has been written to the meter and not yet received."""
        with self._using:
            received, self._received = self._received, b""
        return received

    def _talk(self) -> None:
        with self._using:
            self._collect()
            for client in self._clients:
                with contextlib.suppress(OSError):
                    self._unread[client] = self._unread.get(client, b"") + client.recv(4096)
                self._take(client)

    def _take(self, client: socket.socket) -> None:
        """Take commands and data off what a client sent, up to a command that is not whole yet."""
        while unread := self._unread.get(client, b""):
            at = unread.find(_IAC)
            length = at if at > 0 else len(unread) if at < 0 else _command_length(unread)
            if not length:
                return
            taken, self._unread[client] = unread[:length], unread[length:]
            if at == 0:
                self._obey(client, taken)
            else:
                self._received += taken

    def _obey(self, client: socket.socket, command: bytes) -> None:
        match tuple(command):
            case (_, verb, option) if verb in _ANSWERS:
                answer = bytes([_IAC, _ANSWERS[verb][option not in _AGREED], option])
            case (_, verb, option, number, *_) if (verb, option) == (_SB, _COM_PORT):
                value = command[4:-2]
                self.settings[number] = value.replace(bytes([_IAC, _IAC]), bytes([_IAC]))
                head = bytes([_IAC, _SB, _COM_PORT, number + _TOLD_BACK])
                answer = head + value + bytes([_IAC, _SE])
            case _:
                self._received += command[1:] if command[1] == _IAC else b""
                return
        with contextlib.suppress(OSError):
            client.send(answer)


def _command_length(data: bytes) -> int:
    """Return the length of the command that begins here; 0 while it is not whole."""
    if len(data) < 2:
        return 0
    if data[1] == _SB:
        return data.find(bytes([_IAC, _SE])) + 2 if bytes([_IAC, _SE]) in data else 0
    if data[1] in {_WILL, _WONT, _DO, _DONT}:
        return 3 if len(data) >= 3 else 0
    return 2
