"""Which way to nudge, in numbers and in words."""

from __future__ import annotations

import math
import re

import msgspec
import pytest
from geometry_cases import CABINET, SETUP, many, placements, simulated, stood
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point

from witnessmark.geometry.frame import reference_in_plan
from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units
from witnessmark.locate.nudge import Nudge, nudge
from witnessmark.model import (
    Cabinet,
    OneCabinet,
    Pair,
    Placement,
    Room,
    Setup,
    Side,
    TouchPoint,
    Wall,
)
from witnessmark.words.nudge import (
    foot_words,
    nudge_words,
    setback_words,
    side_words,
    toe_in_words,
)

TARGET = Placement(1450.0, 1900.0, 8.0)
AIMED = msgspec.structs.replace(SETUP, targets=Pair[Placement | None](TARGET, TARGET))
ALL_OUT = dict.fromkeys(("side", "setback", "toe_in"), Verdict.OUT)


def asked(
    side: Side, off: tuple[float, float, float], said: dict[str, Verdict] | None = None
) -> Nudge:
    """The nudge for a cabinet that stands ``off`` its target by side, setback and toe-in."""
    measured = Placement(
        TARGET.side_mm + off[0], TARGET.setback_mm + off[1], TARGET.toe_in_deg + off[2]
    )
    return nudge(OneCabinet(AIMED, side), measured, ALL_OUT | (said or {}))


def in_words(side: Side, said: Nudge) -> list[str]:
    """What is asked for, in words."""
    return nudge_words(OneCabinet(AIMED, side), said)


@pytest.mark.parametrize(
    ("side", "off", "words"),
    [
        (Side.LEFT, (-12.0, 0.0, 0.0), "12 mm toward the right wall"),
        (Side.LEFT, (12.0, 0.0, 0.0), "12 mm toward the left wall"),
        (Side.RIGHT, (-12.0, 0.0, 0.0), "12 mm toward the left wall"),
        (Side.RIGHT, (12.0, 0.0, 0.0), "12 mm toward the right wall"),
        (Side.LEFT, (0.0, -5.5, 0.0), "5.5 mm toward the seat"),
        (Side.RIGHT, (0.0, 5.5, 0.0), "5.5 mm toward the front wall"),
        (Side.LEFT, (0.0, 0.0, -1.25), "turn in 1.25°"),
        (Side.RIGHT, (0.0, 0.0, 1.25), "turn out 1.25°"),
    ],
)
def test_one_thing_in_words(side: Side, off: tuple[float, float, float], words: str) -> None:
    quiet = {name: Verdict.IN for name, value in zip(ALL_OUT, off, strict=True) if value == 0}
    said = asked(side, off, quiet)
    assert in_words(side, said)[-1] == words
    assert msgspec.structs.astuple(said.move) == pytest.approx([-value for value in off])


def test_what_matters_most_comes_first() -> None:
    """Counted in tolerances: 3 mm and 0.5 degree."""
    said = asked(Side.LEFT, (-30.0, 6.0, -0.6))
    assert in_words(Side.LEFT, said) == [
        "30 mm toward the right wall",
        "6.0 mm toward the front wall",
        "turn in 0.60°",
    ]
    said = asked(Side.LEFT, (-30.0, 34.0, 0.0), {"toe_in": Verdict.IN})
    assert in_words(Side.LEFT, said) == [
        "34 mm toward the front wall",
        "30 mm toward the right wall",
    ]


def test_what_is_in_gets_no_words() -> None:
    said = asked(Side.LEFT, (-0.4, 9.0, 0.1), {"side": Verdict.IN, "toe_in": Verdict.IN})
    assert in_words(Side.LEFT, said) == ["9.0 mm toward the front wall"]
    nothing = asked(Side.LEFT, (0.1, 0.1, 0.0), dict.fromkeys(ALL_OUT, Verdict.IN))
    assert in_words(Side.LEFT, nothing) == []


def test_what_is_unsure_does() -> None:
    said = asked(Side.LEFT, (2.9, 0.0, 0.0), {"side": Verdict.UNSURE})
    assert "2.9 mm toward the left wall" in in_words(Side.LEFT, said)


def test_words_in_inches() -> None:
    assert side_words(Side.LEFT, 12.7, Units.INCH_16).startswith('1/2"')
    assert setback_words(-12.7, Units.INCH_16).endswith("toward the front wall")
    assert toe_in_words(-2.0) == "turn out 2.00°"


