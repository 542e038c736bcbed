"""A round as a file: what is read from it, and how a wrong one is told."""

from __future__ import annotations

import copy
import json
import tomllib
from typing import Any

import pytest

from witnessmark.errors import BadInput
from witnessmark.model import (
    AimedAt,
    Held,
    Meter,
    Placement,
    Room,
    Seat,
    Shot,
    ShotKind,
    Side,
    Tolerance,
    TouchPoint,
)
from witnessmark.store.round_file.read import RoundFile, read_round

FULL = """\
format = "witnessmark round 1"

[room]
width = "5.21 m"
length = "22ft 6in"
height = 2480
temperature = 23.5

[cabinet]
width = "31 cm"
depth = "412 mm"
acoustic_height = "0.985 m"
points = { "plinth-rear" = { inward = 0, back = "45 cm" } }
feet = { "spike" = { inward = "-0.1 m", back = 30 } }

[cabinet.right]
width = 308
points = { "horn" = { inward = 12.5, back = -40 } }

[seat]
from_front = "4.55 m"
from_left = "2.6 m"
ear_height = "1.04 m"

[meter]
repeatability = "0.3 mm"
resolution = "0.1 mm"
zero = "0.5 mm"
scale_ppm = 20

[tolerance]
position = "2.5 mm"
toe_in = 0.4

[target.left]
side = "1.52 m"
setback = "1.87 m"
toe_in = 9.5

[target.right]
side = 1520
setback = 1870
toe_in = -2

[[shot]]
cabinet = "left"
point = "plinth-rear"
to = "front"
held = "wall"
reading = "1.405 m"

[[shot]]
cabinet = "right"
point = "horn"
to = "seat"
held = "point"
reading = 2987
"""

LEAST = """\
format = "witnessmark round 1"
room = { width = 4700, length = 6300 }
cabinet = { width = 250, depth = 380 }
"""


def tables(text: str = FULL) -> dict[str, Any]:
    return tomllib.loads(text)


def changed(value: object, *path: str | int) -> str:
    """The full file as JSON with one value put in its place."""
    whole = tables()
    table: Any = whole
    for key in path[:-1]:
        table = table[key]
    table[path[-1]] = value
    return json.dumps(whole)


def without(*path: str | int) -> str:
    whole = tables()
    table: Any = whole
    for key in path[:-1]:
        table = table[key]
    del table[path[-1]]
    return json.dumps(whole)


def complaint_of(text: str) -> str:
    with pytest.raises(BadInput) as raised:
        read_round(text)
    words = str(raised.value)
    assert words.isprintable()
    assert len(words) < 400
    return words


def test_every_key_is_read() -> None:
    file = read_round(FULL)
    setup = file.setup
    assert setup.room == Room.rectangular(5210, 22.5 * 304.8, 2480)
    assert setup.temperature_c == 23.5
    left, right = setup.cabinets.left, setup.cabinets.right
    assert (left.width_mm, left.depth_mm, left.acoustic_height_mm) == (310, 412, 985)
    assert (right.width_mm, right.depth_mm, right.acoustic_height_mm) == (308, 412, 985)
    assert left.points == {"plinth-rear": TouchPoint(0, 450)}
    assert right.points == left.points | {"horn": TouchPoint(12.5, -40)}
    assert left.feet == right.feet == {"spike": TouchPoint(-100, 30)}
    assert setup.seat == Seat(4550, 2600, 1040)
    assert setup.meter == Meter(0.3, 0.1, 0.5, 20)
    assert setup.tolerance == Tolerance(2.5, 0.4)
    assert setup.targets.left == Placement(1520, 1870, 9.5)
    assert setup.targets.right == Placement(1520, 1870, -2)
    assert file.shots == (
        Shot(ShotKind(Side.LEFT, "plinth-rear", AimedAt.FRONT, Held.WALL), 1405),
        Shot(ShotKind(Side.RIGHT, "horn", AimedAt.SEAT, Held.POINT), 2987),
    )
    assert file.notes == ()


def test_json_and_toml_are_read_alike() -> None:
    assert read_round(json.dumps(tables())) == read_round(FULL)
    assert read_round("\n  " + json.dumps(tables(), indent=2)) == read_round(FULL)


