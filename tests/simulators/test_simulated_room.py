"""The simulated room's ray casting against hand-worked cases, a mirror, and shapely."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon

from witnessmark.model import (
    BOX_POINTS,
    AimedAt,
    Cabinet,
    Held,
    Pair,
    Placement,
    Room,
    Seat,
    ShotKind,
    Side,
    TouchPoint,
    Wall,
)
from witnessmark_simulators.room import ImpossibleShot, SimulatedRoom

SAME_MM = 1e-6
SIXTH_TURN = 30.0
COS30 = math.sqrt(3) / 2

CABINET = Cabinet(300.0, 400.0, points={"spike": TouchPoint(10.0, 20.0)})
SEAT = Seat(from_front_mm=4300.0, from_left_mm=2500.0)


def room_with(
    left: Placement, right: Placement | None = None, room: Room | None = None
) -> SimulatedRoom:
    return SimulatedRoom(
        room or Room.rectangular(5000.0, 6000.0), Pair(CABINET, CABINET), SEAT,
        Pair(left, right or left),
    )  # fmt: skip


def kind(
    point: str, to: AimedAt | Wall, held: Held = Held.WALL, cabinet: Side = Side.LEFT
) -> ShotKind:
    return ShotKind(cabinet, point, AimedAt(to), held)


SQUARE = room_with(Placement(1500.0, 1900.0, 0.0))
TURNED = room_with(Placement(1500.0, 1900.0, SIXTH_TURN))


@pytest.mark.parametrize(
    ("point", "to", "expected_mm"),
    [
        ("rear-inner", AimedAt.FRONT, 1500.0),
        ("front-inner", AimedAt.FRONT, 1900.0),
        ("front-inner", AimedAt.BACK, 4100.0),
        ("front-outer", AimedAt.LEFT, 1350.0),
        ("front-inner", AimedAt.LEFT, 1650.0),
        ("front-inner", AimedAt.RIGHT, 3350.0),
        ("spike", AimedAt.FRONT, 1880.0),
        ("spike", AimedAt.LEFT, 1510.0),
    ],
)
@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
def test_square_cabinet_by_hand(point: str, to: AimedAt, expected_mm: float, held: Held) -> None:
    assert SQUARE.true_distance(kind(point, to, held)) == pytest.approx(expected_mm, abs=SAME_MM)


REAR_INNER_SETBACK = 1900 - 150 * 0.5 - 400 * COS30
REAR_INNER_SIDE = 1500 + 150 * COS30 - 400 * 0.5


@pytest.mark.parametrize(
    ("shot", "expected_mm"),
    [
        (kind("rear-inner", AimedAt.FRONT), REAR_INNER_SETBACK),
        (kind("rear-inner", AimedAt.FRONT, Held.CABINET), REAR_INNER_SETBACK / COS30),
        (kind("rear-inner", AimedAt.LEFT), REAR_INNER_SIDE),
        (kind("rear-inner", AimedAt.LEFT, Held.CABINET), REAR_INNER_SIDE / COS30),
        (kind("front-outer", AimedAt.FRONT), 1900 + 75),
        (kind("front-inner", AimedAt.BACK, Held.CABINET), (6000 - 1900 + 75) / COS30),
        (
            kind("front-inner", AimedAt.SEAT, Held.POINT),
            math.hypot(1000 - 150 * COS30, 2400 + 75),
        ),
        (kind("front-inner", AimedAt.CABINET, Held.POINT), 2000 - 300 * COS30),
        (
            kind("front-inner", AimedAt.LEFT, Held.SPOT),
            1500 + 150 * COS30 + (4100 + 75) * math.tan(math.radians(30)),
        ),
    ],
)
def test_turned_cabinet_by_hand(shot: ShotKind, expected_mm: float) -> None:
    assert TURNED.true_distance(shot) == pytest.approx(expected_mm, abs=SAME_MM)


def test_toe_in_turns_the_right_cabinet_the_other_way() -> None:
    left, right = (TURNED.plan_point(side, "front-inner") for side in Side)
    assert left == pytest.approx((1500 + 150 * COS30, 1825.0), abs=SAME_MM)
    assert right == pytest.approx((3500 - 150 * COS30, 1825.0), abs=SAME_MM)


@given(toe_in_deg=st.floats(-20, 20))
def test_shots_a_width_apart_differ_by_sine_on_the_wall_and_tangent_on_the_cabinet(
    toe_in_deg: float,
) -> None:
    world = room_with(Placement(1500.0, 1900.0, toe_in_deg))

    def difference_mm(held: Held) -> float:
        outer, inner = (
            world.true_distance(kind(p, AimedAt.FRONT, held)) for p in ("rear-outer", "rear-inner")
        )
        return outer - inner

    toe_in = math.radians(toe_in_deg)
    assert difference_mm(Held.WALL) == pytest.approx(300 * math.sin(toe_in), abs=SAME_MM)
    assert difference_mm(Held.CABINET) == pytest.approx(300 * math.tan(toe_in), abs=SAME_MM)


@given(plan_deg=st.floats(-3, 3), elevation_deg=st.floats(-3, 3))
def test_off_square_on_the_wall_reads_long_by_both_cosines(
    plan_deg: float, elevation_deg: float
) -> None:
    shot = kind("rear-inner", AimedAt.FRONT)
    distance_mm = SQUARE.true_distance(shot, (plan_deg, elevation_deg))
    cosines = math.cos(math.radians(plan_deg)) * math.cos(math.radians(elevation_deg))
    assert distance_mm == pytest.approx(1500 / cosines, abs=SAME_MM)
    assert distance_mm >= 1500 - SAME_MM


def test_off_axis_on_the_cabinet_can_read_short() -> None:
    """The beam swung back toward the wall's normal takes a shorter way."""
    shot = kind("rear-inner", AimedAt.FRONT, Held.CABINET)
    for plan_deg, to_normal_deg in [(2.0, 28.0), (0.0, 30.0), (-2.0, 32.0)]:
        expected_mm = REAR_INNER_SETBACK / math.cos(math.radians(to_normal_deg))
        assert TURNED.true_distance(shot, (plan_deg, 0.0)) == pytest.approx(
            expected_mm, abs=SAME_MM
        )


