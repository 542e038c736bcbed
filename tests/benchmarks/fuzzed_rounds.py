"""Round files for the fuzzing, and a second opinion on every figure that is read from one."""

from __future__ import annotations

import itertools
import json
import math
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import tomli_w
from damaged_files import Fed, Once, check_refusal, damaged, drawn_length, is_same, length_mm
from numpy.random import Generator

from witnessmark.cli.sources import round_text
from witnessmark.errors import TooFewShots, WitnessmarkError
from witnessmark.model import Cabinet, PlanPoint, Side
from witnessmark.placing.judge import appraise
from witnessmark.report.solve import answer
from witnessmark.store.round_file.read import RoundFile, read_round

LIMITS: Final = {
    **dict.fromkeys(("from_front", "from_left", "ear_height", "side", "setback"), (0, 100_000)),
    **dict.fromkeys(("reading", "height", "acoustic_height"), (0, 100_000)),
    **dict.fromkeys(("x", "y", "inward", "back"), (-100_000, 100_000)),
    **dict.fromkeys(("width", "depth"), (20, 3000)),
    **dict.fromkeys(("repeatability", "resolution", "zero"), (0, 1000)),
    **dict.fromkeys(("from_height", "to_height"), (0, 20_000)),
    "scale_ppm": (0, 100_000),
    "position": (1e-300, 1000),
    "tolerance.toe_in": (1e-300, 45),
    "proud": (1e-300, 2000),
    "toe_in": (-90, 90),
    "temperature": (-20, 50),
}
"""What each figure may be, least and most."""
DEFAULTS: Final = {
    "temperature": 20.0,
    "repeatability": 0.5,
    "resolution": 1.0,
    "zero": 0.7,
    "scale_ppm": 0.0,
    "position": 3.0,
    "tolerance.toe_in": 0.5,
    "height": 0.0,
    "from_height": 0.0,
}
DASHES: Final = "-−‐‑‒–—－"
CORNERS: Final = ("front_left", "front_right", "back_right", "back_left")
WALLS: Final = ("front", "back", "left", "right")


def rounds(folder: Path) -> Once:
    """Round files, damaged, read from a folder."""
    file = folder / "round.toml"

    def once(rng: Generator) -> Fed:
        data = damaged(sound_round(rng), sound_round(rng), rng)
        file.write_bytes(data)
        try:
            read = read_round(round_text(str(file)))
        except WitnessmarkError as error:
            check_refusal(error, data)
            return Fed(len(data))
        if rng.random() < 0.1:
            check_solved(read, data)
        return Fed(len(data), check_round(read, data))

    return once


def sound_round(rng: Generator) -> bytes:
    """A round file, as TOML or JSON."""
    tables = drawn_tables(rng)
    if rng.random() < 0.3:
        return json.dumps(tables, indent=1, ensure_ascii=rng.random() < 0.5).encode()
    return tomli_w.dumps(tables).encode()


def drawn_tables(rng: Generator) -> dict[str, Any]:
    """The tables of a round file, each of its features at times."""

    def maybe(share: float, **values: object) -> dict[str, Any]:
        return values if rng.random() < share else {}

    def mm(least: float, most: float) -> object:
        return drawn_length(rng, least, most)

    def points(*names: str) -> dict[str, Any]:
        return {
            name: {"inward": mm(-300, 300), "back": mm(-50, 500)} | maybe(0.3, height=mm(0, 900))
            for name in names
        }

    def one_cabinet() -> dict[str, Any]:
        own = maybe(0.7, width=mm(200, 400)) | maybe(0.7, depth=mm(200, 500))
        own |= maybe(0.4, acoustic_height=mm(300, 1200)) | maybe(0.2, points=points("horn"))
        return own | maybe(0.2, feet=points("front", "rear"))

    cabinet = {"width": mm(200, 400), "depth": mm(250, 500)}
    cabinet |= maybe(0.5, acoustic_height=mm(300, 1200)) | maybe(0.4, points=points("plinth-rear"))
    cabinet |= maybe(0.3, feet=points("spike a", "spike b", "ß.1"))
    cabinet |= maybe(0.3, left=one_cabinet()) | maybe(0.3, right=one_cabinet())
    seat = maybe(0.8, from_front=mm(3000, 5000)) | maybe(0.8, from_left=mm(2000, 3000))
    meter = maybe(0.6, repeatability=mm(0.2, 2), resolution=mm(0.1, 2)) | maybe(0.6, zero=mm(0, 2))
    tables = {"format": "witnessmark round 1", "room": _drawn_room(rng), "cabinet": cabinet}
    tables |= maybe(0.8, seat=seat | maybe(0.6, ear_height=mm(900, 1200)))
    tables |= maybe(0.7, meter=meter | maybe(0.5, scale_ppm=int(rng.integers(0, 300))))
    tables |= maybe(0.6, tolerance={"position": mm(1, 9), "toe_in": float(rng.uniform(0.1, 2))})
    targets = {
        side: {"side": mm(1000, 1700), "setback": mm(1000, 2200), "toe_in": int(rng.integers(20))}
        for side in Side
        if rng.random() < 0.7
    }
    return tables | maybe(0.9, target=targets, shot=_drawn_shots(rng))


