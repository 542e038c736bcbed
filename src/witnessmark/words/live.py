"""The sentences of a round, and the few large characters that can be read from three metres."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from witnessmark.geometry.sweep import SWEEP_READINGS
from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import format_bare, format_expanded, format_length, format_limit
from witnessmark.locate.compare import CabinetChange, Comparison
from witnessmark.locate.nudge import pushes
from witnessmark.locate.symmetry import Symmetry
from witnessmark.meters.port import LinkState
from witnessmark.model import (
    OF_CABINET,
    Quantity,
    Setup,
    Shot,
    Side,
)
from witnessmark.placing.alike import is_as_they_stand
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.expectation import Gather, Gathering, on_target
from witnessmark.placing.guidance import Guidance, Task
from witnessmark.placing.judge import AgainstTarget, Appraisal, leading_move
from witnessmark.placing.round import QuestionedReading
from witnessmark.placing.shot_list import crosses_at_eye_height
from witnessmark.sentences import percent, sentence
from witnessmark.words.alike import (
    about_the_line,
    alike_figure,
    alike_words,
    other_side_words,
    settling_words,
    symmetry_words,
)
from witnessmark.words.cautions import BEAM_ACROSS, MOVING
from witnessmark.words.holding import arrow_to, how_to_hold, read_at
from witnessmark.words.marks import comparison_words, moved_in_short
from witnessmark.words.near_enough import enough_words, near_enough_words, within_words
from witnessmark.words.next_shot import (
    FIND_METER,
    HOLDING,
    MISSING,
    NO_METER,
    following_shot,
    how_figure,
    point_figure,
    shot_figure,
    shot_words,
)
from witnessmark.words.nudge import (
    difference_length,
    foot_words,
    nudge_length,
    nudge_words,
)

_OPPOSITE = {"↑": "↓", "↓": "↑", "←": "→", "→": "←", "↔": "↔"}
_END_FIGURES = {
    Stage.SETTLED: "IN",
    Stage.BEST: "UNSURE",
    Stage.ENOUGH: "GOOD ENOUGH",
    None: "DONE",
}
"""What is announced of a cabinet that is done; None stands for one without a target."""


class Headline(msgspec.Struct, frozen=True):
    """The one thing to read from three metres: a few characters, and the sentence they stand for.

    ``figure`` begins with L or R, or with LEFT or RIGHT, where it is about one cabinet; it is made
    of capitals, digits, signs, the unit mm and the arrows ← → ↑ ↓ ↔ ↺ ↻.
    """

    figure: str
    words: str
    below: str = ""
    """What belongs to it, of the same characters: how the meter is held for the shot, that it is
    held, or the shot that comes next."""


class Said(msgspec.Struct, frozen=True):
    """All that is said of one guidance."""

    headline: Headline
    next_shot: str
    """Which shot comes next and what it should read; empty where the headline says so."""
    details: tuple[str, ...]
    """Further sentences, the most useful first."""
    caution: str
    """What can hurt at the move that is asked for."""


def unit_missing_words(bare: str, key: str, *, is_other: bool) -> str:
    """Return what to do where a meter sent a number whose unit nobody has chosen.

    Args:
        bare: the number as it came.
        key: what leads to the meter screen.
        is_other: whether a meter that types like a keyboard sent it, and another one is chosen.
    """
    first = f"The meter sent {bare} without a unit, so it does not count. Press {key}"
    if is_other:
        return f"{first}, choose typed: as the meter, and its unit."
    return (
        f"{first} and choose the unit in which its display shows that number. If it shows another "
        "one, teach the meter there."
    )


def say(now: Guidance, missing: LinkState | None = None) -> Said:
    """Return the sentences that every view shows of what is known and asked for now.

    Args:
        now: what is known and asked for.
        missing: how the meter's link came to its end, when there is nothing to shoot with.
    """
    caution = MOVING if now.is_risky and missing is None else ""
    following = following_shot(now, is_missing=missing is not None)
    headline = _headline(now) if missing is None else _no_meter(now)
    headline = msgspec.structs.replace(headline, words=sentence(headline.words))
    details = _details(now) if missing is None else iter(FIND_METER[missing])
    return Said(headline, following and sentence(following), tuple(map(sentence, details)), caution)


def _no_meter(now: Guidance) -> Headline:
    return Headline(NO_METER, MISSING, shot_figure(now))


def _headline(now: Guidance) -> Headline:
    """Return the one thing to do or to know now."""
    if now.question is not None:
        return _questioned(now, now.question)
    if now.task is Task.SWEEP and now.gathered is not None:
        return _swept(now, now.gathered)
    if now.held is not None:
        to_go = _to_go(now, now.held)
        return msgspec.structs.replace(to_go, below=HOLDING) if now.hold else to_go
    if now.task is Task.NOTHING and not now.hold:
        return _finished(now)
    return _to_do(now)


def _to_do(now: Guidance) -> Headline:
    """Return what to move or to shoot."""
    if now.hold:
        return Headline(shot_figure(now), shot_words(now), HOLDING)
    if now.task is Task.NUDGE and now.own is not None and now.own.against_target is not None:
        return _nudge(now, now.own.against_target)
    return _prompted(now, now.arrived)


def _nudge(now: Guidance, against: AgainstTarget) -> Headline:
    """Return what to move first, and the shot that follows."""
    figure = f"{now.side[0].upper()} {_leading_move(now, against)}"
    words = f"{now.side} cabinet: {nudge_words(now.work.cabinet, against.nudge)[0]}"
    return Headline(figure, words, point_figure(now.prompt.kind))


def _questioned(now: Guidance, question: QuestionedReading) -> Headline:
    """Return what was read and expected, of which shot."""
    units, kind = now.setup.units, now.prompt.kind
    read = format_length(question.reading_mm, units)
    doubt = "no distance in this room"
    if question.expected_mm is not None:
        doubt = f"expected about {format_length(question.expected_mm, units)}"
    words = f"{now.side} {kind.words}: read {read}, {doubt}"
    return Headline(f"{now.side[0].upper()} {read}?", words, point_figure(kind))


def _prompted(now: Guidance, arrived: Side | None) -> Headline:
    """Return the shot to take; first, until it is taken, that the other cabinet is done."""
    if arrived is None:
        return Headline(shot_figure(now), shot_words(now), how_figure(now))
    figure = f"{arrived.upper()} {_END_FIGURES[_ended(now, arrived)]}"
    return Headline(figure, f"{arrived} cabinet: {_end(now, arrived)}", shot_figure(now))


def _details(now: Guidance) -> Iterator[str]:
    if now.hold:
        stop = _stop_words(now)
        yield (
            f"this shot is held: shoot while you move the cabinet{stop}. Press h to take the last "
            "reading"
        )
    if now.question is not None:
        yield _how_to_answer(now, now.question)
        if added_mm := now.setup.meter.added_mm:
            more = "more" if added_mm > 0 else "less"
            added = difference_length(added_mm, now.setup.units)
            yield (f"{added} {more} than the meter shows: its edge and zero error are allowed for")
        return
    own = now.own
    for check in () if own is None else own.suspects:
        left_out = " (left out)" if check.left_out else ""
        yield f"{check.shot.kind.words}: {check.cause}{left_out}"
    if now.finished and now.gathered is None:
        yield from _at_the_end(now)
    elif now.stage is Stage.NUDGE and own is not None and own.against_target is not None:
        nudge = own.against_target.nudge
        yield from nudge_words(now.work.cabinet, nudge)[1:]
        yield from near_enough_words(now)
        yield from (foot_words(now.work.cabinet, *foot) for foot in nudge.feet.items())
    else:
        yield from _about_the_shot(now)


def _at_the_end(now: Guidance) -> Iterator[str]:
    """Yield what there is to say of both cabinets when nothing is left to do."""
    if now.against is not None:
        yield from _restored_words(now.setup, now.against)
    if now.symmetry is not None and is_as_they_stand(now.setup):
        yield from _as_they_stand(now, now.symmetry)
    elif now.symmetry is not None:
        yield symmetry_words(now.setup, now.symmetry)
        yield from other_side_words(now.setup, now.symmetry)
    yield from dict.fromkeys(_out_of_reach(now))
    if now.stage is Stage.BEST:
        yield from near_enough_words(now)


def _as_they_stand(now: Guidance, pair: Symmetry) -> Iterator[str]:
    """Yield what there is to say of the pair beside the first difference."""
    setup = now.setup
    _, *others = alike_words(setup, pair)
    yield from others
    if now.settling is not None:
        yield settling_words(setup, now.settling)
        yield how_to_hold(now.settling.kind, setup.meter.edge)
    yield from other_side_words(setup, pair)
    yield from about_the_line(setup, now.measured)


def _how_to_answer(now: Guidance, question: QuestionedReading) -> str:
    if question.instead is None:
        return "shoot again. The same reading is accepted; a better one replaces it"
    return (
        f"this fits {question.instead.words}. Press t to use it for that. Or shoot again: the same "
        f"reading is accepted for {now.prompt.kind.words}"
    )


def _about_the_shot(now: Guidance) -> Iterator[str]:
    own = now.own
    if now.work.coming and not now.hold:
        about = now.watch.about if now.watch else None
        moving = "move" if about is None else f"turn the cabinet about {about}"
        yield f"keep shooting here while you {moving}{_stop_words(now)}"
        yield f"or go on to {now.prompt.kind.words}"
        yield from near_enough_words(now)
    yield how_to_hold(now.prompt.kind, now.setup.meter.edge)
    yield from _mind_the_beam(now)
    if now.work.route.remark and not now.work.shots and not now.work.judged:
        yield now.work.route.remark
    if now.work.no_answer:
        yield now.work.no_answer
    elif now.work.contrary:
        yield "shoot this cabinet again: it reads farther off than before the nudge"
    elif now.prompt.kind in now.work.repeated:
        yield "shoot this again: it does not agree with the others"
    elif now.prompt.kind in now.work.wanted:
        yield "this shot is needed: without it the others do not fix the cabinet"
    elif now.work.walks and own is not None:
        yield from _once_more(now.setup, own)
        yield from enough_words(now)
    if now.gathering is not None and now.gathering.how is Gather.SWEEP:
        yield f"swing it slowly past the square: the shortest of {SWEEP_READINGS} readings counts"
    if now.last is not None and now.gathered is None and not now.work.coming:
        yield from _after(now.setup, now.last)


def _mind_the_beam(now: Guidance) -> Iterator[str]:
    """The caution about a beam at the height of eyes, on the first walk."""
    kind, points = now.prompt.kind, now.setup.cabinets[now.side].touch_points
    first = not now.work.judged and kind.point in points
    if first and crosses_at_eye_height(kind, points[kind.point]):
        yield BEAM_ACROSS


def _finished(now: Guidance) -> Headline:
    restoring, against = now.setup.restoring, now.against
    if restoring is not None and restoring.is_check:
        if against is not None and against.seen:
            return Headline("MOVED", next(moved_in_short(now.setup, against)))
        return Headline(
            "AS MARKED", (f'still where "{restoring.name}" was, as far as the meter can tell')
        )
    if now.symmetry is not None and is_as_they_stand(now.setup):
        first, *_ = alike_words(now.setup, now.symmetry)
        return Headline(alike_figure(now.symmetry), first)
    left, right = _end(now, Side.LEFT), _end(now, Side.RIGHT)
    if left == right:
        words = f"both cabinets: {left}"
    else:
        words = f"left cabinet: {left}; right cabinet: {right}"
    stages = {work.stage for work in now.works}
    if Stage.BEST in stages:
        return Headline(_unsure(now), words)
    if Stage.ENOUGH in stages:
        return Headline("GOOD ENOUGH", words)
    return Headline("DONE" if None in now.setup.targets else "BOTH IN", words)


def _out_of_reach(now: Guidance) -> Iterator[str]:
    """Yield why a cabinet could not be called in with this meter."""
    for work in now.works:
        if work.stage is Stage.BEST and work.route.remark:
            yield work.route.remark


def _unsure(now: Guidance) -> str:
    """Return how sure the less sure is of those that could not be called in."""
    open_ones = [now.cabinets[side] for side in Side if now.works[side].stage is Stage.BEST]
    against = [one.appraisal and one.appraisal.against_target for one in open_ones]
    known = [one.within for one in against if one and one.within is not None]
    return f"UNSURE {percent(min(known))}" if len(known) == len(open_ones) else "UNSURE"


def _ended(now: Guidance, side: Side) -> Stage | None:
    """Return how the work on a cabinet ended; None where it had no target."""
    return None if now.setup.targets[side] is None else now.works[side].stage


def _end(now: Guidance, side: Side) -> str:
    within = within_words(now.cabinets[side].appraisal)
    if now.works[side].stage is Stage.BEST:
        how_sure = f", {within}" if within else ""
        return f"as near to target as this meter can tell{how_sure}"
    if now.works[side].stage is Stage.ENOUGH:
        return f"good enough, {within}"
    if now.setup.targets[side] is None:
        has_not_moved = now.setup.restoring is not None
        return "it has not moved" if has_not_moved else "measured"
    return "in, within the tolerance"


def _leading_move(now: Guidance, against: AgainstTarget) -> str:
    """Return the move to make first, as arrow and amount."""
    move, setup, side = against.nudge.move, now.setup, now.side
    _, quantity = leading_move(setup, against)
    inward, outward = ("→", "←") if side is Side.LEFT else ("←", "→")
    if quantity is Quantity.TOE_IN:
        turned_in, turned_out = ("↺", "↻") if side is Side.LEFT else ("↻", "↺")
        return f"{turned_in if move.toe_in_deg > 0 else turned_out} {abs(move.toe_in_deg):.1f}°"
    along_front, along_side = pushes(setup.room, side, move.side_mm, move.setback_mm)
    if quantity is Quantity.SIDE:
        arrow, length_mm = inward if move.side_mm > 0 else outward, along_front
    else:
        arrow, length_mm = "↓" if move.setback_mm > 0 else "↑", along_side
    return f"{arrow} {nudge_length(length_mm, setup.units)}"


def _swept(now: Guidance, gathered: Gathering) -> Headline:
    """Return how much of a sweep there is."""
    done = f"{len(gathered.readings_mm)}/{SWEEP_READINGS}"
    shortest = format_length(gathered.shown_mm, now.setup.units)
    words = f"{now.side} cabinet, {now.prompt.kind.words}: the shortest so far is {shortest}"
    return Headline(f"{now.side[0].upper()} SWEEP {done}", words)


def _to_go(now: Guidance, held: Shot) -> Headline:
    """Return how far the held point is still from where it would be with the cabinet on target."""
    units = now.setup.units
    if now.watch is None:
        read = format_length(held.reading_mm, units)
        words = f"{now.side} cabinet: {held.kind.words} reads {read}"
        return Headline(f"{now.side[0].upper()} {read}", words)
    stop_mm, verb = now.watch.stop_mm, "move" if now.watch.about is None else "turn"
    excess = held.reading_mm - stop_mm
    toward = arrow_to(held.kind.to)
    arrow = toward if excess > 0 else _OPPOSITE[toward]
    return Headline(
        f"{now.side[0].upper()} {arrow} {nudge_length(excess, units)}",
        f"{now.side} cabinet, {read_at(held.kind)}: {verb} {_way_words(now.setup, held, stop_mm)}",
    )


def _stop_words(now: Guidance) -> str:
    """The reading at which to stop, as a sentence that follows another."""
    return f". Stop at {format_length(now.watch.stop_mm, now.setup.units)}" if now.watch else ""


def _gap_words(setup: Setup, shot: Shot, wanted_mm: float) -> str:
    """Return what a shot read and what it would read on target, to follow its corner."""
    read, wanted = (format_bare(mm, setup.units) for mm in (shot.reading_mm, wanted_mm))
    if read == wanted:
        return f" reads {read}, as it should"
    return f": {_way_words(setup, shot, wanted_mm)} (reads {read}, should read {wanted})"


def _way_words(setup: Setup, shot: Shot, wanted_mm: float) -> str:
    """Return how far it is until a shot reads what it should, and which way."""
    excess = shot.reading_mm - wanted_mm
    way = "toward" if excess > 0 else "away from"
    return f"{nudge_length(excess, setup.units)} {way} the {shot.kind.to} wall"


def _after(setup: Setup, last: Shot) -> Iterator[str]:
    """Yield what the reading just taken says by itself."""
    wanted_mm = on_target(setup, last.kind)
    if wanted_mm is not None:
        yield f"{last.kind.cabinet} {read_at(last.kind)}{_gap_words(setup, last, wanted_mm)}"


def _once_more(setup: Setup, own: Appraisal) -> Iterator[str]:
    """Yield why a cabinet that stands still is measured again, until that is known."""
    verdicts = {} if own.against_target is None else own.against_target.verdicts
    unsure = [one for one in OF_CABINET if verdicts.get(one) is Verdict.UNSURE]
    if not unsure:
        return
    widest = max(unsure, key=lambda one: one.of(own.expanded) / one.tolerance(setup))
    width, tolerance = widest.of(own.expanded), widest.tolerance(setup)
    if widest.is_length:
        known = f"±{format_expanded(width, setup.units, whole=False)}"
        limit = format_limit(tolerance, setup.units)
    else:
        known, limit = f"±{width:.2f}°", f"{tolerance:g}°"
    yield f"{known} is too coarse to tell whether it is within {limit}. Shoot once more"


def _restored_words(setup: Setup, found: Comparison) -> Iterator[str]:
    """To within what the pair stands as the mark has it, and what differs."""
    assert setup.restoring is not None  # noqa: S101 - there is nothing to compare with otherwise
    if setup.restoring.is_check and found.seen:
        _, *others = moved_in_short(setup, found)
        yield from others
        yield from comparison_words(setup, found)
        return
    position, angle = _within([found.cabinets[side] for side in Side])
    far = difference_length(position, setup.units)
    yield f'both cabinets stand within {far} and {angle:.2f}° of "{setup.restoring.name}"'
    yield from comparison_words(setup, found)


def _within(cabinets: list[CabinetChange]) -> tuple[float, float]:
    """Return what no quantity differs by more than, as far as was measured: mm, degrees."""
    places = [one for each in cabinets for one in (each.side_mm, each.setback_mm)]
    return (
        max(abs(one.amount) + one.expanded for one in places),
        max(abs(each.toe_in_deg.amount) + each.toe_in_deg.expanded for each in cabinets),
    )
