"""Two measurings of a pair: what moved, how well that is known, and in which words it is told."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import msgspec
import numpy as np
import pytest
import uncertainties
from effort import cases
from geometry_cases import SETUP, STANDING, noisy, round_of, some, stood, true_shots
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import umath

from witnessmark.lengths import Units
from witnessmark.locate.compare import Change, Comparison, compare, in_common
from witnessmark.locate.pose import Located, locate
from witnessmark.model import (
    AimedAt,
    Held,
    Meter,
    Mirror,
    Pair,
    Placement,
    Poses,
    Room,
    Setup,
    Shot,
    ShotKind,
    Side,
    Tilt,
    TouchPoint,
)
from witnessmark.words.marks import comparison_words

changed = msgspec.structs.replace
FloatArray = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
BOTH = [*round_of(Side.LEFT, Held.WALL), *round_of(Side.RIGHT, Held.WALL)]
_ACROSS = {AimedAt.FRONT: AimedAt.BACK, AimedAt.LEFT: AimedAt.RIGHT, AimedAt.RIGHT: AimedAt.LEFT}
OPPOSITE = [ShotKind(kind.cabinet, kind.point, _ACROSS[kind.to], kind.held) for kind in BOTH]
NO_TILTS = Pair[Tilt | None](None, None)


def poses(
    placements: Pair[Placement], covariance: FloatArray, tilts: Pair[Tilt | None] = NO_TILTS
) -> Poses:
    rows = tuple(tuple(row) for row in covariance.tolist())
    return Poses(placements, rows, tilts)  # type: ignore[arg-type]


def poses_of(located: Located) -> Poses:
    placements = Pair(located.placements[Side.LEFT], located.placements[Side.RIGHT])
    return poses(placements, located.covariance)


def in_order(found: Comparison) -> Iterator[Change]:
    """Every change but those of tilt: each cabinet's quantities and points, then the symmetry's."""
    for side in Side:
        own = found.cabinets[side]
        yield from (own.side_mm, own.setback_mm, own.toe_in_deg)
        for point in own.points.values():
            yield from (point.side_mm, point.setback_mm)
    apart = found.symmetry
    yield from (apart.side_mm, apart.setback_mm, apart.toe_in_deg, apart.path_to_seat_mm)


@st.composite
def covariances(draw: st.DrawFn) -> FloatArray:
    """Of any six quantities, millimetres and degrees, correlated as may be."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    scales = np.array([0.8, 0.8, 0.1] * 2) * 10 ** draw(st.floats(-1.5, 0.5))
    factor = rng.normal(0, 1, (6, 6)) * scales[:, None] / math.sqrt(6)
    return factor @ factor.T


def by_hand(setup: Setup, placements: Pair[Placement], covariance: FloatArray) -> list[Any]:
    """What is compared, of numbers that carry their uncertainty, in a rectangular room."""
    values = [v for side in Side for v in msgspec.structs.astuple(placements[side])]
    known = uncertainties.correlated_values(values, covariance)
    left, right = known[:3], known[3:]
    figures = []
    for place, side in ((left, Side.LEFT), (right, Side.RIGHT)):
        figures += place
        for point in setup.cabinets[side].body_points.values():
            figures += point_by_hand(place, point)
    figures += [one - other for one, other in zip(left, right, strict=True)]
    paths = [
        path_by_hand(setup, side, place) for side, place in zip(Side, (left, right), strict=True)
    ]
    return [*figures, paths[0] - paths[1]]


def point_by_hand(place: Sequence[Any], point: TouchPoint) -> tuple[Any, Any]:
    side, setback, toe_in = place
    turn = toe_in * (math.pi / 180)
    along = umath.cos(turn) * point.inward_mm - umath.sin(turn) * point.back_mm
    out = -umath.sin(turn) * point.inward_mm - umath.cos(turn) * point.back_mm
    return side + along, setback + out


def path_by_hand(setup: Setup, side: Side, place: Sequence[Any]) -> Any:  # noqa: ANN401
    seat, acoustic = setup.seat, setup.cabinets[side].acoustic_height_mm
    own = seat.from_left_mm if side is Side.LEFT else setup.room.width_mm - seat.from_left_mm
    known = acoustic is not None and seat.ear_height_mm is not None
    rise = (acoustic or 0.0) - (seat.ear_height_mm or 0.0) if known else 0.0
    return umath.sqrt((place[0] - own) ** 2 + (place[1] - seat.from_front_mm) ** 2 + rise**2)


