"""From a meter to the journal and on: a meter that waits, and one that sends by itself."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncGenerator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from witnessmark.errors import StoreError
from witnessmark.meters.address import Address
from witnessmark.meters.port import Driver, Report
from witnessmark.model import Cabinet, Pair, Reading, Room, Seat, Setup
from witnessmark.session.events import Part
from witnessmark.session.meter import Place, journaled_reports
from witnessmark.store.journal import Journal
from witnessmark.store.store import Store

AT = datetime(2026, 6, 3, 19, 30, tzinfo=UTC)
CABINET = Cabinet(264.0, 380.0)
SETUP = Setup(Room.rectangular(4900.0, 6500.0), Pair(CABINET, CABINET), Seat(4300.0, 2450.0))


class Sender(Driver):
    """Sends three distances once it is open."""

    scheme = "sender"

    async def reports(self) -> AsyncGenerator[Report, None]:
        yield self.opened()
        for distance_mm in (1000.0, 2000.0, 3000.0):
            yield Reading(distance_mm, AT, self.address.text)


class Waiter(Sender):
    """The same, but the meter measures only when it is asked."""

    scheme = "waiter"
    waits = True

    def fire(self) -> None:
        """Nothing more comes for it."""


@pytest.mark.parametrize(
    ("driver", "handed_on", "outside"),
    [(Sender, [1000.0, 2000.0, 3000.0], []), (Waiter, [2000.0, 3000.0], [1000.0])],
)
async def test_what_a_waiting_meter_answers_as_it_is_opened_is_of_no_round(
    driver: type[Sender], handed_on: list[float], outside: list[float], tmp_path: Path
) -> None:
    store = Store.open(tmp_path / "store.sqlite3")
    round_id = store.start_round(store.save_setup("Attic", SETUP, AT), AT)
    async with Journal(store) as journal:
        meter = driver(Address.parse(f"{driver.scheme}:"), lambda: AT)
        refused: list[StoreError] = []
        place = Place(Part.ROUND, round_id)
        reading = journaled_reports(meter, journal, lambda: place, refused.append)
        async with contextlib.aclosing(reading) as reports:
            came = [report async for report, _ in reports]
        kept, beside = [await journal.run(Store.entries, place) for place in (round_id, None)]
    assert refused == []
    assert [one.distance_mm for one in came if isinstance(one, Reading)] == handed_on
    assert [one.distance_mm for one in kept if isinstance(one, Reading)] == handed_on
    assert [one.distance_mm for one in beside if isinstance(one, Reading)] == outside
