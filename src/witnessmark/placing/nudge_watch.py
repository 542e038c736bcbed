"""A meter that rests at one point while the cabinet is being nudged.

After a nudge was asked the shots that tell most of it are watched one after another: taken over and
over while the cabinet is moved, each until it reads what it should. A shot of these may also be
one of a walk. The next reading tells: on the way from the one before to where that point should be,
it is of the same point again; near to what the next shot should read, the walk goes on. What could
be either goes on, so that nobody is held up; the reading after that tells, when it is none of the
shot that is prompted then. Once a point is seen to move, what was shot before is of where the
cabinet was, and is asked for again.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from witnessmark.geometry.frame import side_frame
from witnessmark.locate.pose import predict
from witnessmark.model import OneCabinet, Placement, Shot, ShotKind
from witnessmark.placing.cabinet_work import CabinetWork, Watch
from witnessmark.placing.expectation import NEAR, gate_at_rest, near_mm
from witnessmark.placing.shot_list import change_by_turn, nudge_walk

_OVERSHOOT = 1.3
"""Largest part of the requested nudge that hands may carry out; common practice, no source."""
_SAME = 4.0
"""Standard deviations of a shot by which two readings of a meter at rest differ at most."""


def first_watch(work: CabinetWork) -> Watch | None:
    """Return what the first shot after a nudge will be watched for; None where none is asked."""
    kind, start, end = work.todo[0], work.nudged_from, work.nudged_to
    if start is None or end is None or kind not in work.watches:
        return None
    start_mm, stop_mm = _readings(work, kind, start, end)
    return Watch(kind, start_mm, stop_mm, near_mm(work.setup))


def watched(work: CabinetWork) -> CabinetWork:
    """Return the work with its latest shot watched, where that is one to watch; else with none."""
    watch = _watch(work)
    work = msgspec.structs.replace(work, watch=watch, coming=False)
    return msgspec.structs.replace(work, coming=is_coming(work))


def _watch(work: CabinetWork) -> Watch | None:
    *earlier, last = work.shots
    kind, start, end = last.kind, work.nudged_from, work.nudged_to
    if start is None or end is None or kind not in work.watches or work.walks or work.repeated:
        return None
    if work.watch is not None and work.watch.kind == kind:
        return work.watch
    others = [shot for shot in earlier if shot.kind != kind]
    began_mm, stop_mm = _readings(work, kind, start, end)
    if others or work.watches[0] != kind:  # the whole nudge was made while another was watched
        began_mm = last.reading_mm
    for held in others:
        if _is_a_turn(work, held.kind, kind):
            return _watch_of_turn(work, held, last, end)
    return Watch(kind, began_mm, stop_mm, near_mm(work.setup))


def _is_a_turn(work: CabinetWork, held: ShotKind, kind: ShotKind) -> bool:
    """Whether two shots tell a turn: both to one wall, the latter being changed by it the more."""
    if (held.to, held.held) != (kind.to, kind.held):
        return False
    held_mm, kind_mm = (change_by_turn(work.cabinet, work.belief, one) for one in (held, kind))
    return abs(held_mm) < abs(kind_mm)


def _watch_of_turn(work: CabinetWork, held: Shot, last: Shot, end: Placement) -> Watch:
    """The watch of a turn about the point of an earlier shot, until the toe-in is as it should be.

    The two shots go to one wall, so their difference tells the turn that is left.
    """
    kinds = (held.kind, last.kind)
    held_mm, last_mm = (_readings(work, kind, end)[0] for kind in kinds)
    by_turn = [change_by_turn(work.cabinet, end, kind) for kind in kinds]
    too_far_mm = (last.reading_mm - last_mm) - (held.reading_mm - held_mm)
    turned_deg = too_far_mm / (by_turn[1] - by_turn[0])
    turned = msgspec.structs.replace(end, toe_in_deg=end.toe_in_deg + turned_deg)
    before_mm, after_mm = _readings(
        work, last.kind, turned, _about(work.cabinet, turned, end.toe_in_deg, held.kind.point)
    )
    stop_mm = last.reading_mm + after_mm - before_mm
    per_deg = (after_mm - before_mm) / turned_deg if turned_deg else 0.0
    near = max(near_mm(work.setup), NEAR * work.setup.tolerance.toe_in_deg * abs(per_deg))
    return Watch(last.kind, last.reading_mm, stop_mm, near, held.kind.point)


def _about(cabinet: OneCabinet, start: Placement, toe_in_deg: float, name: str) -> Placement:
    """Return where a cabinet stands once it is turned about one of its points."""
    frame, point = side_frame(cabinet.setup.room, cabinet.side), cabinet.body.touch_points[name]
    end = msgspec.structs.replace(start, toe_in_deg=toe_in_deg)
    was, went = (frame.tape_distances(frame.point(one, point)) for one in (start, end))
    return Placement(end.side_mm + was[0] - went[0], end.setback_mm + was[1] - went[1], toe_in_deg)


def still_there(work: CabinetWork, reading_mm: float) -> bool:
    """Return whether a reading is of the point that is watched again, not of the next."""
    if work.watch is None:
        return False
    following = _may_follow(work)
    if not following:
        return False
    gate_mm = gate_at_rest(work.setup.meter)
    off_the_way = _off_the_way(work, reading_mm)
    off_the_next, left_mm = min(
        (_off_the_next(work, kind, reading_mm), _left_mm(work, kind)) for kind in following
    )
    next_may_read_so = off_the_next <= gate_mm + left_mm
    if _is_third_alike(work, reading_mm) and next_may_read_so:
        return False  # nobody moves it any more, and two were enough
    return off_the_way <= gate_mm < off_the_next and off_the_way < off_the_next


def walked_as_usual(work: CabinetWork, reading_mm: float) -> CabinetWork | None:
    """Return the work with the shots since a nudge as those of the usual walk, if they were.

    Who goes round by habit, or by the printed card, begins where the usual walk does. So it is read
    where all readings since the nudge, with this one, may be of the usual shots, and not all of
    those that are asked for. None where they are not. Rounds of before there was anything to watch
    are read back in this way, too.
    """
    work = work.under_way()
    start, end = work.nudged_from, work.nudged_to
    if start is None or end is None or work.walks or work.repeated:
        return None
    readings = [*(shot.reading_mm for shot in work.shots), reading_mm]
    usual = work.route.shots[: len(readings)]
    asked = [*(shot.kind for shot in work.shots), work.todo[0]]
    if len(usual) < len(readings) or list(usual) == asked:
        return None

    def may_be(kinds: Sequence[ShotKind]) -> bool:
        overshot = _between(start, end, _OVERSHOOT)
        ways = (_readings(work, kind, start, overshot) for kind in kinds)
        gate_mm = gate_at_rest(work.setup.meter)
        return all(
            min(way) - gate_mm <= reading <= max(way) + gate_mm
            for way, reading in zip(ways, readings, strict=True)
        )

    if may_be(asked) or not may_be(usual):
        return None
    *taken, _ = (Shot(kind, mm) for kind, mm in zip(usual, readings, strict=True))
    return msgspec.structs.replace(
        work,
        shots=tuple(taken),
        todo=work.route.shots[len(taken) :],
        watch=None,
        coming=False,
    )


def reread_as_same_point(work: CabinetWork, reading_mm: float) -> CabinetWork | None:
    """Return the work as if the latest shot was of the point watched before it, if it was.

    That point was not yet where it should be; the latest reading could have been of it or of the
    next one, and went on with the walk. This one is not of the shot that is prompted now, but on
    the way from the latest: then both are of the point watched. None where they are not.
    """
    if len(work.shots) < 2 or work.shots[-1].kind == work.shots[-2].kind:
        return None
    second, todo = work.shots[-1], (work.shots[-1].kind, *work.todo)
    before = watched(msgspec.structs.replace(work, shots=work.shots[:-1], todo=todo, watch=None))
    if not before.coming:
        return None
    gate_mm = gate_at_rest(work.setup.meter)
    if _off_the_way(before, second.reading_mm) > gate_mm:
        return None
    since = with_repeat(before, second.reading_mm)
    if _off_the_way(since, reading_mm) > gate_mm:
        return None
    return with_repeat(since, reading_mm)


def with_repeat(work: CabinetWork, reading_mm: float) -> CabinetWork:
    """Return the work with one more reading of the point that is watched.

    Two alike in a row are both of where it stands now, unless it creeps, so no more than two are
    kept beyond those that the walk asks for; otherwise it has moved, and only the last one counts.
    """
    last = work.shots[-1]
    shot, asked_again = Shot(last.kind, reading_mm), work.todo[0] == last.kind
    if abs(last.reading_mm - reading_mm) > _SAME * work.setup.meter.shot_sigma_mm:
        work = _moved_since(work)
        work = msgspec.structs.replace(work, shots=(shot,))
    elif asked_again:
        work = msgspec.structs.replace(work, shots=(*work.shots, shot), todo=work.todo[1:])
    else:
        others = tuple(one for one in work.shots if one.kind != last.kind)
        work = msgspec.structs.replace(work, shots=(*others, last, shot))
    return msgspec.structs.replace(work, coming=is_coming(work))


def _moved_since(work: CabinetWork) -> CabinetWork:
    """The work without shots: but for the point that is watched, all are to be taken again."""
    kind = work.shots[-1].kind
    place = work.watches.index(kind)
    watches = work.watches[place:] + work.watches[:place]
    times = work.route.shots.count
    open_kinds = dict.fromkeys((*work.todo, *(shot.kind for shot in work.shots)))
    others = [one for one in open_kinds if one != kind for _ in range(max(times(one), 1))]
    again = (kind,) * (times(kind) - 1)
    todo = (*again, *nudge_walk(work.cabinet, watches, others))
    return msgspec.structs.replace(work, shots=(), todo=todo, watches=watches)


def is_coming(work: CabinetWork) -> bool:
    """Return whether the point that is watched is not yet where the nudge should bring it."""
    if work.watch is None:
        return False
    return abs(work.shots[-1].reading_mm - work.watch.stop_mm) > work.watch.near_mm


def _may_follow(work: CabinetWork) -> list[ShotKind]:
    """What may come after the point that is watched: the shot asked for, or the usual walk's."""
    last, usual = work.shots[-1].kind, work.route.shots
    asked = [kind for kind in work.todo if kind != last][:1]
    taken = list(dict.fromkeys(shot.kind for shot in work.shots))
    if taken != list(dict.fromkeys(usual))[: len(taken)]:
        return asked
    return asked + [kind for kind in usual if kind in work.todo and kind != last][:1]