def test_what_is_left_out_has_its_usual_value() -> None:
    file = read_round(LEAST)
    # the seat a third of the length from the back wall, in the middle: common practice, no source
    assert file.setup.seat == Seat(6300 * 2 / 3, 2350, None)
    assert file.setup.meter == Meter(0.5, 1.0, 0.7, 0.0)
    assert file.setup.tolerance == Tolerance(3.0, 0.5)
    assert (file.setup.targets.left, file.setup.targets.right) == (None, None)
    assert file.shots == ()


def test_the_room_may_be_out_of_square() -> None:
    corners = {
        "front_left": [0, 0],
        "front_right": ["5.01 m", 0],
        "back_right": [5023, 6604],
        "back_left": [-18, "6.59 m"],
    }
    room = read_round(changed({"corners": corners}, "room")).setup.room
    assert room == Room((0, 0), (5010, 0), (5023, 6604), (-18, 6590))
    corners["back_left"] = ["-18 mm", 6590]
    assert read_round(changed({"corners": corners}, "room")).setup.room == room


def test_one_target_alone() -> None:
    targets = read_round(without("target", "right")).setup.targets
    assert targets.left == Placement(1520, 1870, 9.5)
    assert targets.right is None


def test_an_override_of_nothing_is_not_passed_over() -> None:
    assert complaint_of(changed(0, "cabinet", "right", "width")).startswith(
        "cabinet.right.width: 0 "
    )
    right = read_round(changed(0, "cabinet", "right", "acoustic_height")).setup.cabinets.right
    assert right.acoustic_height_mm == 0


def test_own_feet_of_one_cabinet_take_the_place_of_both() -> None:
    feet = {"front": {"inward": 0, "back": 20}, "rear": {"inward": 0, "back": 390}}
    cabinets = read_round(changed(feet, "cabinet", "right", "feet")).setup.cabinets
    assert set(cabinets.right.feet) == {"front", "rear"}
    assert set(cabinets.left.feet) == {"spike"}


def test_a_length_that_looks_like_a_slip_is_noted_with_its_key() -> None:
    whole = tables()
    whole["seat"]["from_front"] = "14.6 ft"
    whole["shot"][1]["reading"] = "2.987"
    notes = read_round(json.dumps(whole)).notes
    assert len(notes) == 2
    assert notes[0].startswith("seat.from_front: 14.6 ft was read as decimal feet: 14' 7 3/16\"")
    assert notes[1].startswith("shot 2.reading: 2.987 was read as millimetres")


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("shot", 1, "reading"), 1.512),
        (("shot", 1, "reading"), 2),
        (("seat", "from_front"), 4.4),
        (("seat", "ear_height"), 1),
        (("cabinet", "acoustic_height"), 0.94),
        (("cabinet", "points", "plinth-rear", "back"), 0.42),
        (("cabinet", "feet", "spike", "inward"), -0.1),
    ],
)
@pytest.mark.parametrize("as_text", [False, True], ids=["number", "text"])
def test_a_bare_number_that_may_be_metres_is_noted_whatever_its_type(
    path: tuple[str | int, ...], value: float, as_text: bool
) -> None:
    notes = read_round(changed(str(value) if as_text else value, *path)).notes
    bare = str(abs(value))
    where = ".".join(map(str, path)).replace("shot.1", "shot 2")
    expected = f"{where}: {bare} was read as millimetres; for metres write {bare} m"
    assert notes == (expected,)


@pytest.mark.parametrize("value", [1.9, 2])
def test_a_target_in_bare_metres_is_outside_the_room_and_told_why(value: float) -> None:
    words = complaint_of(changed(value, "target", "left", "setback"))
    assert words.startswith("target.left: ")
    assert words.endswith(
        f"; target.left.setback: {value} was read as millimetres; for metres write {value} m"
    )


def test_a_bare_decimal_of_toml_is_noted() -> None:
    notes = read_round(FULL.replace("reading = 2987", "reading = 1.512")).notes
    assert notes == ("shot 2.reading: 1.512 was read as millimetres; for metres write 1.512 m",)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("meter", "repeatability"), 0.4),
        (("meter", "zero"), "0.7"),
        (("tolerance", "position"), 2.5),
        (("cabinet", "points", "plinth-rear", "inward"), 12.5),
        (("target", "left", "toe_in"), 1.5),
        (("shot", 1, "reading"), 2987.5),
        (("shot", 1, "reading"), 21),
        (("seat", "ear_height"), 0.0),
    ],
)
def test_a_bare_number_that_cannot_be_metres_gets_no_note(
    path: tuple[str | int, ...], value: object
) -> None:
    assert read_round(changed(value, *path)).notes == ()