def shifted(standing: Pair[Placement]) -> Pair[Placement]:
    left, right = standing.left, standing.right
    return Pair(
        Placement(left.side_mm + 3, left.setback_mm - 6, left.toe_in_deg + 1.5),
        Placement(right.side_mm - 2, right.setback_mm + 1, right.toe_in_deg - 0.4),
    )


@some
@given(stood(square=True, toe_in_deg=25.0), covariances(), covariances(), st.sampled_from(Mirror))
def test_differences_and_intervals_as_linear_propagation_has_them(
    case: tuple[Setup, Pair[Placement]], one: FloatArray, other: FloatArray, mirror: Mirror
) -> None:
    setup, standing = changed(case[0], mirror=mirror), case[1]
    moved = shifted(standing)
    found = list(in_order(compare(setup, poses(standing, one), poses(moved, other))))
    then, now = by_hand(setup, standing, one), by_hand(setup, moved, other)
    expected = [after - before for before, after in zip(then, now, strict=True)]
    assert [change.amount for change in found] == pytest.approx([e.n for e in expected], abs=1e-6)
    assert [change.expanded for change in found] == pytest.approx(
        [2 * e.s for e in expected], rel=1e-5
    )


@some
@given(stood(toe_in_deg=25.0), covariances(), covariances())
def test_what_came_is_the_opposite_of_what_would_go_back(
    case: tuple[Setup, Pair[Placement]], one: FloatArray, other: FloatArray
) -> None:
    setup, standing = case
    then, now = poses(standing, one), poses(shifted(standing), other)
    forth, back = (list(in_order(compare(setup, *pair))) for pair in ((then, now), (now, then)))
    assert [c.amount for c in forth] == pytest.approx([-c.amount for c in back], abs=1e-9)
    assert [c.expanded for c in forth] == pytest.approx([c.expanded for c in back], rel=1e-5)


def test_about_the_seat_the_symmetry_counts_from_its_line() -> None:
    """In a room whose left wall leans out, a step forward takes the left cabinet along it."""
    room = Room((0.0, 0.0), (5000.0, 0.0), (5000.0, 6000.0), (-300.0, 6000.0))
    about_room = changed(SETUP, room=room, mirror=Mirror.ROOM)
    place, forward = Placement(1400.0, 1800.0, 5.0), Placement(1400.0, 2100.0, 5.0)
    still = np.zeros((6, 6))
    then, now = (poses(Pair(at, at), still) for at in (place, forward))
    assert compare(about_room, then, now).symmetry.side_mm.amount == pytest.approx(0.0)
    about_seat = changed(about_room, mirror=Mirror.SEAT)
    # 300 mm out along a wall that leans 300 in 6000
    assert compare(about_seat, then, now).symmetry.side_mm.amount == pytest.approx(-15.0, abs=0.05)


def press(true: list[Shot], zero_mm: float, seed: int) -> Located:
    """A round with a meter of this zero error."""
    shots = [Shot(shot.kind, shot.reading_mm + zero_mm) for shot in true]
    return locate(SETUP, noisy(shots, SETUP.meter.shot_sigma_mm, seed))


def share_held(
    first: list[ShotKind], second: list[ShotKind], *, one_meter: bool, common: bool = False
) -> dict[str, float]:
    """How often the interval of each quantity holds the truth, over pairs of rounds."""
    rng = np.random.default_rng(11)
    before, after = STANDING, shifted(STANDING)
    exact = np.zeros((6, 6))
    truth = np.array(
        [c.amount for c in in_order(compare(SETUP, poses(before, exact), poses(after, exact)))]
    )
    shots = true_shots(SETUP, before, first), true_shots(SETUP, after, second)
    held = []
    for seed in range(ROUNDS):
        zeros = rng.normal(0.0, SETUP.meter.zero_mm, 2)
        then = press(shots[0], zeros[0], 2 * seed)
        now = press(shots[1], zeros[0 if one_meter else 1], 2 * seed + 1)
        shared = in_common(then, now, SETUP.meter) if common else None
        found = list(in_order(compare(SETUP, poses_of(then), poses_of(now), shared)))
        off = np.array([change.amount for change in found]) - truth
        held.append(np.abs(off) <= [change.expanded for change in found])
    shares = np.mean(held, axis=0)
    own = len(shares) // 2 - 2
    symmetry = ("symmetry side", "symmetry setback", "symmetry toe-in", "symmetry path")
    return (
        dict(zip(("side", "setback", "toe-in"), shares[:3].tolist(), strict=True))
        | {"points": float(shares[3:own].mean())}
        | dict(zip(symmetry, shares[-4:].tolist(), strict=True))
    )


