"""Putting a mark back: which of its shots are taken, and what was restored to within what."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import msgspec

from witnessmark.locate.compare import CabinetChange, Comparison, compare
from witnessmark.locate.compare_words import comparison_words
from witnessmark.locate.nudge import nudge_length
from witnessmark.locate.pose import expanded_of
from witnessmark.model import Mark, Pair, Placement, Poses, Restoring, Setup, ShotKind, Side

CHECK_SHOTS = 3
"""So many shots of a cabinet tell whether it still stands there."""


def put_back(setup: Setup, mark: Mark) -> Setup:
    """The setup whose targets are where a mark has both cabinets."""
    return _towards(setup, mark, is_check=False)


def look_after(setup: Setup, mark: Mark) -> Setup:
    """The setup for looking whether both still stand where a mark has them, with few shots."""
    return _towards(setup, mark, is_check=True)


def _towards(setup: Setup, mark: Mark, *, is_check: bool) -> Setup:
    placements, tilts = mark.poses.placements, mark.poses.tilts
    leaning = [None if (tilt := tilts[side]) is None else tilt.tilt_deg for side in Side]
    aimed = msgspec.structs.replace(
        setup,
        targets=Pair[Placement | None](placements.left, placements.right),
        tilt_targets_deg=Pair(*leaning),
    )
    kinds = [tuple(_kinds(aimed, mark, side)) for side in Side]
    if is_check:
        kinds = [_fewest(aimed, side, own) for side, own in zip(Side, kinds, strict=True)]
    restoring = Restoring(mark.name, mark.poses, Pair(*kinds), is_check)
    return msgspec.structs.replace(aimed, restoring=restoring)


def _kinds(setup: Setup, mark: Mark, side: Side) -> Iterator[ShotKind]:
    """The shots of a mark, each once, from points that the cabinet still has."""
    points = setup.cabinets[side].touch_points
    for kind in dict.fromkeys(shot.kind for shot in mark.shots):
        if kind.cabinet is side and kind.point in points:
            yield kind


def _fewest(setup: Setup, side: Side, kinds: tuple[ShotKind, ...]) -> tuple[ShotKind, ...]:
    """The three that tell most of the cabinet; all where no three fix it."""
    target = setup.targets[side]
    assert target is not None  # noqa: S101 - the mark's, put there by the only caller
    limits = (setup.tolerance.position_mm, setup.tolerance.position_mm, setup.tolerance.toe_in_deg)

    def worst(some: tuple[ShotKind, ...]) -> float:
        known = expanded_of(setup, side, target, some)
        if known is None:
            return float("inf")
        widths = (known.side_mm, known.setback_mm, known.toe_in_deg)
        return max(width / limit for width, limit in zip(widths, limits, strict=True))

    best = min(itertools.combinations(kinds, CHECK_SHOTS), key=worst, default=kinds)
    return best if worst(best) < float("inf") else kinds


def purpose_words(setup: Setup) -> str:
    """Which mark is being put back, or looked after; empty where none is."""
    if setup.restoring is None:
        return ""
    doing = "looking after" if setup.restoring.is_check else "putting back"
    return f'{doing} "{setup.restoring.name}"'


def restored(setup: Setup, now: Poses) -> Comparison | None:
    """How the pair stands against the mark that is being put back; None where none is."""
    return None if setup.restoring is None else compare(setup, setup.restoring.poses, now)


def restored_words(setup: Setup, found: Comparison) -> Iterator[str]:
    """To within what the pair stands as the mark has it, and what differs."""
    assert setup.restoring is not None  # noqa: S101 - there is nothing to compare with otherwise
    position, angle = _within([found.cabinets[side] for side in Side])
    yield (
        f'against "{setup.restoring.name}" both stand within {nudge_length(position, setup.units)} '
        f"and {angle:.2f}°"
    )
    yield from comparison_words(setup, found)


def _within(cabinets: list[CabinetChange]) -> tuple[float, float]:
    """What no quantity differs by more than, as far as was measured: mm, degrees."""
    places = [one for each in cabinets for one in (each.side_mm, each.setback_mm)]
    return (
        max(abs(one.amount) + one.expanded for one in places),
        max(abs(each.toe_in_deg.amount) + each.toe_in_deg.expanded for each in cabinets),
    )
