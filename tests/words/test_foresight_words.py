"""A foreseen walk in sentences, each checked against the record that it tells."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from witnessmark.acoustics.foresight import (
    AxialOrder,
    Furnishing,
    LevelDip,
    Levels,
    absorptions,
)
from witnessmark.acoustics.modes import Axis
from witnessmark.lengths import Units
from witnessmark.listening.association import Association, Associations, ForeseenFigure
from witnessmark.listening.foreseen import AtOtherSeat, DipEnd, ForeseenPosition, ForeseenWalk
from witnessmark.model import Attribute, Cabinet, Pair, Placement, Room, Seat, Setup, Side
from witnessmark.words.foresight import (
    absorption_words,
    association_sentences,
    cause_words,
    change_words,
    dip_words,
    neighbour_words,
    seat_sentences,
    skew_words,
    station_sentences,
)

BOX = Cabinet(262.0, 391.0, 900.0)
SETUP = Setup(
    room=Room.rectangular(5360.0, 7240.0, 2500.0),
    cabinets=Pair(BOX, BOX),
    seat=Seat(4400.0, 2680.0, 1020.0),
)
STOOD = Placement(1450.0, 1900.0, 8.0)


@pytest.fixture(scope="module")
def walk() -> ForeseenWalk:
    return ForeseenWalk(SETUP, absorptions(Furnishing.FURNISHED))


def position(name: str, level_db: float) -> ForeseenPosition:
    flat = np.full(94, level_db)
    return ForeseenPosition(name, 2460.0, 1900.0, Pair(STOOD, STOOD), Levels(flat, flat, flat))


@pytest.mark.parametrize(
    ("cause", "words"),
    [
        ("left", "its own side wall"),
        ("right", "the side wall across the room"),
        ("front", "the front wall"),
        ("floor", "the floor"),
        (AxialOrder(Axis.LENGTH, 2), "the second mode of the length"),
    ],
)
def test_a_cause_has_a_plain_name(cause: str | AxialOrder, words: str) -> None:
    assert cause_words(cause, Side.LEFT) == words
    dip = LevelDip(83.4, -12.6, cause)
    assert dip_words(dip, Side.LEFT) == f"13 dB down at 83 Hz, mostly because of {words}"


def test_a_dip_without_a_cause_says_so() -> None:
    assert dip_words(LevelDip(83.4, -12.6), Side.RIGHT).endswith("made by no single surface")


def test_a_change_is_slight_or_says_where_it_is_most() -> None:
    here = position("station 1", 0.0)
    assert change_words(here, position("station 2", 1.0)) == (
        "Station 2 differs by 1.0 dB on average: a slight difference, below 3 dB."
    )
    told = change_words(here, position("station 2", -4.0))
    assert told.startswith("Station 2 differs by 4.0 dB on average, most around ")
    assert told.endswith(" 4 dB softer.")


def test_neighbours_that_hardly_differ_are_named(walk: ForeseenWalk) -> None:
    row = walk.spreads[1]
    levels = (0.0, 1.0, 2.0, 9.0, 20.0, 21.0)
    few = row._replace(
        positions=tuple(position(f"station {at}", db) for at, db in enumerate(levels, 1))
    )
    assert neighbour_words(few).startswith("Stations 1 to 3 and stations 5 to 6: each differs")
    far = few._replace(positions=(few.positions[0], few.positions[4]))
    assert neighbour_words(far).startswith("Every position differs from the next")


def test_a_station_tells_its_dips_where_they_go_and_what_comes_next(walk: ForeseenWalk) -> None:
    row = walk.spreads[1]
    for place, station in enumerate(row.positions):
        where, *told = station_sentences(walk, 1, place, Units.MM)
        assert where.startswith(f"Station {place + 1}: baffles {station.setback_mm:.0f} mm")
        for dip in walk.dips(station, Side.LEFT)[:3]:
            (line,) = [words for words in told if f"down at {dip.frequency_hz:.0f} Hz" in words]
            assert line.startswith("Each cabinet: ")
            if dip.cause is None or place + 1 == len(row.positions):
                continue
            path = walk.dip_path(1, place, Side.LEFT, dip)
            if path.end is DipEnd.ABOVE:
                assert line.endswith(f" It moves above 200 Hz at station {path.place + 1}.")
        is_last = place + 1 == len(row.positions)
        assert any(words.startswith(f"Station {place + 2} ") for words in told) is not is_last
        assert all(words.endswith(".") for words in told)


def test_cabinets_that_differ_are_told_each(walk: ForeseenWalk) -> None:
    beside = msgspec.structs.replace(SETUP, seat=Seat(4400.0, 2100.0, 1020.0))
    told = list(
        station_sentences(ForeseenWalk(beside, absorptions(Furnishing.HARD)), 1, 5, Units.MM)
    )
    assert any(words.startswith("Left cabinet: ") for words in told)
    assert any(words.startswith("Right cabinet: ") for words in told)


def test_another_seat_is_told_beside_the_main_one() -> None:
    here = position("station 1", 0.0)
    found = AtOtherSeat(SETUP.seat, -1860.0, 2.61, position("", -5.0).levels)
    sound, bass = seat_sentences(2, found, here)
    assert sound == (
        "Seat 2: the left cabinet arrives 1.86 ms earlier than the right one and is 2.6 dB louder, "
        "by the lengths of the paths alone."
    )
    assert bass.startswith("Seat 2: its bass differs from that of the main seat by 5.0 dB")
    same, _ = seat_sentences(1, found._replace(arrival_us=0.0, level_db=0.0), here)
    assert "at the same time as the right one and is as loud" in same


def test_what_is_assumed_is_said() -> None:
    assert absorption_words(absorptions(Furnishing.SOFT)).startswith("Each surface is taken to abs")
    own = absorption_words(absorptions(Furnishing.HARD, {"floor": 0.4}))
    assert "floor 40 %" in own
    assert "front wall 5 %" in own
    skew = Room((0, 0), (5360, 0), (5460, 7240), (0, 7200), 2500.0)
    walk = ForeseenWalk(
        msgspec.structs.replace(SETUP, room=skew), absorptions(Furnishing.FURNISHED)
    )
    (words,) = skew_words(walk, Units.MM)
    assert f"differ by {walk.foresight.scene.room.out_of_square_mm:.0f} mm" in words


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (Associations(5, ()), "Grade 1 more position to compare what you heard"),
        (Associations(2, ()), "Grade 4 more positions to compare what you heard"),
        (Associations(7, ()), "there is nothing to compare"),
        (
            Associations(9, (Association(ForeseenFigure.LOW_BASS, Attribute.BALANCE, 0.81, 0.21),)),
            (
                "You graded balance higher where more bass below 60 Hz is foreseen (rank "
                "correlation +0.81). This could be chance (p = 0.21)."
            ),
        ),
        (
            Associations(
                9, (Association(ForeseenFigure.UNEVENNESS, Attribute.TIMBRE, -0.95, 0.0002),)
            ),
            (
                "You graded timbre lower where the level from 40 to 200 Hz is foreseen more uneven "
                "(rank correlation -0.95). This is unlikely to be chance (p below 0.001)."
            ),
        ),
    ],
)
def test_grades_beside_figures(found: Associations, expected: str) -> None:
    assert expected in " ".join(association_sentences(found))