ROUNDS = cases(100, 300)
SCATTER = 3.5 * math.sqrt(0.9545 * 0.0455 / ROUNDS)
"""Of a share of 95.45 % of so many, 3.5 standard deviations."""


def test_with_two_meters_intervals_hold_the_truth_as_often_as_they_say() -> None:
    for name, share in share_held(BOTH, BOTH, one_meter=False).items():
        assert share == pytest.approx(0.9545, abs=SCATTER), name


def test_with_one_meter_they_hold_it_no_less_often() -> None:
    shares = share_held(BOTH, BOTH, one_meter=True)
    assert min(shares.values()) > 0.9545 - SCATTER
    # the zero, which drops out, is most of what side and setback allow for
    assert min(shares["side"], shares["setback"]) > 0.99


def test_shots_at_opposite_walls_with_one_meter_need_what_the_two_have_in_common() -> None:
    shares = share_held(BOTH, OPPOSITE, one_meter=True, common=True)
    assert min(shares.values()) > 0.9545 - SCATTER
    assert shares["setback"] == pytest.approx(0.9545, abs=SCATTER)
    without = share_held(BOTH, OPPOSITE, one_meter=True)
    assert without["setback"] < 0.92


@pytest.mark.parametrize("meter", [Meter(0.4, 1.0, 0.7), Meter(0.4, 0.1, 0.7, 80.0), Meter(0.4)])
@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
def test_what_two_measurings_have_in_common_is_what_one_zero_does_to_both(
    meter: Meter, held: Held
) -> None:
    setup = changed(SETUP, meter=meter)
    kinds = [
        [*round_of(Side.LEFT, held, more=m), *round_of(Side.RIGHT, held, more=m)]
        for m in (False, True)
    ]
    shots = [true_shots(setup, STANDING, each) for each in kinds]
    then, now = (locate(setup, each) for each in shots)
    expected = np.zeros((6, 6))
    for sigma, read in (
        (meter.zero_mm, lambda mm: mm + meter.zero_mm),
        (meter.scale_ppm, lambda mm: mm * (1 + meter.scale_ppm * 1e-6)),
    ):
        if sigma:
            wrong = [
                locate(setup, [Shot(shot.kind, read(shot.reading_mm)) for shot in each])
                for each in shots
            ]
            off = [vector(w) - vector(right) for w, right in zip(wrong, (then, now), strict=True)]
            expected += np.outer(*off)
    found = in_common(then, now, meter)
    assert found == pytest.approx(expected, abs=2e-3)
    assert found == pytest.approx(in_common(now, then, meter).T, abs=1e-9)


def vector(located: Located) -> FloatArray:
    return np.array(
        [value for side in Side for value in msgspec.structs.astuple(located.placements[side])]
    )


def test_of_one_meter_at_the_same_walls_nothing_in_common_is_counted_upon() -> None:
    then, now = (press(true_shots(SETUP, STANDING, BOTH), 0.3, seed) for seed in (1, 2))
    plain = compare(SETUP, poses_of(then), poses_of(now))
    shared = compare(SETUP, poses_of(then), poses_of(now), in_common(then, now, SETUP.meter))
    for one, other in zip(in_order(plain), in_order(shared), strict=True):
        assert other.expanded == pytest.approx(one.expanded, rel=1e-6)


SIGMA = np.diag([0.5, 0.75, 0.05] * 2) ** 2
TILTED = Pair[Tilt | None](Tilt(1.0, 0.05, 0.1), Tilt(1.2, 0.05, 0.1))


def moved(
    left: Placement, right: Placement = STANDING.right, tilts: Pair[Tilt | None] = NO_TILTS
) -> Comparison:
    before = NO_TILTS if tilts == NO_TILTS else TILTED
    return compare(SETUP, poses(STANDING, SIGMA, before), poses(Pair(left, right), SIGMA, tilts))