def _drawn_room(rng: Generator) -> dict[str, Any]:
    def mm(least: float, most: float) -> object:
        return drawn_length(rng, least, most)

    def pair(x: float, y: float) -> list[object]:
        return [mm(x - 20, x + 20), mm(y - 20, y + 20)]

    width, length = float(rng.uniform(3500, 9000)), float(rng.uniform(4500, 9000))
    room: dict[str, Any] = {"width": mm(width, width), "length": mm(length, length)}
    if rng.random() < 0.4:
        x, y = (0.0, 0.0) if rng.random() < 0.5 else tuple(rng.uniform(-9e4, 9e4, size=2).tolist())
        places = ((x, y), (x + width, y), (x + width, y + length), (x, y + length))
        plan = {name: pair(*at) for name, at in zip(CORNERS, places, strict=True)}
        if rng.random() < 0.5:
            plan["front_left"] = [0, 0]
        room = {"corners": plan}
    if rng.random() < 0.5:
        room |= {"height": mm(2200, 3000), "temperature": float(rng.uniform(15, 28))}
    if rng.random() < 0.3:
        wall = str(rng.choice(WALLS))
        room["datum"] = [wall if rng.random() < 0.5 else _drawn_line(wall, width, length, rng)]
    if rng.random() < 0.3:
        proud = {"wall": str(rng.choice(WALLS)), "proud": mm(5, 90), "to_height": mm(200, 900)}
        room["offsets"] = [proud | ({"from_height": mm(0, 90)} if rng.random() < 0.5 else {})]
    if rng.random() < 0.3:
        rug = {"name": "door swing", "from_left": pair(100, 900), "from_front": pair(200, 1200)}
        bent = {"name": "rug", "corners": [pair(500, 500), pair(900, 520), pair(700, 1200)]}
        room["keep_clear"] = [rug, bent] if rng.random() < 0.5 else [bent]
    return room


def _drawn_line(wall: str, width: float, length: float, rng: Generator) -> dict[str, Any]:
    opposite = dict(zip(WALLS, ("back", "front", "right", "left"), strict=True))[wall]
    across = length if wall in ("front", "back") else width
    first, second = ("left", "right") if wall in ("front", "back") else ("front", "back")
    ends = {}
    for name, neighbour in (("first", first), ("second", second)):
        end = {opposite: drawn_length(rng, across - 700, across - 500)}
        ends[name] = end | ({neighbour: drawn_length(rng, 0, 500)} if rng.random() < 0.5 else {})
    return {"wall": wall} | ends


def _drawn_shots(rng: Generator) -> list[dict[str, Any]]:
    corners = ("front-inner", "front-outer", "rear-inner", "rear-outer")
    shots = []
    for side, point in itertools.product(Side, corners):
        if rng.random() < 0.3:
            continue
        kind: dict[str, Any] = {
            "to": str(rng.choice(WALLS)),
            "held": str(rng.choice(["wall", "cabinet"])),
        }
        if rng.random() < 0.2:
            kind = {"to": str(rng.choice(["seat", "cabinet"])), "held": "point"}
        if rng.random() < 0.1:
            kind = {"to": str(rng.choice(["left", "right"])), "held": "spot"}
        shot = {
            "cabinet": str(side),
            "point": point,
            "reading": drawn_length(rng, 900, 4000),
        } | kind
        shots.append(shot | ({"height": drawn_length(rng, 0, 900)} if rng.random() < 0.2 else {}))
    return shots


def tables_of(data: bytes) -> dict[str, Any]:
    """The tables of a file that was read, by the standard library."""
    text = data.decode("utf-8-sig")
    found: dict[str, Any] = (
        json.loads(text) if text.lstrip().startswith("{") else tomllib.loads(text)
    )
    return found


