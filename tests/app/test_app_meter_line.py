"""The line about the meter: what it says after each change of the link."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from textual.app import App, ComposeResult

from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.lengths import Units
from witnessmark.meters.port import Fault, Link, LinkState
from witnessmark.model import Reading

AT = datetime(2026, 6, 1, 19, 5, tzinfo=UTC)


class _Alone(App[None]):
    def compose(self) -> ComposeResult:
        yield MeterLine("serial:COM3", lambda: Units.MM)


@pytest.mark.parametrize("words", ["connected", "connected, battery 80 %"])
async def test_after_silence_a_reading_brings_back_what_was_said_of_the_link(words: str) -> None:
    app = _Alone()
    async with app.run_test():
        line = app.query_one(MeterLine)
        line.tell(Link(LinkState.OPEN, words, AT, "serial:COM3"))
        line.tell(Link(LinkState.QUIET, "No reading for 30 s", AT, "serial:COM3"))
        assert "No reading for 30 s" in line.text
        line.tell(Reading(1450.0, AT, "serial:COM3"))
        assert line.text == f"● {words}  1450.0 mm"


async def test_what_steers_a_terminal_is_shown_and_not_left_out() -> None:
    app = _Alone()
    async with app.run_test(size=(100, 5)):
        line = app.query_one(MeterLine)
        line.tell(Link(LinkState.OPEN, "connected\x1b[2J", AT, "serial:COM3"))
        line.tell(Fault("E\x07\x0b\u202e7", AT, "serial:COM3"))
        line.purpose = "for\x08"
        painted = line.render_line(0).text
        assert r"connected\x1b[2J" in painted
        assert r"meter says: E\x07\x0b\u202e7" in painted
        assert r"for\x08" in painted