@many
@given(stood(toe_in_deg=20.0), st.data())
def test_each_foot_goes_where_the_target_has_it(
    case: tuple[Setup, Pair[Placement]], data: st.DataObject
) -> None:
    """Tape distances of every foot, before and after, in the simulated room."""
    setup, standing = case
    targets = Pair[Placement | None](
        data.draw(placements(setup.room, 20.0)), data.draw(placements(setup.room, 20.0))
    )
    setup = msgspec.structs.replace(setup, targets=targets)
    front = far_line(setup, Wall.FRONT)
    for side in Side:
        target = targets[side]
        assert target is not None
        said = nudge(OneCabinet(setup, side), standing[side], ALL_OUT)
        assert msgspec.structs.astuple(said.move) == pytest.approx(
            msgspec.structs.astuple(target.minus(standing[side]))
        )
        own = far_line(setup, Wall.beside(side))
        now = simulated(setup, standing)
        then = now.moved(side, target)
        assert set(said.feet) == {"front-inner", "front-outer", "rear-inner", "rear-outer"}
        for name, foot in said.feet.items():
            before, after = (Point(room.plan_point(side, name)) for room in (now, then))
            side_mm = own.distance(after) - own.distance(before)
            setback_mm = front.distance(after) - front.distance(before)
            assert foot.side_mm == pytest.approx(side_mm, abs=1e-5)
            assert foot.setback_mm == pytest.approx(setback_mm, abs=1e-5)
            assert foot.distance_mm == pytest.approx(math.hypot(side_mm, setback_mm), abs=1e-5)


def far_line(setup: Setup, wall: Wall) -> LineString:
    """A wall, drawn on far past its ends."""
    (x0, y0), (x1, y1) = setup.room.wall(wall)
    dx, dy = 100 * (x1 - x0), 100 * (y1 - y0)
    return LineString([(x0 - dx, y0 - dy), (x1 + dx, y1 + dy)])


def turned_about(foot: TouchPoint, by_deg: float) -> Placement:
    """Where the reference goes when a cabinet on target is turned about one of its feet."""
    start, end = (math.radians(TARGET.toe_in_deg + turn) for turn in (0.0, by_deg))
    sin0, cos0, sin1, cos1 = math.sin(start), math.cos(start), math.sin(end), math.cos(end)
    inward, back = foot.inward_mm, foot.back_mm
    side = TARGET.side_mm + (cos0 - cos1) * inward - (sin0 - sin1) * back
    setback = TARGET.setback_mm - (sin0 - sin1) * inward - (cos0 - cos1) * back
    return Placement(side, setback, TARGET.toe_in_deg + by_deg)


@pytest.mark.parametrize("side", Side)
@pytest.mark.parametrize("turn", [-3.0, 2.0])
@pytest.mark.parametrize("name", ["front-inner", "front-outer", "rear-inner", "rear-outer"])
def test_a_turn_about_a_foot_says_which_to_hold(name: str, turn: float, side: Side) -> None:
    measured = turned_about(CABINET.touch_points[name], turn)
    said = nudge(OneCabinet(AIMED, side), measured, ALL_OUT)
    assert said.hold == name
    assert said.feet[name].distance_mm == pytest.approx(0.0, abs=1e-9)
    way = "in" if turn < 0 else "out"
    assert (
        in_words(side, said)[0] == f"hold the {name} foot and turn {way} {abs(turn):.2f}° about it"
    )


def test_a_plain_shift_holds_no_foot() -> None:
    assert asked(Side.LEFT, (20.0, 10.0, 0.0)).hold is None
    assert asked(Side.LEFT, (60.0, -60.0, 3.0)).hold is None


def test_a_turn_within_the_tolerance_holds_no_foot() -> None:
    measured = turned_about(CABINET.touch_points["rear-inner"], 0.4)
    assert nudge(OneCabinet(AIMED, Side.LEFT), measured, ALL_OUT).hold is None


def test_feet_of_its_own_are_the_ones_told() -> None:
    feet = {"spike": TouchPoint(90.0, 40.0), "outrigger": TouchPoint(-170.0, 350.0)}
    cabinet = Cabinet(256.0, 384.0, feet=feet)
    setup = msgspec.structs.replace(AIMED, cabinets=Pair(cabinet, cabinet))
    said = nudge(OneCabinet(setup, Side.LEFT), turned_about(feet["outrigger"], -2.0), ALL_OUT)
    assert set(said.feet) == set(feet)
    assert said.hold == "outrigger"
    # turned in about the rear outer foot, one in front of it goes inward
    assert said.feet["spike"].side_mm > 5.0


