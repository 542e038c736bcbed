"""The room of a round file: lines instead of walls, what stands proud, what is kept clear."""

from __future__ import annotations

import json

import pytest
from shapely import Polygon
from shapely.affinity import rotate, translate

from witnessmark.errors import BadInput
from witnessmark.model import (
    AimedAt,
    Held,
    KeepClear,
    Room,
    Shot,
    ShotKind,
    Side,
    TouchPoint,
    Wall,
    WallOffset,
)
from witnessmark.placing.judge import appraise
from witnessmark.store.round_file.read import RoundFile, read_round

ROOM = """\
format = "witnessmark round 1"
[room]
width = "5 m"
length = "6 m"
"""
REST = """
[cabinet]
width = 262
depth = 391
points = { "terminal" = { inward = 0, back = 391, height = "21 cm" } }
"""
SHOT = """
[[shot]]
cabinet = "right"
point = "rear-outer"
to = "right"
held = "wall"
height = "15 cm"
reading = "1.4 m"
"""
ZONE = '{ name = "rug", from_left = [0, 900], from_front = [0, 900] }'


def read(keys: str, rest: str = "") -> RoundFile:
    return read_round(ROOM + keys + REST + rest)


def complaint_of(keys: str, rest: str = "") -> str:
    with pytest.raises(BadInput) as caught:
        read(keys, rest)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_a_room_without_these_keys_is_as_it_was() -> None:
    room = read("").setup.room
    assert room == Room.rectangular(5000.0, 6000.0)
    assert (room.datum, room.offsets, room.keep_clear) == ((), (), ())


def test_sides_without_a_wall_are_named() -> None:
    room = read('datum = ["right", "back"]').setup.room
    assert room.datum == (Wall.RIGHT, Wall.BACK)
    assert room.corners == Room.rectangular(5000.0, 6000.0).corners


def test_a_line_is_entered_by_the_distances_of_its_ends() -> None:
    room = read(
        'datum = ["back", '
        '{ wall = "right", first = { left = "4.9 m" }, second = { left = 5100, back = 0 } }]'
    ).setup.room
    assert room.datum == (Wall.BACK, Wall.RIGHT)
    assert room.corners == ((0, 0), (4900, 0), (5100, 6000), (0, 6000))


def test_what_stands_proud_of_a_wall_is_read() -> None:
    room = read(
        'offsets = [{ wall = "front", proud = "18 mm", to_height = "12 cm" }, '
        '{ wall = "left", proud = 110, from_height = 150, to_height = 700 }]'
    ).setup.room
    assert room.offsets == (
        WallOffset(Wall.FRONT, 18.0, 0.0, 120.0),
        WallOffset(Wall.LEFT, 110.0, 150.0, 700.0),
    )


def test_floor_to_be_kept_clear_is_read() -> None:
    room = read(
        'keep_clear = [{ name = "door swing", corners = [[0, 5000], ["0.9 m", 5000], [0, 5900]] }, '
        '{ name = "hearth", from_left = ["2 m", "3 m"], from_front = [-100, "0.6 m"] }]'
    ).setup.room
    assert room.keep_clear == (
        KeepClear("door swing", ((0, 5000), (900, 5000), (0, 5900))),
        KeepClear.rectangle("hearth", (2000, 3000), (-100, 600)),
    )


def test_heights_of_points_and_shots_are_read() -> None:
    round_file = read("", SHOT)
    kind = ShotKind(Side.RIGHT, "rear-outer", AimedAt.RIGHT, Held.WALL, 150.0)
    assert round_file.shots == (Shot(kind, 1400.0),)
    terminal = round_file.setup.cabinets.left.points["terminal"]
    assert terminal == TouchPoint(0.0, 391.0, 210.0)


