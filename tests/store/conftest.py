from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from witnessmark.model import Cabinet, Pair, Placement, Room, Seat, Setup
from witnessmark.store.store import Store

AT = datetime(2026, 5, 17, 9, 30, tzinfo=UTC)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "kept" / "store.sqlite3"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    with Store.open(path) as store:
        yield store


@pytest.fixture
def setup() -> Setup:
    cabinet = Cabinet(262, 391, 940)
    return Setup(
        room=Room((0, 0), (5360, 0), (5371, 7240), (0, 7232)),
        cabinets=Pair(cabinet, cabinet),
        seat=Seat(4400, 2680, 1020),
        targets=Pair(Placement(1450, 1900.5, 8), None),
    )


@pytest.fixture
def round_id(store: Store, setup: Setup) -> int:
    return store.start_round(store.save_setup("Attic", setup, AT), AT)