SAYS = re.compile(
    r"(?P<mm>[0-9.]+) mm toward the (?P<to>left wall|right wall|front wall|seat)"
    r"(?: along the (?P<along>left|right|front) wall)?"
)
OUT_OF_SQUARE = st.floats(-0.05, 0.05)


def unit(setup: Setup, wall: Wall) -> complex:
    """The way along a wall: from left to right, or from front to back."""
    corners = dict(zip(("fl", "fr", "br", "bl"), setup.room.corners, strict=True))
    ends = {Wall.LEFT: ("fl", "bl"), Wall.RIGHT: ("fr", "br"), Wall.FRONT: ("fl", "fr")}[wall]
    start, end = (complex(*corners[name]) for name in ends)
    return (end - start) / abs(end - start)


def pushed(setup: Setup, side: Side, at: complex, sentence: str) -> complex:
    """Where a point is after hands did what a sentence says."""
    said = SAYS.fullmatch(sentence)
    assert said, sentence
    is_sideways = said["to"] in ("left wall", "right wall")
    wall = Wall.FRONT if is_sideways else Wall.beside(side)
    assert said["along"] in (None, wall.value)
    way = unit(setup, wall)
    if said["along"] is None:
        # without a word about it, whoever pushes goes square to the front wall, or along it
        way = unit(setup, Wall.FRONT) * (1 if is_sideways else 1j)
    return at + way * float(said["mm"]) * (-1 if said["to"] in ("left wall", "front wall") else 1)


@many
@given(
    st.sampled_from(Side),
    st.tuples(*[OUT_OF_SQUARE] * 3),
    st.tuples(st.floats(-250.0, 250.0), st.floats(-250.0, 250.0)),
    st.booleans(),
)
def test_words_that_are_done_one_by_one_lead_to_the_target(
    side: Side, askew: tuple[float, float, float], off: tuple[float, float], is_feet: bool
) -> None:
    """Hands push along walls, a tape (shapely) measures; rooms up to 5 % out of square."""
    left, right, back = askew
    room = Room(
        (0.0, 0.0), (5360.0, 0.0), (5360.0 + 7240.0 * right, 7240.0 + 5360.0 * back),
        (7240.0 * left, 7240.0),
    )  # fmt: skip
    setup = msgspec.structs.replace(AIMED, room=room)
    measured = Placement(TARGET.side_mm - off[0], TARGET.setback_mm - off[1], TARGET.toe_in_deg)
    said = nudge(OneCabinet(setup, side), measured, ALL_OUT | {"toe_in": Verdict.IN})
    sentences = nudge_words(OneCabinet(setup, side), said)
    if is_feet:
        name, foot = next(iter(said.feet.items()))
        words = foot_words(OneCabinet(setup, side), name, foot)
        sentences = words.removeprefix(f"{name} foot: ").split(", ")
    tapes = [far_line(setup, wall) for wall in (Wall.beside(side), Wall.FRONT)]
    start = complex(*reference_in_plan(room, side, measured))
    at = start
    for sentence in sentences:
        at = pushed(setup, side, at, sentence)
    # half a millimetre of it is the rounding of the words, 0.05 mm what they do not mention
    for tape, wanted in zip(tapes, (TARGET.side_mm, TARGET.setback_mm), strict=True):
        assert tape.distance(Point(at.real, at.imag)) == pytest.approx(wanted, abs=0.56)


def test_a_push_in_a_square_room_says_no_wall() -> None:
    said = asked(Side.LEFT, (-250.0, 200.0, 0.0), {"toe_in": Verdict.IN})
    assert in_words(Side.LEFT, said) == [
        "250 mm toward the right wall",
        "200 mm toward the front wall",
    ]


@pytest.mark.parametrize(("side", "own"), [(Side.LEFT, "left"), (Side.RIGHT, "right")])
def test_a_push_out_of_square_says_along_which_wall(side: Side, own: str) -> None:
    room = Room((0.0, 0.0), (5360.0, 0.0), (5900.0, 7240.0), (-720.0, 7240.0))
    setup = msgspec.structs.replace(AIMED, room=room)
    measured = Placement(TARGET.side_mm, TARGET.setback_mm - 60.0, TARGET.toe_in_deg)
    said = nudge(
        OneCabinet(setup, side), measured, ALL_OUT | {"side": Verdict.IN, "toe_in": Verdict.IN}
    )
    assert nudge_words(OneCabinet(setup, side), said) == [
        f"60 mm toward the seat along the {own} wall"
    ]
    assert said.move.setback_mm == pytest.approx(60.0)