def test_a_skirting_board_is_taken_off_what_was_read() -> None:
    """Two of three square shots met a board 18 mm thick; the outer corners are 131 mm out."""
    shots = "".join(
        f'[[shot]]\ncabinet = "right"\npoint = "{point}"\nto = "{to}"\nheld = "wall"\n'
        f"height = {height}\nreading = {reading}\n"
        for point, to, height, reading in (
            ("rear-outer", "right", 50, 1251.0),
            ("rear-outer", "front", 50, 1491.0),
            ("rear-inner", "front", 200, 1509.0),
        )
    )
    keys = "offsets = [" + ", ".join(
        f'{{ wall = "{wall}", proud = 18, to_height = 120 }}' for wall in ("front", "right")
    )
    round_file = read(keys + "]", shots)
    placing = appraise(round_file.setup, round_file.shots).cabinets[Side.RIGHT].measured
    assert placing.side_mm == pytest.approx(1251 + 18 + 131)
    assert placing.setback_mm == pytest.approx(1509 + 391)
    assert placing.toe_in_deg == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ('datum = ["top"]', 'room.datum 1: "top" is not one of front, back, left, right'),
        (
            'datum = "right"',
            "room.datum: must be a list, each one of front, back, left, right, not a text",
        ),
        (
            'datum = ["right", "right"]',
            "room.datum: the right line is named twice; name it once",
        ),
        (
            'datum = [{ wall = "right", first = { up = 1 }, second = { left = 1 } }]',
            "room.datum 1.first.up: no such key here; the keys are front, back, left, right",
        ),
        (
            'datum = [{ wall = "right", first = { left = 4900 } }]',
            "room.datum 1.second is missing; give it as a table",
        ),
        (
            'datum = [{ wall = "right", first = { left = 4900 }, second = { left = "5 ells" } }]',
            'room.datum 1.second.left: "5 ells" is not a length',
        ),
        (
            (
                'datum = [{ wall = "right", first = { left = 4900, front = 900, back = 5200 }, '
                "second = { left = 4900 } }]"
            ),
            (
                "room.datum: the right datum line, its end by the front wall, cannot be 900 mm "
                "from the front wall, 5200 mm from the back wall and 4900 mm from the left wall: "
                "these contradict each other; measure them again"
            ),
        ),
        (
            'datum = ["left"]\noffsets = [{ wall = "left", proud = 10, to_height = 100 }]',
            (
                "room.offsets: nothing sticks out from the left line, which is a datum line and "
                "no wall"
            ),
        ),
        (
            'offsets = [{ wall = "left", proud = 0, to_height = 100 }]',
            "room.offsets: 0 mm out from the left wall must lie above 0, to 2 m",
        ),
        (
            'offsets = [{ wall = "left", proud = 10 }]',
            "room.offsets 1.to_height is missing; give it as a length of 0 to 100 m",
        ),
        (
            'offsets = [{ wall = "left", thick = 10, to_height = 100 }]',
            (
                "room.offsets 1.thick: no such key here; the keys are wall, proud, to_height, "
                "from_height"
            ),
        ),
        ("keep_clear = [1]", "room.keep_clear 1: must be a table, not a number"),
        (
            'keep_clear = [{ name = "rug" }]',
            (
                'room.keep_clear: give "rug" either corners or both from_left and from_front, two '
                "lengths each"
            ),
        ),
        (
            (
                'keep_clear = [{ name = "rug", corners = [[0, 0], [1000, 0], [0, 1000]], '
                "from_left = [0, 1] }]"
            ),
            (
                'room.keep_clear: give "rug" either corners or both from_left and from_front, two '
                "lengths each"
            ),
        ),
        (
            f"keep_clear = [{ZONE}{f', {ZONE}' * 64}]",
            "room.keep_clear: there are too many zones; give 64 at most",
        ),
        (
            'keep_clear = [{ name = "rug", corners = [[0, 0], [1000, 0]] }]',
            'room.keep_clear: "rug" encloses no floor; give three or more corners that go round it',
        ),
        (
            'keep_clear = [{ name = "rug", corners = [[0, 0], [1000, 0], [0]] }]',
            "room.keep_clear 1.corners 3: must be a list of 2 values, not 1",
        ),
    ],
)
def test_what_is_wrong_is_told_with_its_key(keys: str, told: str) -> None:
    assert complaint_of(keys).startswith(told)