def _left_mm(work: CabinetWork, kind: ShotKind) -> float:
    """How far a shot is off where hands left some of the nudge, while the watched point moved."""
    assert work.nudged_from is not None  # noqa: S101 - guarded by the only caller
    before_mm, after_mm = _readings(work, kind, work.nudged_from, work.belief)
    return (_OVERSHOOT - 1.0) * abs(after_mm - before_mm)


def _is_third_alike(work: CabinetWork, reading_mm: float) -> bool:
    """Return whether the last two of the first point were like this one already."""
    three = [*(shot.reading_mm for shot in work.shots[-2:]), reading_mm]
    return len(three) == 3 and max(three) - min(three) <= _SAME * work.setup.meter.shot_sigma_mm


def _off_the_way(work: CabinetWork, reading_mm: float) -> float:
    """How far a reading is from all that the point reads until it is where it should be, mm."""
    assert work.watch is not None  # noqa: S101 - guarded by the callers
    ends = [work.shots[-1].reading_mm]
    if work.coming:
        start_mm, stop_mm = work.watch.start_mm, work.watch.stop_mm
        ends += [stop_mm, start_mm + _OVERSHOOT * (stop_mm - start_mm)]
    return max(min(ends) - reading_mm, reading_mm - max(ends), 0.0)