def test_tilt_is_compared_where_it_was_taken_both_times() -> None:
    found = moved(STANDING.left, tilts=Pair(Tilt(1.6, 0.05, 0.1), None))
    left = found.cabinets.left.tilt_deg
    assert left is not None
    assert left.amount == pytest.approx(0.6)
    assert left.expanded == pytest.approx(2 * math.sqrt(2) * math.hypot(0.05, 0.1))
    assert left.seen
    assert found.cabinets.left.seen
    assert found.cabinets.right.tilt_deg is found.symmetry.tilt_deg is None


def test_of_the_symmetry_of_tilts_the_instruments_zero_drops_out() -> None:
    found = moved(STANDING.left, tilts=Pair(Tilt(1.6, 0.05, 0.1), Tilt(1.3, 0.05, 0.1)))
    apart = found.symmetry.tilt_deg
    assert apart is not None
    # left less right was -0.2 and is +0.3
    assert apart.amount == pytest.approx(0.5)
    assert apart.expanded == pytest.approx(2 * 2 * 0.05)


def test_nothing_that_moved_in_words() -> None:
    left = STANDING.left
    found = moved(Placement(left.side_mm + 1.2, left.setback_mm - 2.0, left.toe_in_deg + 0.1))
    assert not found.seen
    assert comparison_words(SETUP, found) == (
        "no movement larger than the meter can detect (±2.1 mm and ±0.14°)",
    )


def test_a_cabinet_that_moved_in_words() -> None:
    left = STANDING.left
    found = moved(changed(left, setback_mm=left.setback_mm - 6.2))
    assert found.seen
    assert comparison_words(SETUP, found) == (
        "the left cabinet moved: 6.2 mm nearer the front wall (±2.1 mm)",
        "the right cabinet has not moved by more than the meter can detect (±2.1 mm and ±0.14°)",
        (
            "relative to the right cabinet, the left one moved: 6.2 mm nearer the front wall "
            "(±3.0 mm), 5.7 mm farther from the seat (±2.9 mm)"
        ),
    )
    inches = changed(SETUP, units=Units.INCH_16)
    told = "the left cabinet moved: 0.24 in nearer the front wall (±0.09 in)"
    assert comparison_words(inches, found)[0] == told


@pytest.mark.parametrize(
    ("move", "words"),
    [
        ((0.0, 4.0, 0.0), "4.0 mm farther from the front wall"),
        ((4.0, 0.0, 0.0), "4.0 mm farther from the right wall"),
        ((-4.0, 0.0, 0.0), "4.0 mm nearer the right wall"),
        ((0.0, 0.0, 0.8), "turned in by 0.80°"),
        ((0.0, 0.0, -0.8), "turned out by 0.80°"),
    ],
)
def test_ways_in_words(move: tuple[float, float, float], words: str) -> None:
    right = STANDING.right
    now = Placement(right.side_mm + move[0], right.setback_mm + move[1], right.toe_in_deg + move[2])
    told = comparison_words(SETUP, moved(STANDING.left, now))
    assert told[1].startswith(f"the right cabinet moved: {words}")
    assert told[0].startswith("the left cabinet has not moved")


def test_of_a_turn_the_foot_that_went_farthest_is_told() -> None:
    left = STANDING.left
    found = moved(changed(left, toe_in_deg=left.toe_in_deg + 2.0))
    told = comparison_words(SETUP, found)
    assert told[0] == "the left cabinet moved: turned in by 2.00° (±0.14°)"
    # 128 mm inward and 384 behind: side -384 d(sin) + 128 d(cos), setback -128 d(sin) - 384 d(cos)
    assert told[1] == (
        "its rear-inner foot moved: 2.2 mm nearer the front wall (±2.1 mm), "
        "14 mm nearer the left wall (±1.7 mm)"
    )


def test_a_lean_in_words() -> None:
    found = moved(STANDING.left, tilts=Pair(Tilt(0.4, 0.05, 0.1), Tilt(1.2, 0.05, 0.1)))
    told = comparison_words(SETUP, found)
    assert told[0] == "the left cabinet moved: leaning back 0.60° less (±0.32°)"
    assert told[1].endswith("can detect (±2.1 mm and ±0.32°)")
    assert told[2] == (
        "relative to the right cabinet, the left one moved: leaning back 0.60° less (±0.20°)"
    )
