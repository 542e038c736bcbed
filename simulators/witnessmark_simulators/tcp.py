"""A simulated meter behind a serial-to-network bridge: TCP on this machine."""

from __future__ import annotations

import contextlib
import socket

from witnessmark_simulators.line import Line

_HOST = "127.0.0.1"


class TcpLine(Line):
    """A TCP server that pyserial opens as ``socket://127.0.0.1:PORT``.

    The system completes connections by itself, so they are only collected when there is something
    to send; no thread is needed. Every client gets the bytes that are sent after it connected. The
    port is picked by the system at first and kept through an unplugging.
    """

    def __init__(self) -> None:
        self._number = 0
        self._listener: socket.socket | None = None
        self._clients: list[socket.socket] = []

    @property
    def port(self) -> str:
        """The pyserial URL to open; the number is 0 until first plugged in."""
        return f"socket://{_HOST}:{self._number}"

    @property
    def plugged_in(self) -> bool:
        """Whether the server listens."""
        return self._listener is not None

    def plug_in(self) -> None:
        """Listen, on the same port as before."""
        if self._listener is None:
            self._listener = socket.create_server((_HOST, self._number))
            self._listener.setblocking(False)
            self._number = self._listener.getsockname()[1]

    def unplug(self) -> None:
        """Close every connection and stop listening."""
        if self._listener is not None:
            self._collect()
            self._listener.close()
            self._listener = None
        for client in self._clients:
            client.close()
        self._clients.clear()

    def send(self, raw: bytes) -> None:
        """Send bytes to every client; one that has gone is forgotten."""
        self._collect()
        for client in list(self._clients):
            try:
                client.send(raw)
            except BlockingIOError:
                continue
            except OSError:
                client.close()
                self._clients.remove(client)

    def _collect(self) -> None:
        """Take over the connections that the system has completed."""
        with contextlib.suppress(BlockingIOError):
            while self._listener is not None:
                client, _ = self._listener.accept()
                client.setblocking(False)
                client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                self._clients.append(client)