def test_elevation_makes_a_shot_along_the_axis_long() -> None:
    shot = kind("rear-inner", AimedAt.FRONT, Held.CABINET)
    expected_mm = TURNED.true_distance(shot) / math.cos(math.radians(3.0))
    for elevation_deg in (3.0, -3.0):
        risen_mm = TURNED.true_distance(shot, (0.0, elevation_deg))
        assert risen_mm == pytest.approx(expected_mm, abs=SAME_MM)


def test_a_dot_wanders_with_the_beam_in_plan_and_not_in_elevation() -> None:
    """Turning from x toward y swings a beam that runs toward the listener to the left."""
    shot = kind("front-inner", AimedAt.RIGHT, Held.SPOT)
    for plan_deg, from_normal_deg in [(2.0, 28.0), (-2.0, 32.0)]:
        dot_from_left_mm = 1500 + 150 * COS30 + 4175 * math.tan(math.radians(from_normal_deg))
        dot_mm = TURNED.true_distance(shot, (plan_deg, 3.0))
        assert dot_mm == pytest.approx(5000 - dot_from_left_mm, abs=SAME_MM)


def test_a_point_shot_has_no_angle() -> None:
    shot = kind("front-inner", AimedAt.SEAT, Held.POINT)
    assert TURNED.true_distance(shot, (3.0, 3.0)) == TURNED.true_distance(shot)


@pytest.mark.parametrize(
    ("shot", "words"),
    [
        (kind("rear-inner", AimedAt.SEAT), "a shot held on the wall goes to a wall"),
        (kind("rear-inner", AimedAt.CABINET, Held.CABINET), "held on the cabinet goes to a wall"),
        (kind("rear-inner", AimedAt.FRONT, Held.POINT), "goes to the seat or the cabinet"),
        (kind("front-inner", AimedAt.FRONT, Held.SPOT), "from the left or the right wall"),
        (kind("nose", AimedAt.FRONT), 'no touch point "nose"; it has front-inner'),
    ],
)
def test_senseless_shots_are_refused(shot: ShotKind, words: str) -> None:
    with pytest.raises(ImpossibleShot, match=words):
        SQUARE.true_distance(shot)


