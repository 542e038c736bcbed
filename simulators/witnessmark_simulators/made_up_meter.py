"""One made-up meter: what it sends for a shot, by its button or when it is asked."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
from numpy.random import Generator

from witnessmark_simulators.binary import Moment

CHARACTERISTICS = (
    "7a1e0001-52c4-4f0e-9c1d-3b6f0d8a4e21",
    "7a1e0002-52c4-4f0e-9c1d-3b6f0d8a4e21",
)
"""The channels of a made-up meter on Bluetooth: what it measures, and what else it tells."""

Encode = Callable[[Moment], bytes]


class Waiting(msgspec.Struct, frozen=True):
    """How a meter waits: for what, and what comes before its answer.

    A line with one pair of wires repeats what is written to it; a meter may say first that it has
    understood.
    """

    request: bytes
    is_text: bool
    before: tuple[bytes, ...] = ()
    pause_s: float = 0.2
    """How long it waits between what it says."""


class MadeUpMeter:
    """One made-up meter. ``send`` is a press of its button, or its request where it waits."""

    def __init__(
        self,
        words: str,
        encode: Encode,
        rng: Generator,
        *,
        step_mm: float,
        reach_mm: float,
        in_packets: bool,
        can_fail: bool,
        line_end: bytes = b"",
    ) -> None:
        self.words = words
        self.line_end = line_end
        self.step_mm = step_mm
        self.reach_mm = reach_mm
        self.in_packets = in_packets
        self.can_fail = can_fail
        self._encode = encode
        self._rng = rng
        self._count = int(rng.integers(0, 60_000))
        self._charge = float(rng.uniform(15, 100))
        self._talks_besides = in_packets and rng.random() < 0.3
        self.waiting: Waiting | None = None

    def send(self, true_mm: float, asked: bytes = b"") -> list[tuple[str, bytes]]:
        """Return what one shot brings: channel and bytes of each burst or notification.

        ``asked`` is what is written to the meter; nothing where its button is pressed.
        """
        if asked != (self.waiting.request if self.waiting else b""):
            return []
        shown = true_mm + self._rng.normal(0.0, 0.5)
        return self._said(self._encode(self._moment(shown)))

    def fail(self, last_mm: float) -> list[tuple[str, bytes]]:
        """Return what a shot brings that could not be measured; a meter that waits is asked for it.

        The number is zero, all ones, or the last distance once more; only the status tells.
        """
        number = float(self._rng.choice([0.0, 1e9, last_mm]))
        moment = self._moment(number)
        failed = msgspec.structs.replace(moment, status=int(self._rng.integers(1, 9)))
        return self._said(self._encode(failed))

    def _moment(self, distance_mm: float) -> Moment:
        self._count += 1
        self._charge = max(self._charge - float(self._rng.exponential(0.05)), 1.0)
        return Moment(
            distance_mm,
            count=self._count,
            angle_deg=float(self._rng.normal(0.0, 3.0)),
            charge=int(self._charge),
        )

    def _said(self, raw: bytes) -> list[tuple[str, bytes]]:
        frames = [*(self.waiting.before if self.waiting else ()), raw]
        if not self.in_packets:
            return [("", one) for one in frames]
        said = [(CHARACTERISTICS[0], one) for one in frames]
        if self._talks_besides:
            said.append((CHARACTERISTICS[1], bytes([int(self._charge)])))
        return said