@pytest.mark.parametrize("value", [5, 5.21, "5", "5.21"])
@pytest.mark.parametrize("key", ["width", "length", "height"])
def test_a_room_of_a_few_millimetres_is_asked_if_it_is_metres(key: str, value: object) -> None:
    assert complaint_of(changed(value, "room", key)) == (
        f'room.{key}: {value} is {value} mm, and no room is so small; for metres write "{value} m"'
    )


def test_corners_and_sizes_in_bare_metres_are_told_so() -> None:
    corners = {
        "front_left": [0, 0],
        "front_right": [5, 0],
        "back_right": [5, 6.6],
        "back_left": [0, 6.6],
    }
    words = complaint_of(changed({"corners": corners}, "room"))
    assert words.endswith('bare numbers are in mm, for metres write "5 m"')
    words = complaint_of(changed(0.262, "cabinet", "width"))
    assert words.endswith('; 0.262 is in mm, for metres write "0.262 m"')


@pytest.mark.parametrize(
    "path",
    [
        ("speaker",),
        ("room", "widht"),
        ("room", "corners", "front"),
        ("cabinet", "heigth"),
        ("cabinet", "right", "toe_in"),
        ("cabinet", "points", "plinth-rear", "up"),
        ("cabinet", "feet", "spike", "side"),
        ("cabinet", "right", "points", "horn", "forward"),
        ("seat", "from_right"),
        ("meter", "scale"),
        ("tolerance", "tilt"),
        ("target", "centre"),
        ("target", "left", "toein"),
    ],
)
def test_an_unknown_key_is_named_at_every_level(path: tuple[str, ...]) -> None:
    whole = tables()
    table = whole
    for key in path[:-1]:
        table = table.setdefault(key, {})
    table[path[-1]] = 1
    if path[1:2] == ("corners",):
        whole["room"].pop("width")
    words = complaint_of(json.dumps(whole))
    assert words.startswith(".".join(path) + ": no such key here; the keys are ")


def test_an_unknown_key_of_a_shot_is_named_with_its_number() -> None:
    words = complaint_of(changed(3, "shot", 1, "distance"))
    known = "cabinet, point, to, held, reading"
    assert words.startswith(f"shot 2.distance: no such key here; the keys are {known}")


@pytest.mark.parametrize(
    ("path", "right"),
    [
        (("format",), 'format = "witnessmark round 1"'),
        (("room",), "a table"),
        (("room", "width"), "a length"),
        (("room", "length"), "a length"),
        (("cabinet",), "a table"),
        (("cabinet", "width"), "a length"),
        (("cabinet", "points", "plinth-rear", "back"), "a length"),
        (("target", "left", "setback"), "a length"),
        (("target", "right", "toe_in"), "a bare number of degrees"),
    ],
)
def test_a_missing_key_is_named(path: tuple[str, ...], right: str) -> None:
    words = complaint_of(without(*path))
    assert words.startswith(".".join(path))
    assert right in words


@pytest.mark.parametrize(
    ("key", "right"),
    [
        ("cabinet", "one of left, right"),
        ("point", "a text"),
        ("to", "one of front, back, left, right, seat, cabinet"),
        ("held", "one of wall, cabinet, point, spot"),
        ("reading", "a length"),
    ],
)
def test_a_shot_without_a_key(key: str, right: str) -> None:
    words = complaint_of(without("shot", 0, key))
    assert words.startswith(f"shot 1.{key} is missing; give it as {right}")


def test_a_cabinet_size_may_stand_on_either_side_but_not_be_missing() -> None:
    whole = tables()
    del whole["cabinet"]["width"]
    assert complaint_of(json.dumps(whole)).startswith(
        "cabinet.width is missing for the left cabinet"
    )
    whole["cabinet"]["left"] = {"width": 299}
    cabinets = read_round(json.dumps(whole)).setup.cabinets
    assert (cabinets.left.width_mm, cabinets.right.width_mm) == (299, 308)