def test_a_beam_that_meets_another_wall_is_refused() -> None:
    world = room_with(Placement(400.0, 1900.0, 60.0))
    with pytest.raises(ImpossibleShot, match="the beam meets the left wall, not the front wall"):
        world.true_distance(kind("rear-inner", AimedAt.FRONT, Held.CABINET))


def test_a_point_behind_a_wall_is_refused() -> None:
    world = room_with(Placement(1500.0, 390.0, 0.0))
    with pytest.raises(ImpossibleShot, match=r"10\.0 mm behind the front wall"):
        world.true_distance(kind("rear-inner", AimedAt.FRONT))


def test_moving_leaves_the_other_cabinet_and_the_old_world() -> None:
    there = Placement(1400.0, 2000.0, 5.0)
    moved = SQUARE.moved(Side.RIGHT, there)
    assert moved.standing == Pair(SQUARE.standing.left, there)
    assert SQUARE.standing.right == Placement(1500.0, 1900.0, 0.0)


skew = st.floats(-350, 350)


@st.composite
def rooms(draw: st.DrawFn) -> Room:
    """Rooms out of square by up to 0.35 m at each corner, not even begun at the origin."""
    corners = [(0.0, 0.0), (5000.0, 0.0), (5000.0, 6000.0), (0.0, 6000.0)]
    return Room(*((x + draw(skew), y + draw(skew)) for x, y in corners))


placements = st.builds(
    Placement, side_mm=st.floats(1000, 1800), setback_mm=st.floats(1000, 2600),
    toe_in_deg=st.floats(-35, 35),
)  # fmt: skip
sides = st.sampled_from(Side)
walls = st.sampled_from(Wall)
names = st.sampled_from(BOX_POINTS)
angles_deg = st.floats(-5, 5)


@given(
    room=rooms(),
    x=st.floats(600, 4400),
    y=st.floats(600, 5400),
    turn=st.floats(0, 2 * math.pi),
    reach=st.floats(0.1, 10.0),
)
def test_ray_against_shapely(room: Room, x: float, y: float, turn: float, reach: float) -> None:
    direction = (math.cos(turn), math.sin(turn))
    hit = room_with(Placement(1500.0, 1900.0, 0.0), room=room).ray(
        (x, y), (reach * direction[0], reach * direction[1])
    )
    far = LineString([(x, y), (x + 1e5 * direction[0], y + 1e5 * direction[1])])
    crossing = far.intersection(Polygon(room.corners).exterior)
    assert hit.distance_mm == pytest.approx(crossing.distance(Point(x, y)), abs=1e-5)
    landed = Point(x + hit.distance_mm * direction[0], y + hit.distance_mm * direction[1])
    assert LineString(room.wall(hit.wall)).distance(landed) == pytest.approx(0, abs=1e-5)


@given(room=rooms(), left=placements, right=placements, side=sides)
def test_placement_is_what_shapely_measures(
    room: Room, left: Placement, right: Placement, side: Side
) -> None:
    """The reference point lies between the baffle's corners, at its distances from both lines."""
    world = room_with(left, right, room)
    inner, outer, rear = (
        Point(world.plan_point(side, name)) for name in ("front-inner", "front-outer", "rear-inner")
    )
    reference = LineString([inner, outer]).centroid
    own, front = (
        reference.distance(endless(room, wall)) for wall in (Wall.beside(side), Wall.FRONT)
    )
    placement = world.standing[side]
    assert own == pytest.approx(placement.side_mm, abs=1e-5)
    assert front == pytest.approx(placement.setback_mm, abs=1e-5)
    assert inner.distance(outer) == pytest.approx(300, abs=1e-5)
    assert inner.distance(rear) == pytest.approx(400, abs=1e-5)
    # Toe-in: the inner edge of the baffle comes that much nearer to the front wall's line.
    dip = outer.distance(endless(room, Wall.FRONT)) - inner.distance(endless(room, Wall.FRONT))
    assert dip == pytest.approx(300 * math.sin(math.radians(placement.toe_in_deg)), abs=1e-5)


