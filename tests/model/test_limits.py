"""A figure is taken or refused alike at each door: a record, a store, a round file, a field."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

import msgspec
import pytest
from msgspec import inspect

from witnessmark.app.forms.cabinets import (
    DETAILS,
    HELD_AT,
    PLACE,
    TAKING,
    TARGETS,
    placement,
    sizes,
)
from witnessmark.app.forms.fittings import FITTINGS
from witnessmark.app.forms.form import Form, FormView
from witnessmark.app.forms.meter import CHECK, EDGE, ERRORS, TOLERANCE
from witnessmark.app.forms.room import ROOM
from witnessmark.errors import BadInput
from witnessmark.layout.start import InLane
from witnessmark.lengths import Units
from witnessmark.locate.arrival import speed_of_sound_m_s
from witnessmark.locate.tilt import tilt_from_angle
from witnessmark.meters.check import Meaning, standard_uncertainty_mm
from witnessmark.meters.json_lines import from_json_line
from witnessmark.meters.learning.samples import check_known
from witnessmark.model import (
    Cabinet,
    Corner,
    FloorMark,
    Inclinometer,
    Meter,
    Pair,
    PlumbReadings,
    Room,
    Seat,
    Setup,
    Side,
    Tolerance,
    Wall,
    WallOffset,
    limits,
)
from witnessmark.model.limits import Limit
from witnessmark.session.room_contents import PROUD
from witnessmark.store.records import KINDS
from witnessmark.store.round_file.read import FORMAT, read_round

Door = Callable[[float], object]
ROUND = {
    "format": FORMAT,
    "room": {"width": 5360, "length": 7240},
    "cabinet": {"width": 262, "depth": 391},
}
LINE = {"at": "2026-05-17T19:30:00Z", "meter": "m", "raw": ""}


def is_open(door: Door, value: float) -> bool:
    try:
        door(value)
    except (BadInput, msgspec.ValidationError):
        return False
    return True


def in_file(*path: str) -> Door:
    """Returns the door of a round file: the value stands at ``path`` in it."""

    def door(value: float) -> object:
        tables = json.loads(json.dumps(ROUND))
        table = tables
        for key in path[:-1]:
            table = table.setdefault(key, {})
        table[path[-1]] = value
        if path[:2] == ("target", "left"):
            table |= {"side": 1450, "setback": 1900} | {path[-1]: value}
        return read_round(json.dumps(tables))

    return door


def in_store(record: msgspec.Struct, field: str) -> Door:
    """Returns the door of a store and of a room's file: a record as JSON."""

    def door(value: float) -> object:
        plain = msgspec.to_builtins(record) | {field: value}
        return msgspec.json.decode(json.dumps(plain), type=type(record))

    return door


def in_field(form: Form[Any], name: str) -> Door:
    """Returns the door of a screen: the value is typed into the row of this name."""

    def door(value: float) -> object:
        unit = "" if name.endswith("_deg") or not name.endswith("_mm") else " mm"
        return FormView(form, Units.TENTH_MM).field(name).read(f"{value:.6f}{unit}")

    return door


class Case(NamedTuple):
    """A figure, its limit, and all doors by which it comes in."""

    name: str
    limit: Limit
    doors: dict[str, Door]


def of_meter(field: str, form: Form[Any], *doors: tuple[str, Door]) -> Case:
    return Case(
        field,
        Meter.LIMITS[field],
        {
            "record": lambda value: Meter(**{field: value}),
            "store": in_store(Meter(), field),
            "field": in_field(form, field),
            **dict(doors),
        },
    )


def of_tolerance(field: str, form: Form[Any], row: str, *doors: tuple[str, Door]) -> Case:
    return Case(
        f"tolerance.{field}",
        Tolerance.LIMITS[field],
        {
            "record": lambda value: Tolerance(**{field: value}),
            "store": in_store(Tolerance(), field),
            "field": in_field(form, row),
            **dict(doors),
        },
    )


def of_size(field: str, key: str) -> Case:
    return Case(
        field,
        limits.CABINET_SIZE,
        {
            "record": lambda value: msgspec.structs.replace(Cabinet(262, 391), **{field: value}),
            "store": in_store(Cabinet(262, 391), field),
            "file": in_file("cabinet", key),
            "left field": in_field(sizes(Side.LEFT), field),
            "right field": in_field(sizes(Side.RIGHT), field),
        },
    )


