"""A meter that rests at one point while the cabinet is being nudged.

The first shot after a nudge was asked may be the first of a walk, or the first of many that a
person takes at the same point to watch the cabinet come. The next reading tells: on the way from
the one before to where that point should be, it is of the same point again; near to what the next
shot should read, the walk goes on. What could be either goes on, so that nobody is held up; the
reading after that tells, when it is none of the shot that is prompted then.
"""

from __future__ import annotations

import msgspec

from witnessmark.locate.pose import predict
from witnessmark.model import Placement, Shot, ShotKind
from witnessmark.placing.cabinet_work import CabinetWork
from witnessmark.placing.expectation import expect, gate_at_rest

_OVERSHOOT = 1.3
"""Largest part of the requested nudge that hands may carry out; common practice, no source."""
_SAME = 4.0
"""Standard deviations of a shot by which two readings of a meter at rest differ at most."""


def still_there(work: CabinetWork, reading_mm: float) -> bool:
    """Return whether a reading is of the first point after a nudge again, not of the next."""
    first = _first(work)
    if first is None or work.nudged_from is None:
        return False
    following = next((kind for kind in work.todo if kind != first.kind), None)
    if following is None:
        return False
    next_may_read_so = expect(work, following).fits(reading_mm)
    if _is_third_alike(work, reading_mm) and next_may_read_so:
        return False  # nobody moves it any more, and two were enough
    gate_mm = gate_at_rest(work.setup.meter)
    off_the_way = _off_the_way(work, reading_mm)
    off_the_next = _off_the_next(work, following, reading_mm)
    return off_the_way <= gate_mm < off_the_next and off_the_way < off_the_next


def reread_as_same_point(work: CabinetWork, reading_mm: float) -> CabinetWork | None:
    """Return the work as if the second shot was of the first point all along, if it was.

    The first point was not yet where it should be; the second reading could have been of it or of
    the next one, and went on with the walk. This one is not of the shot
    that is prompted now, but on the way from the second one: then both are of the first point.
    None where they are not.
    """
    if len(work.shots) < 2 or work.shots[-1].kind == work.shots[-2].kind:
        return None
    second, todo = work.shots[-1], (work.shots[-1].kind, *work.todo)
    before = msgspec.structs.replace(work, shots=work.shots[:-1], todo=todo)
    if not is_coming(before):
        return None
    gate_mm = gate_at_rest(work.setup.meter)
    if _off_the_way(before, second.reading_mm) > gate_mm:
        return None
    since = with_repeat(before, second.reading_mm)
    if _off_the_way(since, reading_mm) > gate_mm:
        return None
    return with_repeat(since, reading_mm)


def with_repeat(work: CabinetWork, reading_mm: float) -> CabinetWork:
    """Return the work with one more reading of the first point.

    Two alike in a row are both of where it stands now, unless it creeps, so no more than two are
    kept beyond those that the walk asks for; otherwise it has moved, and only the last one counts.
    """
    first = work.shots[-1]
    shot, asked_again = Shot(first.kind, reading_mm), work.todo[0] == first.kind
    if abs(first.reading_mm - reading_mm) > _SAME * work.setup.meter.shot_sigma_mm:
        others = tuple(kind for kind in work.todo if kind != first.kind)
        again = (first.kind,) * (work.route.shots.count(first.kind) - 1)
        return msgspec.structs.replace(work, shots=(shot,), todo=(*again, *others), coming=True)
    kept, todo = (work.shots, work.todo[1:]) if asked_again else ((first,), work.todo)
    return msgspec.structs.replace(work, shots=(*kept, shot), todo=todo, coming=False)


def is_coming(work: CabinetWork) -> bool:
    """Return whether the first point after a nudge is not yet where the nudge should bring it."""
    first = _first(work)
    if first is None or work.nudged_from is None:
        return False
    (on_target_mm,) = _readings(work, first.kind, work.belief)
    return abs(first.reading_mm - on_target_mm) > gate_at_rest(work.setup.meter)


def _is_third_alike(work: CabinetWork, reading_mm: float) -> bool:
    """Whether the last two of the first point were like this one already."""
    three = [*(shot.reading_mm for shot in work.shots[-2:]), reading_mm]
    return len(three) == 3 and max(three) - min(three) <= _SAME * work.setup.meter.shot_sigma_mm


def _first(work: CabinetWork) -> Shot | None:
    """The latest shot, while there is only one kind of them since the nudge."""
    kinds = {shot.kind for shot in work.shots}
    return work.shots[-1] if len(kinds) == 1 and not work.walks else None


def _off_the_way(work: CabinetWork, reading_mm: float) -> float:
    """How far a reading is from all that the first point reads until the nudge is made, mm."""
    assert work.nudged_from is not None  # noqa: S101 - guarded by the callers
    first, ends = work.shots[-1], [work.shots[-1].reading_mm]
    if is_coming(work):
        overshot = _between(work.nudged_from, work.belief, _OVERSHOOT)
        ends += _readings(work, first.kind, work.belief, overshot)
    return max(min(ends) - reading_mm, reading_mm - max(ends), 0.0)


def _off_the_next(work: CabinetWork, following: ShotKind, reading_mm: float) -> float:
    """How far a reading is from what the next shot reads where the first one lets it stand, mm."""
    expected = [_next_mm(work, following, pose) for pose in _made(work)]
    return max(min(expected) - reading_mm, reading_mm - max(expected), 0.0)


def _made(work: CabinetWork) -> list[Placement]:
    """How far along its way a cabinet is; both ends where the first point does not tell."""
    assert work.nudged_from is not None  # noqa: S101 - guarded by the only caller
    first, start, end = work.shots[-1], work.nudged_from, work.belief
    before_mm, after_mm = _readings(work, first.kind, start, end)
    if abs(after_mm - before_mm) <= gate_at_rest(work.setup.meter):
        return [start, end]
    share = (first.reading_mm - before_mm) / (after_mm - before_mm)
    return [_between(start, end, min(max(share, 0.0), _OVERSHOOT))]


def _next_mm(work: CabinetWork, following: ShotKind, pose: Placement) -> float:
    """What the next shot reads; to one wall, what the first one is off it is off as well."""
    first = work.shots[-1]
    (expected_mm,) = _readings(work, following, pose)
    if (first.kind.to, first.kind.held) != (following.to, following.held):
        return expected_mm
    (first_mm,) = _readings(work, first.kind, pose)
    return expected_mm + first.reading_mm - first_mm


def _readings(work: CabinetWork, kind: ShotKind, *poses: Placement) -> list[float]:
    """What a shot reads of a cabinet that stands so."""
    return [predict(work.setup, {work.side: pose}, kind) for pose in poses]


def _between(start: Placement, end: Placement, share: float) -> Placement:
    move = end.minus(start)
    return Placement(
        start.side_mm + share * move.side_mm,
        start.setback_mm + share * move.setback_mm,
        start.toe_in_deg + share * move.toe_in_deg,
    )
