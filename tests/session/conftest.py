"""What the tests of a session share: a store's place, and no waiting for anybody's eyes."""

from __future__ import annotations

from pathlib import Path

import pytest

from witnessmark.session import digits_first
from witnessmark.store import database


@pytest.fixture
def store_file(tmp_path: Path) -> Path:
    return tmp_path / "store.sqlite3"


@pytest.fixture(autouse=True)
def no_rests(monkeypatch: pytest.MonkeyPatch) -> None:
    """Works out what follows at once: nothing is painted that would have to wait."""
    monkeypatch.setattr(digits_first, "_PAINT_DELAY_S", 0.0)
    monkeypatch.setattr(digits_first, "_REST_S", 0.0)
    monkeypatch.setattr(database, "ROOM_AHEAD_BYTES", 0)  # four megabytes a test add up