def second(value: object) -> float | None:
    """What a value of the file is as a figure."""
    if isinstance(value, str):
        text = value.strip()
        size = length_mm(text.lstrip(DASHES))
        return -size if size is not None and text[:1] in DASHES else size
    return float(value) if isinstance(value, int | float) and value is not True else None


def check_round(read: RoundFile, data: bytes) -> int:
    """Judge every figure of a round; how many there were."""
    tables, count = tables_of(data), 0
    for name, came, places in figures(read, tables):
        stands = next((place for place in places if place is not None), None)
        judged = DEFAULTS.get(name) if stands is None else second(stands)
        assert (came is None) == (judged is None), (name, came, stands, data)
        if came is not None:
            assert is_same(came, judged), (name, came, stands, judged, data)
            key = name if name in LIMITS else name.rpartition(".")[2]
            least, most = LIMITS[key]
            assert least <= came <= most, (name, came, data)
            count += 1
    return count + check_walls(read, tables["room"], data)


Judged = tuple[str, float | None, tuple[object, ...]]
"""A figure's name, the figure that came, and what stands in the file where it may stand."""


def figures(read: RoundFile, tables: dict[str, Any]) -> Iterator[Judged]:
    """All figures but those of the walls."""
    setup, room = read.setup, tables["room"]
    yield "room.height", setup.room.height_mm, (room.get("height"),)
    yield "temperature", setup.temperature_c, (room.get("temperature"),)
    for side in Side:
        yield from _cabinet_figures(setup.cabinets[side], tables["cabinet"], str(side))
        target, given = setup.targets[side], tables.get("target", {}).get(side)
        assert (target is None) == (given is None)
        if target is not None:
            yield "side", target.side_mm, (given.get("side"),)
            yield "setback", target.setback_mm, (given.get("setback"),)
            yield "toe_in", target.toe_in_deg, (given.get("toe_in"),)
    seat, walls = tables.get("seat", {}), setup.room
    yield "from_front", setup.seat.from_front_mm, (seat.get("from_front"), walls.length_mm * 2 / 3)
    yield "from_left", setup.seat.from_left_mm, (seat.get("from_left"), walls.width_mm / 2)
    yield "ear_height", setup.seat.ear_height_mm, (seat.get("ear_height"),)
    meter, tolerance = tables.get("meter", {}), tables.get("tolerance", {})
    yield "repeatability", setup.meter.repeatability_mm, (meter.get("repeatability"),)
    yield "resolution", setup.meter.resolution_mm, (meter.get("resolution"),)
    yield "zero", setup.meter.zero_mm, (meter.get("zero"),)
    yield "scale_ppm", setup.meter.scale_ppm, (meter.get("scale_ppm"),)
    yield "position", setup.tolerance.position_mm, (tolerance.get("position"),)
    yield "tolerance.toe_in", setup.tolerance.toe_in_deg, (tolerance.get("toe_in"),)
    for shot, given in zip(read.shots, tables.get("shot", ()), strict=True):
        kind = shot.kind
        said = tuple(given[key] for key in ("cabinet", "point", "to", "held"))
        assert (kind.cabinet, kind.point, kind.to, kind.held) == said
        yield "reading", shot.reading_mm, (given["reading"],)
        yield "shot.height", kind.height_mm, (given.get("height"),)
    for offset, given in zip(walls.offsets, _standing_offsets(read, room), strict=True):
        yield "proud", offset.proud_mm, (given["proud"],)
        yield "from_height", offset.from_height_mm, (given.get("from_height"),)
        yield "to_height", offset.to_height_mm, (given["to_height"],)


def _standing_offsets(read: RoundFile, room: dict[str, Any]) -> list[dict[str, Any]]:
    """What stands proud of walls, without those in whose place a line was laid."""
    lines = set(read.setup.room.datum)
    return [one for one in room.get("offsets", ()) if one["wall"] not in lines]


def _cabinet_figures(cabinet: Cabinet, both: dict[str, Any], side: str) -> Iterator[Judged]:
    own = both.get(side, {})
    for key in ("width", "depth", "acoustic_height"):
        yield key, getattr(cabinet, f"{key}_mm"), (own.get(key), both.get(key))
    points = both.get("points", {}) | own.get("points", {})
    feet = own.get("feet") or both.get("feet", {})
    for came, given in ((cabinet.points, points), (cabinet.feet, feet)):
        assert came.keys() == given.keys()
        for name, point in came.items():
            yield "inward", point.inward_mm, (given[name]["inward"],)
            yield "back", point.back_mm, (given[name]["back"],)
            yield "height", point.height_mm, (given[name].get("height"),)