def of_offset(field: str, limit: Limit) -> Case:
    usual = {"proud_mm": 15.0, "from_height_mm": 0.0, "to_height_mm": 20_000.0}
    return Case(
        field,
        limit,
        {
            "record": lambda value: WallOffset(Wall.LEFT, **usual | {field: value}),
            "store": in_store(WallOffset(Wall.LEFT, **usual), field),
            "field": in_field(FITTINGS[PROUD], field),
        },
    )


def plumb(value: float) -> object:
    return PlumbReadings(100, 110, value)


CASES = [
    of_size("width_mm", "width"),
    of_size("depth_mm", "depth"),
    of_meter("repeatability_mm", ERRORS, ("file", in_file("meter", "repeatability"))),
    of_meter("resolution_mm", ERRORS, ("file", in_file("meter", "resolution"))),
    of_meter("zero_mm", ERRORS, ("file", in_file("meter", "zero"))),
    of_meter("scale_ppm", ERRORS, ("file", in_file("meter", "scale_ppm"))),
    of_meter("flush_deg", ERRORS),
    of_meter("zero_correction_mm", ERRORS),
    of_meter("edge_offset_mm", EDGE),
    of_tolerance(
        "position_mm", TOLERANCE, "position_mm", ("file", in_file("tolerance", "position"))
    ),
    of_tolerance("toe_in_deg", TOLERANCE, "toe_in_deg", ("file", in_file("tolerance", "toe_in"))),
    of_tolerance("tilt_deg", TARGETS, "tolerance_deg"),
    Case(
        "air",
        limits.AIR,
        {
            "file": in_file("room", "temperature"),
            "field": in_field(ROOM, "temperature_c"),
            "formula": speed_of_sound_m_s,
        },
    ),
    Case(
        "toe-in of a target",
        limits.TOE_IN,
        {
            "file": in_file("target", "left", "toe_in"),
            "field": in_field(placement(Side.LEFT), "toe_in_deg"),
            "layout": lambda value: InLane(2000, value),
        },
    ),
    Case(
        "tilt shown",
        limits.TILT_SHOWN,
        {"angle": lambda value: tilt_from_angle(value, Inclinometer())},
    ),
    Case("tilt apart", limits.TILT_APART, {"record": plumb, "field": in_field(TAKING, "apart_mm")}),
    Case(
        "maker's figure",
        limits.MAKERS_FIGURE,
        {
            "check": lambda value: standard_uncertainty_mm(value, Meaning.LIMIT),
            "field": in_field(CHECK, "figure_mm"),
        },
    ),
    Case(
        "reading",
        limits.DISTANCE,
        {
            "line": lambda value: from_json_line(
                json.dumps(
                    {"distance_mm": value, "at": "2026-05-17T19:30:00Z", "meter": "m", "raw": ""}
                )
            )
        },
    ),
    Case("known distance", limits.KNOWN_DISTANCE, {"lesson": lambda v: check_known([v, 1000])}),
    of_offset("proud_mm", limits.PROUD),
    Case(
        "mark on a wall",
        limits.LENGTH,
        {"record": lambda value: FloorMark(Corner.FRONT_LEFT, Wall.FRONT, value)},
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_just_in_is_taken_and_just_out_refused_at_each_door(case: Case) -> None:
    least, most = case.limit.least, case.limit.most
    values = {
        least - 1e-3: False,
        least: not case.limit.excludes_least,
        least + 1e-3: True,
        most - 1e-3: True,
        most: True,
        most + 1e-3: False,
    }
    answers = {name: {v: is_open(door, v) for v in values} for name, door in case.doors.items()}
    assert answers == dict.fromkeys(case.doors, values)


@pytest.mark.parametrize(
    "door",
    [
        lambda value: Room.rectangular(value, 7240),
        in_file("room", "width"),
        in_field(ROOM, "width_mm"),
        in_field(ROOM, "diagonal_mm"),
    ],
)
def test_no_side_of_a_room_is_shorter_than_half_a_metre(door: Door) -> None:
    assert is_open(door, limits.ROOM_SIDE.least)
    assert not is_open(door, limits.ROOM_SIDE.least - 1e-3)


def test_an_error_whose_square_is_0_has_no_weight() -> None:
    for field in ("repeatability_mm", "zero_mm", "scale_ppm"):
        with pytest.raises(BadInput, match=r"1e-200 \w+ must be 0 or at least 1e-100"):
            Meter(**{field: 1e-200})
        assert Meter(**{field: 0.0}) != Meter(**{field: 1e-9})


def test_what_is_no_number_lies_in_no_range() -> None:
    found = [value for value in vars(limits).values() if isinstance(value, Limit)]
    assert len(found) > 20
    for limit in found:
        assert not any(map(limit.admits, (math.nan, math.inf, -math.inf)))
        assert limit.least < limit.most


@pytest.mark.parametrize(
    ("limit", "value", "words"),
    [
        (limits.CABINET_SIZE, 19.0, "it: 19 mm must lie between 20 mm and 3 m"),
        (limits.METER_SHIFT, 1001.0, "it: 1001 mm must lie between -1 m and 1 m"),
        (limits.POSITION_TOLERANCE, 0.0, "it: 0 mm must lie above 0, to 1 m"),
        (limits.TOE_IN, 91.0, "it: 91 must lie between -90 and 90 degrees"),
        (limits.SCALE, -3.0, "it: -3 ppm must lie between 0 and 100000"),
        (limits.AIR, 51.0, "it: 51 degrees Celsius must lie between -20 and 50"),
    ],
)
def test_a_range_is_told_in_its_unit(limit: Limit, value: float, words: str) -> None:
    with pytest.raises(BadInput) as caught:
        limit.check("it", value)
    assert str(caught.value) == words


def figures(kind: object, of: type, field: str, limit: Limit) -> Iterator[tuple[str, Limit]]:
    """Every number of a kind of record, by its field, with the limit that it is held to."""
    if isinstance(kind, inspect.FloatType):
        yield f"{of.__name__}.{field}", limit
    elif isinstance(kind, inspect.StructType):
        for one in kind.fields:
            inner = limits.limit_of(kind.cls, one.name, limit)
            yield from figures(one.type, kind.cls, one.name, inner)
    elif isinstance(kind, inspect.UnionType):
        for one in kind.types:
            yield from figures(one, of, field, limit)
    elif isinstance(kind, inspect.DictType):
        yield from figures(kind.value_type, of, field, limit)
    elif isinstance(kind, inspect.VarTupleType):
        yield from figures(kind.item_type, of, field, limit)
    elif isinstance(kind, inspect.TupleType):
        for one in kind.item_types:
            yield from figures(one, of, field, limit)


def test_no_figure_of_any_record_is_held_to_nothing_but_the_widest_limit() -> None:
    found = [
        figure
        for kind in KINDS
        for figure in figures(inspect.type_info(kind.record), kind.record, "", limits.CHOICE)
    ]
    assert len({name for name, _ in found}) > 40
    assert not {name for name, limit in found if limit is limits.CHOICE}


# --- narrower where a person types than where what was written before is opened


def with_knob(key: str) -> Door:
    def door(value: float) -> object:
        tables = json.loads(json.dumps(ROUND))
        tables["cabinet"]["points"] = {"knob": {"inward": 0, "back": 10} | {key: value}}
        return read_round(json.dumps(tables))

    return door


@pytest.mark.parametrize(
    ("typed", "opened", "values"),
    [
        (
            in_field(sizes(Side.LEFT), "acoustic_height_mm"),
            in_file("cabinet", "acoustic_height"),
            (0.0, 49.0, 3001.0, 100_000.0),
        ),
        (in_field(ROOM, "height_mm"), in_file("room", "height"), (101.0, 999.0)),
        (in_field(PLACE, "inward_mm"), with_knob("inward"), (-4001.0, 4001.0)),
        (in_field(PLACE, "back_mm"), with_knob("back"), (-4001.0, 4001.0)),
        (in_field(HELD_AT, "height_mm"), with_knob("height"), (3001.0, 100_000.0)),
    ],
)
def test_a_file_from_before_opens_with_what_is_no_longer_typed(
    typed: Door, opened: Door, values: tuple[float, ...]
) -> None:
    for value in values:
        assert not is_open(typed, value)
        assert is_open(opened, value)


def test_a_room_has_a_height_in_a_round_file_too() -> None:
    with pytest.raises(BadInput, match=r"room.height: 0 is not a length"):
        in_file("room", "height")(0)


def test_a_store_from_before_opens_with_any_acoustic_height_and_air() -> None:
    corners = Room.rectangular(5360, 7240)
    setup = Setup(corners, Pair(Cabinet(262, 391), Cabinet(262, 391)), Seat(4400, 2680))
    assert is_open(in_store(setup, "temperature_c"), 51.0)
    assert is_open(in_store(Cabinet(262, 391), "acoustic_height_mm"), 5000.0)
    assert not is_open(in_field(DETAILS, "straightedge_mm"), 4001.0)
    assert not is_open(in_store(Cabinet(262, 391), "straightedge_mm"), 4001.0)
