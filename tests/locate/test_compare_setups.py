"""What was entered otherwise since a mark was made, and what that does to the comparison."""

from __future__ import annotations

import msgspec
import pytest
from geometry_cases import CABINET, SETUP
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.lengths import Units
from witnessmark.locate.compare_setups import entered_otherwise
from witnessmark.locate.nudge import nudge_length
from witnessmark.model import (
    Cabinet,
    Edge,
    Inclinometer,
    Meter,
    Mirror,
    Pair,
    Room,
    Seat,
    Setup,
    Tolerance,
    TouchPoint,
    Wall,
    WallOffset,
)

changed = msgspec.structs.replace
ROOM, SEAT, METER = SETUP.room, SETUP.seat, SETUP.meter


def both(**fields: object) -> Setup:
    cabinet = changed(CABINET, **fields)
    return changed(SETUP, cabinets=Pair(cabinet, cabinet))


def test_what_is_entered_alike_says_nothing() -> None:
    assert entered_otherwise(SETUP, SETUP) == ()
    other = changed(SETUP, tolerance=Tolerance(1.0), units=Units.INCH_16, temperature_c=24.0)
    assert entered_otherwise(SETUP, other) == ()


@pytest.mark.parametrize(
    ("now", "told"),
    [
        (
            changed(SETUP, room=Room.rectangular(4952.0, 6480.0)),
            (
                "the room is entered 12 mm wider now: distances from the right wall differ by"
                " that much"
            ),
        ),
        (
            changed(SETUP, room=Room.rectangular(4940.0, 6460.0)),
            (
                "the room is entered 20 mm shorter now: distances from the back wall differ "
                "by that much"
            ),
        ),
        (
            changed(SETUP, room=changed(ROOM, back_left=(-9.0, 6480.0))),
            (
                "the room's corners are entered up to 9.0 mm elsewhere now: distances from "
                "its walls, and toe-in counted from them, differ accordingly"
            ),
        ),
        (
            changed(SETUP, room=changed(ROOM, datum=(Wall.RIGHT,))),
            (
                "there is a right datum line now, where there was a right wall: distances "
                "from it are not of the same"
            ),
        ),
        (
            changed(SETUP, room=changed(ROOM, offsets=(WallOffset(Wall.LEFT, 12.0, 0.0, 90.0),))),
            (
                "what stands proud of the walls is entered otherwise now: distances of beams "
                "that met it differ by as much as it stands proud"
            ),
        ),
        (
            changed(SETUP, seat=changed(SEAT, from_front_mm=4298.0, from_left_mm=2445.0)),
            (
                "the seat is entered 12 mm nearer to the front wall and 5.0 mm to the right "
                "now: paths to it and aims at it differ, where the cabinets stand does not"
            ),
        ),
        (
            changed(SETUP, seat=changed(SEAT, ear_height_mm=1050.0)),
            "the ears are entered 20 mm higher now: paths and tilt aimed at them differ",
        ),
        (
            both(width_mm=260.0),
            (
                "both cabinets: entered 4.0 mm wider now; what is shot from its sides or "
                "corners places it by up to half of that otherwise"
            ),
        ),
        (
            both(depth_mm=380.0),
            (
                "both cabinets: entered 4.0 mm less deep now; what is shot from its rear "
                "places it by that much otherwise"
            ),
        ),
        (
            changed(SETUP, cabinets=Pair(CABINET, changed(CABINET, points={}))),
            (
                "the right cabinet: touch points are entered otherwise now; what is shot from"
                " them places it so"
            ),
        ),
        (
            both(feet={"one": TouchPoint(0.0, 30.0)}),
            (
                "both cabinets: feet are entered otherwise now; how far they moved is told of"
                " the feet of now"
            ),
        ),
        (
            both(acoustic_height_mm=930.0),
            "both cabinets: the acoustic height is entered otherwise now; paths to the seat differ",
        ),
        (
            changed(SETUP, meter=Meter(0.6, 1.5, 1.0)),
            "another meter, or other figures for it: its zero does not cancel any more",
        ),
        (
            changed(SETUP, meter=changed(METER, edge=Edge.FRONT, edge_offset_mm=118.0)),
            (
                "the meter is held by its front edge now, by its rear edge then: what is "
                "wrong with the length between them is in every distance"
            ),
        ),
        (
            changed(SETUP, meter=changed(METER, edge_offset_mm=1.5)),
            "1.5 mm more is added for the meter's edge now: every distance differs by that much",
        ),
        (
            changed(SETUP, meter=changed(METER, zero_correction_mm=-1.2)),
            "1.2 mm less is added for the meter's zero now: every distance differs by that much",
        ),
        (
            changed(SETUP, inclinometer=Inclinometer(zero_deg=0.3)),
            "another inclinometer, or other figures for it: its zero does not cancel any more",
        ),
        (
            changed(SETUP, mirror=Mirror.SEAT),
            (
                "the two are mirror images about the line through the seat now, about the "
                "room's centre line then: their symmetry is counted about that of now"
            ),
        ),
    ],
)
def test_each_change_is_one_sentence(now: Setup, told: str) -> None:
    assert entered_otherwise(SETUP, now) == (told,)


def test_a_difference_of_the_two_cabinets_names_each() -> None:
    now = changed(SETUP, cabinets=Pair(Cabinet(250.0, 384.0), Cabinet(256.0, 390.0)))
    told = entered_otherwise(SETUP, now)
    assert told[0].startswith("the left cabinet: entered 6.0 mm narrower now")
    assert any(sentence.startswith("the right cabinet: entered 6.0 mm deeper") for sentence in told)
    assert not any(sentence.startswith("both") for sentence in told)


def test_ears_that_were_not_known_are_not_spoken_of() -> None:
    now = changed(SETUP, seat=Seat(SEAT.from_front_mm, SEAT.from_left_mm))
    assert entered_otherwise(SETUP, now) == ()


def test_lengths_are_told_in_the_units_of_now() -> None:
    now = changed(SETUP, room=Room.rectangular(4940.0 + 25.4, 6480.0), units=Units.INCH_16)
    assert entered_otherwise(SETUP, now)[0].startswith('the room is entered 1" wider now')


@given(st.integers(-400, 400), st.integers(-400, 400))
def test_a_rectangle_that_is_entered_anew_is_wider_and_longer_and_no_more(
    wider: int, longer: int
) -> None:
    now = changed(SETUP, room=Room.rectangular(ROOM.width_mm + wider, ROOM.length_mm + longer))
    told = entered_otherwise(SETUP, now)
    ways = ((wider, "narrower", "wider"), (longer, "shorter", "longer"))
    expected = [
        f"{nudge_length(by, Units.MM)} {more if by > 0 else less}" for by, less, more in ways if by
    ]
    assert len(told) == len(expected)
    assert all(f" {part} now" in sentence for part, sentence in zip(expected, told, strict=True))
    assert len(entered_otherwise(now, SETUP)) == len(told)
