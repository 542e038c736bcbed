"""When a simulated meter measures: at Enter, by itself, or when its request comes."""

from __future__ import annotations

import os
import select
import sys
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING

from witnessmark.cli.echo import echo
from witnessmark.errors import LengthError
from witnessmark.lengths import parse_length

if TYPE_CHECKING:
    from witnessmark.meters.profile import Request
    from witnessmark_simulators.line import Line
    from witnessmark_simulators.meter import Behaviour, ImperfectMeter

_BY_BUTTON = "Enter presses the meter's button. Before Enter:"
_BY_REQUEST = "It measures when asked with {}. Before Enter:"
_KEYS = """\
  f  the meter cannot measure     g  garbage comes down the line
  u  unplug, or plug in again     q  quit
  a length such as 1.2m           the meter is held at that distance"""
_GARBAGE = b"\x00\xff?#\x1b\x81\r\n"
_POLL_S = 0.01

Press = float | None
"""The meter measures: a distance at which it is held, mm; None: the next of the walk."""


def presses(
    line: Line, meter: ImperfectMeter, every_s: float | None, asked: Request | None
) -> Iterator[Press]:
    """Wait for each measuring: as ``asked``, every so often, or as a person presses Enter."""
    from witnessmark.meters.request_line import shown_request

    if asked is not None:
        echo(f"{_BY_REQUEST.format(shown_request(asked))}\n{_KEYS}")
        return _by_request(line, _Hand(line, meter), asked.data)
    if every_s is not None:
        return _by_timer(every_s)
    echo(f"{_BY_BUTTON}\n{_KEYS}")
    return _by_hand(_Hand(line, meter))


def _by_timer(every_s: float) -> Iterator[Press]:
    """Wait, then press, for ever."""
    echo("Ctrl-C ends")
    while True:
        time.sleep(every_s)
        yield None


class _Hand:
    """What is typed happens to the meter or the line."""

    def __init__(self, line: Line, meter: ImperfectMeter) -> None:
        from witnessmark_simulators.meter import TOO_LITTLE_LIGHT, fault, garbage

        self._line, self._meter = line, meter
        self._behaviours: dict[str, Behaviour] = {
            "f": fault(TOO_LITTLE_LIGHT),
            "g": garbage(_GARBAGE),
        }
        self.held_mm: Press = None
        self.is_over = False

    def type(self, text: str) -> bool:
        """Do what a line says; whether that presses the button of a meter that has one."""
        key = text.strip().lower()
        self.is_over |= key == "q"
        if key == "u":
            _unplug_or_plug_in(self._line)
        if key in {"q", "u"}:
            return False
        if key in self._behaviours:
            self._meter.misbehave_next(self._behaviours[key])
            return True
        try:
            self.held_mm = parse_length(key).mm if key else None
        except LengthError:
            echo(_KEYS)
            return False
        return True


def _by_hand(hand: _Hand) -> Iterator[Press]:
    """Press at each Enter."""
    for text in sys.stdin:
        if hand.type(text):
            yield hand.held_mm
        if hand.is_over:
            return


def _by_request(line: Line, hand: _Hand, request: bytes) -> Iterator[Press]:
    """Press at each request that comes down the line, while things are typed."""
    from witnessmark_simulators.asked import Requests

    requests = Requests(request)
    while not hand.is_over:
        if select.select([sys.stdin], [], [], _POLL_S)[0]:
            typed = os.read(sys.stdin.fileno(), 4096)
            if not typed:
                return
            for text in typed.decode(errors="replace").splitlines():
                hand.type(text)
            echo(place_words(hand.held_mm))
        for _ in range(requests.made_by(line.receive())):
            yield hand.held_mm


def _unplug_or_plug_in(line: Line) -> None:
    if line.plugged_in:
        line.unplug()
        echo("unplugged")
    else:
        line.plug_in()
        echo("plugged in")


def place_words(held_mm: Press) -> str:
    """Return where the meter is, in words."""
    return f"held at {held_mm:g} mm" if held_mm else "walking round the cabinets"
