"""One mark whole, as a page of 80 columns for whoever puts the pair back."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import click

from witnessmark.cli.records import INDENT, echo_title, echo_told
from witnessmark.layout.footprint import FloorPoint, pair_tape_points
from witnessmark.lengths import format_expanded, format_length
from witnessmark.model import OF_CABINET, Held, Mark, Shot, Side, Wall
from witnessmark.store.records import Kept

Say = Callable[[float], str]

_HELD = {
    Held.WALL: "held square to the wall",
    Held.CABINET: "flush on the cabinet",
    Held.POINT: "straight",
    Held.SPOT: "by the dot on the back wall",
}
_EXPANDED = "± is the expanded uncertainty, k = 2 (95 %)."


def echo_mark(kept: Kept[Mark]) -> None:
    """Print the mark: where both cabinets stood and were to stand, their corners, the shots."""
    mark = kept.record
    say = partial(format_length, units=mark.setup.units.finer)
    echo_title(kept, mark.name)
    if mark.notes:
        echo_told(mark.notes, INDENT, INDENT)
    for side, points in pair_tape_points(mark.setup, mark.poses.placements).items():
        click.echo(f"\n{side.upper()} CABINET")
        _echo_placement(mark, side)
        _echo_tilt(mark, side)
        _echo_corners(mark, side, points, say)
    click.echo("\nSHOTS" if mark.shots else "\nNo shots were kept with it.")
    for shot in mark.shots:
        echo_told(_shot_line(shot, say), "  ")
    click.echo(_EXPANDED)


def _echo_placement(mark: Mark, side: Side) -> None:
    measured, expanded = mark.poses.placements[side], mark.poses.expanded(side)
    target, units = mark.setup.targets[side], mark.setup.units.finer
    for quantity in OF_CABINET:
        width = quantity.of(expanded)
        if quantity.is_length:
            words: Say = partial(format_length, units=units.known_to(width))
            known = format_expanded(width)
        else:
            words, known = _degrees, _degrees(width)
        row = f"  {quantity.label:8} {words(quantity.of(measured)):>15}  ±{known:<12}"
        if target is not None:
            row += f"  target {words(quantity.of(target))}"
        click.echo(row.rstrip())


def _echo_tilt(mark: Mark, side: Side) -> None:
    tilt, target = mark.poses.tilts[side], mark.setup.tilt_targets_deg[side]
    if tilt is not None:
        row = f"  {'tilt':8} {_degrees(tilt.tilt_deg):>15}  ±{_degrees(tilt.expanded_deg):<12}"
        click.echo((row if target is None else f"{row}  target {_degrees(target)}").rstrip())
    for foot, turns in mark.spike_turns[side].items():
        echo_told(f"{foot} spike: {turns:g} turns out", "  ")


def _echo_corners(mark: Mark, side: Side, points: dict[str, FloorPoint], say: Say) -> None:
    own, front = (mark.setup.room.side_name(wall) for wall in (Wall.beside(side), Wall.FRONT))
    for name, point in points.items():
        words = f"{say(point.side_mm)} from the {own}, {say(point.setback_mm)} from the {front}"
        echo_told(words, f"  {name}: ")


def _shot_line(shot: Shot, say: Say) -> str:
    kind = shot.kind
    line = f"{kind.cabinet} {kind.words}: {say(shot.reading_mm)}, {_HELD[kind.held]}"
    if kind.height_mm is not None:
        line += f", {say(kind.height_mm)} above the floor"
    return line


def _degrees(angle_deg: float) -> str:
    return f"{angle_deg:.2f}°"