def endless(room: Room, wall: Wall) -> LineString:
    """The line of a wall, 40 m either way."""
    (x0, y0), (x1, y1) = room.wall(wall)
    k = 40_000 / math.dist((x0, y0), (x1, y1))
    return LineString(
        [(x0 - k * (x1 - x0), y0 - k * (y1 - y0)), (x1 + k * (x1 - x0), y1 + k * (y1 - y0))]
    )


@given(room=rooms(), left=placements, right=placements, side=sides, name=names, wall=walls)
def test_wall_shot_against_shapely(
    room: Room, left: Placement, right: Placement, side: Side, name: str, wall: Wall
) -> None:
    world = room_with(left, right, room)
    expected_mm = Point(world.plan_point(side, name)).distance(endless(room, wall))
    shot = ShotKind(side, name, AimedAt(wall), Held.WALL)
    assert world.true_distance(shot) == pytest.approx(expected_mm, abs=1e-5)


@given(room=rooms(), left=placements, right=placements, side=sides, wall=walls, plan_deg=angles_deg)
def test_cabinet_shot_against_shapely(
    room: Room, left: Placement, right: Placement, side: Side, wall: Wall, plan_deg: float
) -> None:
    """The axis taken from two corners of the cabinet, stretched, turned, and met with the wall."""
    world = room_with(left, right, room)
    along = {
        Wall.FRONT: ("front-inner", "rear-inner"),
        Wall.BACK: ("rear-inner", "front-inner"),
        Wall.beside(side): ("front-inner", "front-outer"),
        Wall.beside(side.other): ("front-outer", "front-inner"),
    }[wall]
    (x0, y0), (x1, y1) = (world.plan_point(side, name) for name in along)
    heading = math.atan2(y1 - y0, x1 - x0) + math.radians(plan_deg)
    beam = LineString([(x1, y1), (x1 + 1e5 * math.cos(heading), y1 + 1e5 * math.sin(heading))])
    crossing = beam.intersection(LineString(room.wall(wall)))
    shot = ShotKind(side, along[1], AimedAt(wall), Held.CABINET)
    if crossing.is_empty:
        with pytest.raises(ImpossibleShot):
            world.true_distance(shot, (plan_deg, 0.0))
    else:
        assert world.true_distance(shot, (plan_deg, 0.0)) == pytest.approx(
            crossing.distance(Point(x1, y1)), abs=1e-5
        )


def mirrored(world: SimulatedRoom) -> SimulatedRoom:
    """Left and right exchanged about the middle of a 5 m front wall."""
    corners = [(5000 - x, y) for x, y in world.room.corners]
    front_right, front_left, back_left, back_right = corners
    return SimulatedRoom(
        Room(front_left, front_right, back_right, back_left),
        Pair(world.cabinets.right, world.cabinets.left),
        Seat(world.seat.from_front_mm, 5000 - world.seat.from_left_mm),
        Pair(world.standing.right, world.standing.left),
    )


MIRRORED_AIM = {AimedAt.LEFT: AimedAt.RIGHT, AimedAt.RIGHT: AimedAt.LEFT}


@given(
    room=rooms(),
    left=placements,
    right=placements,
    side=sides,
    name=names,
    to=st.sampled_from(AimedAt),
    held=st.sampled_from(Held),
    off_square_deg=st.tuples(angles_deg, angles_deg),
)
def test_the_right_cabinet_is_the_mirror_image_of_the_left(
    room: Room, left: Placement, right: Placement, side: Side, name: str, to: AimedAt,
    held: Held, off_square_deg: tuple[float, float],
) -> None:  # fmt: skip
    world = room_with(left, right, room)
    plan_deg, elevation_deg = off_square_deg
    try:
        here_mm = world.true_distance(ShotKind(side, name, to, held), off_square_deg)
    except ImpossibleShot:
        assume(False)
    there = ShotKind(side.other, name, MIRRORED_AIM.get(to, to), held)
    there_mm = mirrored(world).true_distance(there, (-plan_deg, elevation_deg))
    assert there_mm == pytest.approx(here_mm, abs=1e-5)
