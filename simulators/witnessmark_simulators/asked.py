"""Meters that wait to be asked: they measure when their request is written to them."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence

from witnessmark_simulators.in_background import repeating
from witnessmark_simulators.line import Line


class Requests:
    """Finds a request in what is written to a meter, however that is cut; the rest is ignored."""

    def __init__(self, request: bytes) -> None:
        self._request = request
        self._pending = b""

    def made_by(self, data: bytes) -> int:
        """Return how many requests these bytes complete."""
        *made, rest = (self._pending + data).split(self._request)
        self._pending = rest[-len(self._request) :]
        return len(made)


@contextlib.contextmanager
def answering(line: Line, request: bytes, answer: Callable[[], Sequence[bytes]]) -> Iterator[None]:
    """Answer each request on the line meanwhile, in a thread of its own."""
    requests = Requests(request)

    def listen() -> None:
        for _ in range(requests.made_by(line.receive())):
            for data in answer():
                line.send(data)

    with repeating(listen, "meter that waits to be asked"):
        yield