def check_walls(read: RoundFile, room: dict[str, Any], data: bytes) -> int:
    """Judge the walls, lines and zones by the distances in the file, whatever plan it is in."""
    found = read.setup.room
    zones = [corner for zone in found.keep_clear for corner in zone.corners]
    for x, y in (*found.corners, *zones):
        assert max(abs(x), abs(y)) <= 100_000, (found, data)
    assert found.front_left == (0.0, 0.0) or max(map(abs, found.front_left)) < 1e-3, (found, data)
    assert abs(found.front_right[1]) < 1e-3, (found, data)
    lines = [one for one in room.get("datum", ()) if isinstance(one, dict)]
    if lines:
        if len(lines) == 1:
            _check_line(read, lines[0], data)
        return 1
    given = _given_corners(room)
    for one, other in itertools.combinations(range(4), 2):
        apart = math.dist(found.corners[one], found.corners[other])
        assert is_same(apart, math.dist(given[one], given[other])), (found, given, data)
    for zone, stands in zip(found.keep_clear, room.get("keep_clear", ()), strict=True):
        corners = _given_zone(stands)
        # a rectangle is by distances from the walls, corners by the plan that the room's are in
        walls = found.corners if "corners" not in stands else given
        for at, to in zip(zone.corners, corners, strict=True):
            for corner, wall in zip(found.corners, walls, strict=True):
                apart = math.dist(to, wall)
                assert abs(math.dist(at, corner) - apart) < 1e-6 * (1 + apart), (zone, data)
    return 4 + len(zones)


def _given_corners(room: dict[str, Any]) -> list[PlanPoint]:
    if "corners" in room:
        return [_plan(room["corners"][name]) for name in CORNERS]
    width, length = second(room["width"]) or 0.0, second(room["length"]) or 0.0
    return [(0.0, 0.0), (width, 0.0), (width, length), (0.0, length)]


def _given_zone(stands: dict[str, Any]) -> list[PlanPoint]:
    if "corners" in stands:
        return [_plan(corner) for corner in stands["corners"]]
    (x0, x1), (y0, y1) = _plan(stands["from_left"]), _plan(stands["from_front"])
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def _plan(pair: list[object]) -> PlanPoint:
    x, y = (second(one) for one in pair)
    assert x is not None
    assert y is not None
    return x, y


def _check_line(read: RoundFile, line: dict[str, Any], data: bytes) -> None:
    """Judge a line by its ends: at one distance from a side, the other one has to be right too."""
    room = read.setup.room
    ends = dict(
        zip(
            WALLS,
            (
                room.corners[:2],
                room.corners[2:],
                (room.back_left, room.front_left),
                room.corners[1:3],
            ),
            strict=True,
        )
    )
    (a, b), wall = ends[line["wall"]], line["wall"]
    neighbours = ("left", "right") if wall in ("front", "back") else ("front", "back")
    for end, neighbour in zip(("first", "second"), neighbours, strict=True):
        given = {side: second(value) or 0.0 for side, value in line[end].items()}
        if len(given) > 2:
            continue
        sides = given if len(given) == 2 else given | {neighbour: 0.0}
        (one, one_mm), (other, other_mm) = sides.items()
        near, far = (_from(ends[one], at) for at in (a, b))
        if abs(near - far) < 1:  # the line runs along that side
            continue
        share = (one_mm - near) / (far - near)
        place = (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
        off = abs(_from(ends[other], place) - other_mm)
        assert off < 1e-3 * (1 + abs(share)), (line, room, off, data)


def _from(wall: tuple[PlanPoint, ...], point: PlanPoint) -> float:
    """The square distance of a point from a wall, positive inside the room."""
    (ax, ay), (bx, by) = wall
    return ((bx - ax) * (point[1] - ay) - (by - ay) * (point[0] - ax)) / math.dist(*wall)


def check_solved(read: RoundFile, data: bytes) -> None:
    """Make sure that a round that was read is solved, or refused in a sentence."""
    try:
        found = answer(read.setup, appraise(read.setup, read.shots))
    except TooFewShots as error:
        check_refusal(error, data)
    except WitnessmarkError as error:
        check_refusal(error, data)
    else:
        json.dumps(found, allow_nan=False)
