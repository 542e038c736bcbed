"""One of something for each of the two cabinets."""

from __future__ import annotations

from itertools import islice

import msgspec

from witnessmark.model import Pair, Side

PAIR = Pair("window side", "door side")


def test_iterating_gives_left_then_right_and_ends() -> None:
    # Python indexes what has no __iter__ without end, so only a few are taken.
    assert list(islice(PAIR, 3)) == ["window side", "door side"]
    assert dict(zip(Side, PAIR, strict=True)) == {side: PAIR[side] for side in Side}
    assert "door side" in PAIR
    assert "a third" not in PAIR


def test_a_pair_is_stored_by_its_sides() -> None:
    data = msgspec.json.encode(PAIR)
    assert data == b'{"left":"window side","right":"door side"}'
    assert msgspec.json.decode(data, type=Pair[str]) == PAIR


def test_one_side_is_exchanged() -> None:
    assert PAIR.replacing(Side.LEFT, "shelf") == Pair("shelf", "door side")
    assert PAIR.replacing(Side.RIGHT, "shelf") == Pair("window side", "shelf")
