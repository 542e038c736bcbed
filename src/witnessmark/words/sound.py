"""What the room does to a pair, as plain sentences: what is computed, never what is good."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import msgspec

from witnessmark.acoustics.figures import (
    LEAST_ARRIVAL_US,
    LEAST_LEVEL_DB,
    AtSeat,
    Boundary,
    CabinetSound,
    RoomSound,
)
from witnessmark.acoustics.modes import MOST_HZ, NEAR_WAVES, AxialModes, Axis, Near
from witnessmark.acoustics.reflections import CEILING, FLOOR
from witnessmark.acoustics.scene import Bounce, Scene
from witnessmark.lengths import Units, format_length
from witnessmark.model import Side, Wall
from witnessmark.sentences import listed
from witnessmark.words.nudge import difference_length

CAVEAT = (
    "All this is calculated for bare, rigid, flat walls and for cabinets that radiate from a "
    "point, equally in all directions. Real rooms and loudspeakers differ. It shows what "
    "happens, not what is good: your ears judge that."
)
_SIDE_WALLS = (Wall.LEFT, Wall.RIGHT)


class Passage(msgspec.Struct, frozen=True):
    """Sentences on one matter."""

    heading: str
    sentences: tuple[str, ...]


def sound_words(scene: Scene, sound: RoomSound, units: Units) -> tuple[Passage, ...]:
    """Return the figures of a scene in sentences, lengths in ``units``; the caveat comes last."""
    say = partial(format_length, units=units)
    return (
        Passage("At the seat", tuple(_at_seat(scene, sound.at_seat, units))),
        *(
            Passage(_cabinet_heading(side, one), tuple(_cabinet(side, one, units)))
            for side, one in sound.cabinets.items()
        ),
        Passage("First reflections on the side walls", tuple(_side_walls(scene, sound, units))),
        Passage("Axial modes of the room", tuple(_modes(scene, sound, units))),
        Passage("What this leaves out", (*_left_out(scene, say(sound.out_of_square_mm)), CAVEAT)),
    )


def _at_seat(scene: Scene, found: AtSeat | None, units: Units) -> Iterator[str]:
    if found is None:
        missing = [side for side in Side if side not in scene.standing]
        has = f"the {missing[0]} one has not" if len(missing) == 1 else "neither has"
        yield f"Arrival and level need both cabinets; {has} been measured."
        return
    yield (
        f"Sound from the left cabinet arrives {_than(found.arrival_us, _LATER, 'µs', 1)} from "
        f"the right one{_known(found.expanded_arrival_us, 'µs', 1)}: its path to the ears is "
        f"{_longer(found.path_mm, units)}. The smallest difference noticed under the best "
        f"conditions is about {LEAST_ARRIVAL_US:g} µs; "
        f"{_against(found.arrival_us, found.expanded_arrival_us, LEAST_ARRIVAL_US)}."
    )
    yield (
        "From the lengths of the two paths alone it is "
        f"{_than(found.level_db, _LOUDER, 'dB', 3)} the right one at the "
        f"seat{_known(found.expanded_level_db, 'dB', 3)}. The smallest difference noticed is "
        f"about {LEAST_LEVEL_DB:g} dB; "
        f"{_against(found.level_db, found.expanded_level_db, LEAST_LEVEL_DB)}."
    )


_LATER = ("later than", "earlier than", "at the same time as")
_LOUDER = ("louder than", "softer than", "as loud as")


def _than(value: float, words: tuple[str, str, str], unit: str, digits: int) -> str:
    more, less, alike = words
    size = f"{abs(value):.{digits}f}"
    return alike if float(size) == 0 else f"{size} {unit} {more if value > 0 else less}"


def _longer(path_mm: float, units: Units) -> str:
    length = difference_length(path_mm, units)
    if length == difference_length(0.0, units):
        return "as long"
    return f"{length} {'longer' if path_mm > 0 else 'shorter'}"


def _known(expanded: float | None, unit: str, digits: int) -> str:
    return "" if expanded is None else f", known to ±{expanded:.{digits}f} {unit}"


def _against(value: float, expanded: float | None, least: float) -> str:
    """Return whether a difference lies below the least that is noticed, as far as it is known."""
    width = expanded or 0.0
    if abs(value) + width <= least:
        return "this is less"
    if abs(value) - width > least:
        return "this is more"
    return "whether this is less or more is not known well enough"


def _cabinet_heading(side: Side, one: CabinetSound) -> str:
    return f"{side.capitalize()} cabinet, {'as measured' if one.is_measured else 'on its target'}"


def _cabinet(side: Side, one: CabinetSound, units: Units) -> Iterator[str]:
    for surface in (Wall.FRONT, Wall.beside(side), Wall.beside(side.other), FLOOR, CEILING):
        if bounce := one.bounces.get(surface):
            yield (
                f"Via the {surface_words(surface)} the path is "
                f"{format_length(bounce.extra_mm, units)} longer than straight to the ears: "
                f"first notch at {_hertz(bounce.first_notch_hz)}."
            )
    if one.boundary is not None:
        yield _boundary(one.boundary)


def _boundary(found: Boundary) -> str:
    *most, last = [surface_words(name) for name in found.surfaces]
    together = f"{', '.join(most)} and {last} together reduce" if most else (f"The {last} reduces")
    together = together[0].upper() + together[1:]
    return (
        f"{together} power most at {_hertz(found.frequency_hz)}: {-found.level_db:.1f} dB less "
        "than in the open."
    )


def _side_walls(scene: Scene, sound: RoomSound, units: Units) -> Iterator[str]:
    for wall in _SIDE_WALLS:
        if not scene.is_wall(wall):
            yield f"There is no {wall} wall, only a datum line: it reflects nothing."
            continue
        for side, one in sound.cabinets.items():
            if bounce := one.bounces.get(wall.value):
                yield _side_wall(wall, side, bounce, units)
            else:
                yield (
                    f"The {wall} wall sends no first reflection of the {side} cabinet to the seat."
                )


def _side_wall(wall: Wall, side: Side, bounce: Bounce, units: Units) -> str:
    assert bounce.along_mm is not None  # noqa: S101 - a wall has a beginning
    assert bounce.angle_deg is not None  # noqa: S101
    height = bounce.height_mm
    up = "" if height is None else f" and {format_length(height, units)} above the floor"
    return (
        f"{wall.capitalize()} wall, {side} cabinet: {bounce.delay_ms:.2f} ms after the direct "
        f"sound, from {abs(bounce.angle_deg):.0f}° to the {_hand(bounce.angle_deg)} of straight "
        f"ahead. It meets the wall {format_length(bounce.along_mm, units)} from the front "
        f"corner{up}."
    )


def _hand(angle_deg: float) -> Side:
    return Side.RIGHT if angle_deg > 0 else Side.LEFT


def _modes(scene: Scene, sound: RoomSound, units: Units) -> Iterator[str]:
    for axis, found in sound.modes.items():
        yield from _axis(axis, found, units)
    if sound.modes:
        yield (
            f"Peaks and nulls are listed within 1/{NEAR_WAVES} of the wavelength. A mode is "
            "heard and driven most at a peak of its pressure, and not at all in a null."
        )
    elif not scene.has_modes:
        yield "The room is too far from a rectangle to calculate modes from its sizes."


def _axis(axis: Axis, found: AxialModes, units: Units) -> Iterator[str]:
    sizes = format_length(found.size_mm, units)
    if not found.modes:
        yield f"{axis.capitalize()}, {sizes}: no axial mode up to {MOST_HZ:g} Hz."
        return
    every = listed([_hertz(mode.frequency_hz) for mode in found.modes])
    yield f"{axis.capitalize()}, {sizes}: the lowest are at {every}."
    for mode in found.modes:
        if mode.near:
            near = "; ".join(_near(axis, one, units) for one in mode.near)
            yield f"{_hertz(mode.frequency_hz)}: {near}."


def _near(axis: Axis, near: Near, units: Units) -> str:
    length = format_length(abs(near.distance_mm), units)
    if length == format_length(0.0, units):
        return f"the {near.who} is at a {near.what}"
    farther, nearer = _TOWARD[axis]
    toward = farther if near.distance_mm > 0 else nearer
    return f"the {near.who} has a {near.what} {length} toward the {toward}"


_TOWARD = {
    Axis.LENGTH: ("back wall", "front wall"),
    Axis.WIDTH: ("right wall", "left wall"),
    Axis.HEIGHT: ("ceiling", "floor"),
}


def _left_out(scene: Scene, out_of_square: str) -> Iterator[str]:
    for wall in scene.room.datum:
        yield (f"The {wall} side is a datum line, not a wall: it has no reflections and no modes.")
    if not scene.is_rectangle and scene.has_modes:
        yield (
            f"The room is not a rectangle (walls or diagonals differ by {out_of_square}): its "
            "modes are those of a rectangle of its mean sizes, so they are approximate. "
            "Reflections are calculated for the real room."
        )
    if not all(scene.has_heights(side) for side in scene.standing):
        yield (
            f"The {FLOOR} and the {CEILING} reflect too: enter the cabinets' acoustic height and "
            "the ear height to include them."
        )
    elif scene.room.height_mm is None:
        yield (
            f"The {CEILING} reflects too, and has modes: enter the room's height to include them."
        )


def surface_words(name: str) -> str:
    """Return what a surface of the room is called: floor, ceiling, or a wall by its side."""
    return name if name in (FLOOR, CEILING) else f"{name} wall"


def _hertz(frequency_hz: float) -> str:
    return f"{frequency_hz:.1f} Hz" if frequency_hz < 100 else f"{frequency_hz:.0f} Hz"
