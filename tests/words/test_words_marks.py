"""What was entered otherwise since a mark was made, and what that does to the comparison."""

from __future__ import annotations

import msgspec
import pytest
from geometry_cases import CABINET, SETUP
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.lengths import Units
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
from witnessmark.words.marks import entered_otherwise
from witnessmark.words.nudge import nudge_length

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
                "the room is now entered 12 mm wider: distances from the right wall differ by "
                "that much"
            ),
        ),
        (
            changed(SETUP, room=Room.rectangular(4940.0, 6460.0)),
            (
                "the room is now entered 20 mm shorter: distances from the back wall differ by "
                "that much"
            ),
        ),
        (
            changed(SETUP, room=changed(ROOM, back_left=(-9.0, 6480.0))),
            (
                "the room's corners are now entered up to 9.0 mm elsewhere: distances from its "
                "walls, and toe-in counted from them, change with them"
            ),
        ),
        (
            changed(SETUP, room=changed(ROOM, datum=(Wall.RIGHT,))),
            (
                "there is now a right datum line where there was a right wall: distances from "
                "the two cannot be compared"
            ),
        ),
        (
            changed(SETUP, room=changed(ROOM, offsets=(WallOffset(Wall.LEFT, 12.0, 0.0, 90.0),))),
            (
                "what sticks out from the walls has changed: beams that meet it differ by as "
                "much as it sticks out"
            ),
        ),
        (
            changed(SETUP, seat=changed(SEAT, from_front_mm=4298.0, from_left_mm=2445.0)),
            (
                "the seat is now entered 12 mm nearer to the front wall and 5.0 mm to the "
                "right: paths to it and aims at it differ, but not where the cabinets stand"
            ),
        ),
        (
            changed(SETUP, seat=changed(SEAT, ear_height_mm=1050.0)),
            "the ears are now entered 20 mm higher: paths and tilt aimed at them differ",
        ),
        (
            both(width_mm=260.0),
            (
                "both cabinets: now entered 4.0 mm wider; shots from its sides or corners place "
                "it up to half of that differently"
            ),
        ),
        (
            both(depth_mm=380.0),
            (
                "both cabinets: now entered 4.0 mm less deep; shots from its rear place it that "
                "much differently"
            ),
        ),
        (
            changed(SETUP, cabinets=Pair(CABINET, changed(CABINET, points={}))),
            ("the right cabinet: touch points have changed; shots from them place it differently"),
        ),
        (
            both(feet={"one": TouchPoint(0.0, 30.0)}),
            ("both cabinets: feet have changed; movements are those of the present feet"),
        ),
        (
            both(acoustic_height_mm=930.0),
            "both cabinets: the acoustic height has changed; paths to the seat differ",
        ),
        (
            changed(SETUP, meter=Meter(0.6, 1.5, 1.0)),
            "another meter, or other figures for it: its zero error no longer cancels",
        ),
        (
            changed(SETUP, meter=changed(METER, edge=Edge.FRONT, edge_offset_mm=118.0)),
            (
                "the meter is now held by its front edge, before by its rear edge: an error in "
                "the length between them is in every distance"
            ),
        ),
        (
            changed(SETUP, meter=changed(METER, edge_offset_mm=1.5)),
            ("1.5 mm more is now added for the meter's edge: every distance differs by that much"),
        ),
        (
            changed(SETUP, meter=changed(METER, zero_correction_mm=-1.2)),
            ("1.2 mm less is now added for the meter's zero: every distance differs by that much"),
        ),
        (
            changed(SETUP, inclinometer=Inclinometer(zero_deg=0.3)),
            "another inclinometer, or other figures for it: its zero error no longer cancels",
        ),
        (
            changed(SETUP, mirror=Mirror.SEAT),
            (
                "the pair now mirrors about the line through the seat, before about the room's "
                "centre line: symmetry is counted about the present line"
            ),
        ),
    ],
)
def test_each_change_is_one_sentence(now: Setup, told: str) -> None:
    assert entered_otherwise(SETUP, now) == (told,)


def test_a_difference_of_the_two_cabinets_names_each() -> None:
    now = changed(SETUP, cabinets=Pair(Cabinet(250.0, 384.0), Cabinet(256.0, 390.0)))
    told = entered_otherwise(SETUP, now)
    assert told[0].startswith("the left cabinet: now entered 6.0 mm narrower")
    assert any(
        sentence.startswith("the right cabinet: now entered 6.0 mm deeper") for sentence in told
    )
    assert not any(sentence.startswith("both") for sentence in told)


def test_ears_that_were_not_known_are_not_spoken_of() -> None:
    now = changed(SETUP, seat=Seat(SEAT.from_front_mm, SEAT.from_left_mm))
    assert entered_otherwise(SETUP, now) == ()


def test_lengths_are_told_in_the_units_of_now() -> None:
    now = changed(SETUP, room=Room.rectangular(4940.0 + 25.4, 6480.0), units=Units.INCH_16)
    assert entered_otherwise(SETUP, now)[0].startswith('the room is now entered 1" wider')


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
    assert all(
        f"now entered {part}:" in sentence for part, sentence in zip(expected, told, strict=True)
    )
    assert len(entered_otherwise(now, SETUP)) == len(told)
