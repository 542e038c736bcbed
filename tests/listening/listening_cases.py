"""A room, a pair, and trials made by hand, for the tests of this package."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta

import msgspec

from witnessmark.listening.steps import Proposal
from witnessmark.model import (
    Attribute,
    Cabinet,
    Impression,
    Pair,
    Placement,
    Poses,
    Preference,
    Room,
    Seat,
    Setup,
    Tilt,
    Trial,
    Varied,
)

BEGAN = datetime(2026, 4, 2, 20, 15, tzinfo=UTC)
CABINET = Cabinet(260.0, 390.0, 950.0)
SETUP = Setup(
    Room.rectangular(4800.0, 6600.0), Pair(CABINET, CABINET), Seat(4400.0, 2400.0, 1020.0)
)
HERE = Placement(1400.0, 2000.0, 0.0)
UNSURE = (0.25, 0.25, 0.01, 0.25, 0.25, 0.01)


def trial(
    minute: float,
    varied: Varied = Varied.STATION,
    targets: Pair[Placement] = Pair(HERE, HERE),  # noqa: B008 - frozen
    *,
    grades: Mapping[Attribute, int] | None = None,
    best: bool = False,
    blind: bool = False,
    repeats: str | None = None,
    tilt_deg: float | None = None,
) -> Trial:
    """A trial so many minutes after the first."""
    return Trial(
        BEGAN + timedelta(minutes=minute),
        varied,
        targets,
        Impression(dict(grades or {}), best=best, blind=blind),
        Pair(tilt_deg, tilt_deg),
        repeats=repeats,
    )


def trials(count: int) -> dict[str, Trial]:
    """Return ``count`` trials with the keys t0, t1 ..."""
    return {f"t{place}": trial(place) for place in range(count)}


def tried(proposal: Proposal, minute: float, *, best: bool = False) -> Trial:
    """A trial of what was proposed."""
    heard = Impression(best=best)
    at = BEGAN + timedelta(minutes=minute)
    return Trial(at, proposal.varied, proposal.targets, heard, proposal.tilt_targets_deg)


def found_at(one: Trial, left: Placement, right: Placement, tilt_deg: float | None = None) -> Trial:
    """The same trial, with the pair found where it was measured."""
    covariance = tuple(
        tuple(variance if row == column else 0.0 for column in range(6))
        for row, variance in enumerate(UNSURE)
    )
    tilt = None if tilt_deg is None else Tilt(tilt_deg, 0.1)
    poses = Poses(Pair(left, right), covariance, Pair(tilt, tilt))  # type: ignore[arg-type]
    return msgspec.structs.replace(one, measured=poses)


def choices(one: str, other: str, won: int, lost: int = 0, neither: int = 0) -> list[Preference]:
    """Return that many choices between two trials."""
    bettered: Iterable[str | None] = [one] * won + [other] * lost + [None] * neither
    return [Preference(BEGAN, one, other, better) for better in bettered]