NOT_LENGTHS: list[object] = [
    True,
    None,
    [1],
    {},
    -100_001,
    100_001,
    float("nan"),
    float("inf"),
    10**400,
    "",
    "wide",
    "--2 m",
    "5 cubits",
]


@pytest.mark.parametrize("value", NOT_LENGTHS, ids=repr)
@pytest.mark.parametrize(
    "path",
    [
        ("cabinet", "points", "plinth-rear", "inward"),
        ("tolerance", "position"),
        ("meter", "zero"),
        ("target", "left", "side"),
        ("shot", 0, "reading"),
    ],
    ids=str,
)
def test_what_is_no_length_is_told_with_its_key(path: tuple[str | int, ...], value: object) -> None:
    words = complaint_of(changed(value, *path))
    key = "shot 1.reading" if path[0] == "shot" else ".".join(map(str, path))
    assert words.startswith(f"{key}: ")
    assert " is not a length" in words


def test_a_number_of_thousands_of_digits_is_told_with_its_key() -> None:
    words = complaint_of(FULL.replace("height = 2480", f"height = 0x{'F' * 5000}"))
    assert words.startswith("room.height: so large a number is not a length of 0.5 to 100 m")


@pytest.mark.parametrize("value", [-1, "-2 m"])
def test_a_distance_is_not_negative(value: object) -> None:
    words = complaint_of(changed(value, "shot", 0, "reading"))
    assert words.startswith("shot 1.reading: ")


@pytest.mark.parametrize(
    "value", [True, None, [], {}, "8", "8 deg", 90.5, -90.5, float("nan"), 1e308]
)
def test_what_is_no_angle_is_told_with_its_key(value: object) -> None:
    words = complaint_of(changed(value, "target", "left", "toe_in"))
    assert words.startswith("target.left.toe_in: ")
    assert words.endswith(" is not a bare number of degrees from -90 to 90 such as 8.0")


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        (("room",), 3, "room: must be a table, not a number"),
        (("cabinet",), [], "cabinet: must be a table, not a list"),
        (("shot",), {}, "shot: must be a list of tables, not a table"),
        (("shot", 0), "left", "shot 1: must be a table, not a text"),
        (("shot", 1, "point"), 7, "shot 2.point: must be a text, not a number"),
        (("shot", 0, "cabinet"), False, "shot 1.cabinet: must be one of left, right, not true or"),
        (("shot", 0, "held"), "hand", 'shot 1.held: "hand" is not one of wall, cabinet, point, s'),
        (("shot", 1, "to"), "up", 'shot 2.to: "up" is not one of front, back, left, right, seat'),
        (("shot", 0, "to"), "seat", 'shot 1.to: "seat" cannot be read held = "wall"; it goes to'),
        (("shot", 0, "held"), "spot", 'shot 1.to: "front" cannot be read held = "spot"; it goes'),
        (("shot", 1, "to"), "back", 'shot 2.to: "back" cannot be read held = "point"; it goes t'),
        (("shot", 0, "point"), "horn", 'shot 1.point: the left cabinet has no "horn"; it has fr'),
        (("shot", 1, "to"), "cabinet", 'shot 2.point: the left cabinet has no "horn"; it has fr'),
        (("cabinet", "points"), 3, "cabinet.points: must be a table, not a number"),
        (("cabinet", "points", "plinth-rear"), 3, "cabinet.points.plinth-rear: must be a table"),
        (("cabinet", "feet", "spike", "back"), "?", 'cabinet.feet.spike.back: "?" is not a length'),
        (("cabinet", "feet", "spike", "back"), -1e6, "cabinet.feet.spike.back: -1000000.0 is not"),
        (("cabinet", "depth"), "1 cm", 'cabinet.depth: "1 cm" is not a length of 20 mm to 3 m'),
        (("cabinet", "right", "width"), 4e3, "cabinet.right.width: 4000.0 is not a length of 20"),
        (("tolerance", "position"), 0, "tolerance.position: 0 mm must lie above 0"),
        (("tolerance", "toe_in"), -0.5, "tolerance.toe_in: -0.5 must lie above 0"),
        (("meter", "repeatability"), "1.5 m", "meter.repeatability: 1500 mm must lie between"),
        (("meter", "scale_ppm"), -3, "meter.scale_ppm: -3 is not a bare number of ppm"),
        (("room", "temperature"), -300, "room.temperature: -300 is not a bare number of degrees"),
        (("room", "width"), 300, "room: every wall must be at least 0.5 m long"),
        (("room", "corners"), {}, "room.corners.front_left is missing; give it as a list of 2"),
        (("format",), "witnessmark round 2", "format: this is not a round file; it begins with"),
        (("format",), 1, "format: this is not a round file; it begins with"),
    ],
    ids=str,
)
def test_what_is_wrong_is_told_with_its_key_and_what_would_be_right(
    path: tuple[str | int, ...], value: object, words: str
) -> None:
    assert complaint_of(changed(value, *path)).startswith(words)