def _off_the_next(work: CabinetWork, following: ShotKind, reading_mm: float) -> float:
    """How far a reading is from what the next shot reads where the first one lets it stand, mm."""
    expected = [_next_mm(work, following, pose) for pose in _made(work)]
    return max(min(expected) - reading_mm, reading_mm - max(expected), 0.0)


def _made(work: CabinetWork) -> list[Placement]:
    """Return how far along its way a cabinet is; both ends where the first point does not tell.

    Once another point is watched, the nudge was made before, and only what went astray is open; or
    it was left where the first point stood then.
    """
    assert work.nudged_from is not None  # noqa: S101 - guarded by the only caller
    last, start, end = work.shots[-1], work.nudged_from, work.belief
    others = [shot for shot in work.shots if shot.kind != last.kind]
    first = others[-1] if others else last
    before_mm, after_mm = _readings(work, first.kind, start, end)
    if abs(after_mm - before_mm) <= gate_at_rest(work.setup.meter):
        return [start, end]
    share = (first.reading_mm - before_mm) / (after_mm - before_mm)
    there = _between(start, end, min(max(share, 0.0), _OVERSHOOT))
    return [there, end] if others else [there]


def _next_mm(work: CabinetWork, following: ShotKind, pose: Placement) -> float:
    """Return what the next shot reads; to one wall, what the first one is off it is off as well."""
    first = work.shots[-1]
    (expected_mm,) = _readings(work, following, pose)
    if (first.kind.to, first.kind.held) != (following.to, following.held):
        return expected_mm
    (first_mm,) = _readings(work, first.kind, pose)
    return expected_mm + first.reading_mm - first_mm


def _readings(work: CabinetWork, kind: ShotKind, *poses: Placement) -> list[float]:
    """Return what a shot reads of a cabinet that stands so."""
    return [predict(work.setup, {work.side: pose}, kind) for pose in poses]


def _between(start: Placement, end: Placement, share: float) -> Placement:
    move = end.minus(start)
    return Placement(
        start.side_mm + share * move.side_mm,
        start.setback_mm + share * move.setback_mm,
        start.toe_in_deg + share * move.toe_in_deg,
    )