def test_a_beam_to_a_line_is_refused_with_the_number_of_its_shot() -> None:
    beam = SHOT.replace('"wall"', '"cabinet"')
    assert complaint_of('datum = ["right"]', SHOT + beam) == (
        "shot 2.held: the beam of a meter on the cabinet cannot meet the right datum line; measure "
        'square to the line with a tape, held = "wall"'
    )


@pytest.mark.parametrize(("side", "target"), [("left", 100), ("right", 100)])
def test_a_target_outside_the_room_is_refused(side: str, target: int) -> None:
    table = f"[target.{side}]\nside = {target}\nsetback = 1900\ntoe_in = 0\n"
    assert complaint_of("", table) == (
        f"target.{side}: the {side} cabinet would stand outside the room, its rear-outer 31 mm "
        f"beyond the {side} wall; give it a place in the room"
    )
    assert read(f'datum = ["{side}"]', table).setup.room.datum == (Wall(side),)


def test_a_note_on_a_length_names_its_place() -> None:
    notes = read('offsets = [{ wall = "left", proud = "0.5 ft", to_height = 900 }]').notes
    assert len(notes) == 1
    assert notes[0].startswith("room.offsets 1.proud: 0.5 ft was read as decimal feet")


CORNERS = ((0.0, 0.0), (5000.0, 0.0), (5100.0, 6000.0), (-40.0, 6100.0))
HEARTH = ((0.0, 2000.0), (600.0, 2000.0), (600.0, 3000.0), (0.0, 3000.0))


def elsewhere(corners: tuple[tuple[float, float], ...], turn: float) -> list[list[float]]:
    """The same corners in the plan of somebody else, by shapely."""
    moved = translate(rotate(Polygon(corners), turn, origin=(0, 0)), -731.0, 1250.0)
    return [list(corner) for corner in list(moved.exterior.coords)[:-1]]


def carried_off(turn: float | None) -> str:
    """A round in that room, whose corners are carried off."""
    names = ("front_left", "front_right", "back_right", "back_left")
    corners, hearth = (
        [list(corner) for corner in given] if turn is None else elsewhere(given, turn)
        for given in (CORNERS, HEARTH)
    )
    tables = {
        "format": "witnessmark round 1",
        "room": {
            "corners": dict(zip(names, corners, strict=True)),
            "keep_clear": [
                {"name": "hearth", "corners": hearth},
                {"name": "door", "from_left": [0, 900], "from_front": [5000, 5900]},
            ],
            "datum": [{"wall": "right", "first": {"left": 4900}, "second": {"left": 5100}}],
        },
        "cabinet": {"width": 262, "depth": 391},
        "seat": {"from_front": 4400, "from_left": 2500},
        "target": {"left": {"side": 1450, "setback": 1900, "toe_in": 8}},
    }
    return json.dumps(tables)


@pytest.mark.parametrize("turn", [0.0, 0.4, -37.0, 180.0])
def test_corners_of_another_plan_are_moved_into_the_plan_frame_with_a_note(turn: float) -> None:
    here, there = read_round(carried_off(None)), read_round(carried_off(turn))
    assert here.notes == ()
    (note,) = there.notes
    assert note.startswith("room.corners: all were moved by (731, -1250) mm and turned by ")
    pairs = zip(here.setup.room.corners, there.setup.room.corners, strict=True)
    for expected, corner in pairs:
        assert corner == pytest.approx(expected, abs=1e-6)
    for expected, zone in zip(here.setup.room.keep_clear, there.setup.room.keep_clear, strict=True):
        for one, other in zip(expected.corners, zone.corners, strict=True):
            assert other == pytest.approx(one, abs=1e-6)
    assert there.setup.seat == here.setup.seat
    assert there.setup.targets == here.setup.targets


def test_corners_in_mirrored_order_are_refused() -> None:
    mirrored = carried_off(0.4).replace("front_left", "x").replace("front_right", "front_left")
    with pytest.raises(BadInput, match="in that order"):
        read_round(mirrored.replace('"x"', '"front_right"'))