def test_width_and_corners_together_are_refused() -> None:
    corner = {"front_left": [0, 0], "front_right": [5000, 0]}
    corners = corner | {"back_right": [5000, 6000], "back_left": [0, 6000]}
    words = complaint_of(changed(corners, "room", "corners"))
    assert words == "room: give either width and length or corners, not both"


def test_corners_have_two_coordinates_and_go_round_the_room() -> None:
    corners = {
        "front_left": [0, 0],
        "front_right": [5000, 0],
        "back_right": [5000, 6000],
        "back_left": [0, 6000],
    }
    crossed = corners | {"back_right": [0, 6000], "back_left": [5000, 6000]}
    assert complaint_of(changed({"corners": crossed}, "room")).startswith("room: the corners ")
    flat = corners | {"front_right": [5000, 0, 0]}
    assert complaint_of(changed({"corners": flat}, "room")) == (
        "room.corners.front_right: must be a list of 2 values, not 3"
    )
    far = corners | {"front_right": [1e200, 0]}
    assert complaint_of(changed({"corners": far}, "room")).startswith("room.corners.front_right")


@pytest.mark.parametrize("name", ["", "  ", "a\nb", "\x1b[2J"])
def test_a_name_that_cannot_be_shown_is_refused(name: str) -> None:
    words = complaint_of(changed({name: {"inward": 0, "back": 0}}, "cabinet", "feet"))
    assert words.startswith("cabinet.feet: ")
    assert "is not a name" in words


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "format: this is not a round file"),
        ("{}", "format: this is not a round file"),
        ("{", "the file cannot be read as JSON: "),
        ('{"format": "witnessmark round 1",}', "the file cannot be read as JSON: "),
        ("[room", "the file cannot be read as TOML (JSON would begin with a brace): "),
        ("width = 3\nwidth = 4", "the file cannot be read as TOML "),
        ("a = " + "[" * 100_000, "the file cannot be read as TOML "),
        ('{"a": ' + "[" * 100_000, "the file cannot be read as JSON: it is nested too deeply"),
        ("[room]\nwidth." + ".".join("a" * 1500) + " = 1", "the file cannot be read as TOML "),
        (
            "a = " + "9" * 5000,
            "the file cannot be read as TOML (JSON would begin with a brace): it holds a number of",
        ),
        (
            '{"a": ' + "9" * 5000 + "}",
            "the file cannot be read as JSON: it holds a number of thousands of digits",
        ),
        ('{"a": "\\ud800"}', "the file cannot be read as JSON: "),
        ('{"room": {}, "room": {}}', "room: this key is twice in one table"),
        ("\x00\x01", "the file cannot be read as TOML "),
    ],
    ids=lambda text: text[:20],
)
def test_a_text_that_is_no_round_is_told(text: str, words: str) -> None:
    assert complaint_of(text).startswith(words)


def test_a_syntax_error_tells_its_line() -> None:
    assert "line 5" in complaint_of(FULL.replace('length = "22ft 6in"', "length ="))
    assert "line 3" in complaint_of('{"format": "witnessmark round 1",\n"room": {},\n"cabinet"}')


def test_reading_does_not_change_what_it_is_given() -> None:
    whole = tables()
    before = copy.deepcopy(whole)
    first: RoundFile = read_round(json.dumps(whole))
    assert whole == before
    assert read_round(json.dumps(whole)) == first
