"""What a phone says aloud: short sentences for a person who does not look at it.

What matters comes first, as it may be cut off by what is newer. Corners and walls are named as on
the screen; lengths are rounded and spelled (``words/numerals.py``).
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from witnessmark.geometry.verdict import Verdict
from witnessmark.locate.nudge import pushes
from witnessmark.model import OF_CABINET, Act, AimedAt, Held, Quantity, ShotKind, Side
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.expectation import Gathering
from witnessmark.placing.guidance import Guidance, Task
from witnessmark.placing.judge import AgainstTarget
from witnessmark.sentences import sentence
from witnessmark.words.next_shot import next_shot
from witnessmark.words.numerals import angle_words, move_words, number_words, reading_words

_LETTERS_A_SECOND = 14.0
"""Speed at which a browser reads aloud; from memory, 150 words a minute or a little more."""
_THERE_MM = 1.0
"""Distance from the reading to stop at, mm, below which no further move is asked for."""


class ChangingNumber(msgspec.Struct, frozen=True):
    """A number that changes while a cabinet is moved, so that it can be past before it is said."""

    now: float
    slack: float
    """By how much it may change while it is said and still be of use."""


class Spoken(msgspec.Struct, frozen=True):
    """What is to be said of one state."""

    words: str
    lasts_s: float
    """About how long it takes to say, seconds."""
    changing: ChangingNumber | None = None
    """The number that it tells, where that is one that changes."""

    @classmethod
    def of(cls, words: str, changing: ChangingNumber | None = None) -> Spoken:
        """Return words to be said, with about how long they last."""
        return cls(words, round(len(words) / _LETTERS_A_SECOND, 1), changing)


def spoken(now: Guidance) -> Spoken:
    """Return what is said aloud of what is known and asked for now."""
    return Spoken.of(" ".join(map(sentence, _fragments(now))), _changing(now))


def _changing(now: Guidance) -> ChangingNumber | None:
    """Return the number on its way, mm: of a point that is watched, or the shortest of a sweep."""
    slack = now.setup.tolerance.position_mm
    if now.task is Task.SWEEP and now.gathered is not None:
        return ChangingNumber(now.gathered.shown_mm, slack)
    return None if now.held is None else ChangingNumber(now.held.reading_mm, slack)


def _fragments(now: Guidance) -> Iterator[str]:
    """Yield what becomes sentences, what matters most first."""
    if now.question is not None:
        yield from _question(now)
    elif now.task is Task.SWEEP and now.gathered is not None:
        yield from _sweep(now, now.gathered)
    elif now.held is not None:
        yield from _on_the_way(now)
    elif now.task is Task.NOTHING:
        yield from _finished(now)
    elif now.task is Task.NUDGE and now.own is not None and now.own.against_target is not None:
        yield now.side.value
        yield ", then ".join(_moves(now, now.own.against_target))
        if now.is_less_than_hands_can:
            yield "less than hands can usually do"
        if Act.ENOUGH in now.offered:
            yield "or call it good enough"
        yield from _prompt(now, "then shoot ")
    else:
        if _has_come(now):
            yield "stop"
        yield from _just_settled(now)
        yield now.side.value
        yield from _prompt(now)


def _question(now: Guidance) -> Iterator[str]:
    question, units = now.question, now.setup.units
    assert question is not None  # noqa: S101 - the caller asks only where there is one
    yield "question"
    yield now.side.value
    yield _shot_words(now.prompt.kind)
    read = reading_words(question.reading_mm, units)
    if question.expected_mm is None:
        yield f"read {read}, no distance in this room"
    else:
        yield f"read {read}, not {reading_words(question.expected_mm, units)}"
    if question.instead is not None:
        yield f"it fits {_shot_words(question.instead)}"
    yield "shoot again"


def _sweep(now: Guidance, gathered: Gathering) -> Iterator[str]:
    if gathered.missing:
        yield f"{number_words(gathered.missing)} more"
    yield f"shortest {reading_words(gathered.shown_mm, now.setup.units)}"


def _on_the_way(now: Guidance) -> Iterator[str]:
    """Yield how far the point that is watched has still to go."""
    held, shot = now.held, next_shot(now)
    assert held is not None  # noqa: S101 - the caller asks only where a point is watched
    assert shot is not None  # noqa: S101 - a point is watched, so not all is done
    if shot.kind != held.kind or shot.should_read_mm is None:
        yield f"reads {reading_words(held.reading_mm, now.setup.units)}"
        return
    excess = held.reading_mm - shot.should_read_mm
    if abs(excess) < _THERE_MM:
        yield "stop"
        if not now.hold:
            yield "shoot once more"
        return
    way = "toward" if excess > 0 else "away from"
    verb = "turn " if now.watch is not None and now.watch.about is not None else ""
    yield f"{verb}{move_words(excess, now.setup.units)} {way} {_aim_words(held.kind)}"


def _has_come(now: Guidance) -> bool:
    """Return whether a watched point was moved and is where it should be."""
    watch = now.work.watch
    if watch is None or now.held is not None:
        return False
    return abs(watch.start_mm - watch.stop_mm) > watch.near_mm


def _moves(now: Guidance, against: AgainstTarget) -> Iterator[str]:
    """Yield the moves of a nudge that are not right yet, the farthest for its tolerance first."""
    move, setup, side = against.nudge.move, now.setup, now.side
    if against.nudge.hold is not None:
        yield f"hold the {_point(against.nudge.hold)} foot and {_turn(move.toe_in_deg)} about it"
        return
    along_front, along_side = pushes(setup.room, side, move.side_mm, move.setback_mm)
    inner = side.other if along_front > 0 else side
    texts = {
        Quantity.SIDE: f"{move_words(along_front, setup.units)} toward the {inner} wall",
        Quantity.SETBACK: (
            f"{move_words(along_side, setup.units)} toward the "
            f"{'seat' if along_side > 0 else 'front wall'}"
        ),
        Quantity.TOE_IN: _turn(move.toe_in_deg),
    }
    wrong = [one for one in OF_CABINET if against.verdicts[one] is not Verdict.IN]
    for one in sorted(wrong, key=lambda one: -abs(one.of(move)) / one.tolerance(setup)):
        yield texts[one]


def _turn(move_deg: float) -> str:
    return f"turn {'in' if move_deg > 0 else 'out'} {angle_words(move_deg)}"


def _prompt(now: Guidance, first: str = "") -> Iterator[str]:
    """Yield the shot to take next, and what it should read."""
    shot = next_shot(now)
    assert shot is not None  # noqa: S101 - the caller asks only while something is to be done
    again = "once more, " if shot.again and not first else ""
    yield f"{first}{again}{_shot_words(shot.kind)}"
    if shot.should_read_mm is not None:
        yield f"should read {reading_words(shot.should_read_mm, now.setup.units)}"


def _just_settled(now: Guidance) -> Iterator[str]:
    """Yield how the other cabinet ended, where the last shot was of it."""
    other = now.side.other
    if now.last is not None and now.last.kind.cabinet is other and (end := _end(now, other)):
        yield f"{other} is {end}"


def _end(now: Guidance, side: Side) -> str:
    """Return how a cabinet ended; empty while it is still worked on."""
    match now.works[side].stage:
        case Stage.BEST:
            return "as near to target as this meter can tell"
        case Stage.ENOUGH:
            return "good enough"
        case Stage.SETTLED:
            return "measured" if now.setup.targets[side] is None else "in"
    return ""


def _finished(now: Guidance) -> Iterator[str]:
    restoring = now.setup.restoring
    if restoring is not None and restoring.is_check:
        seen = now.against is not None and now.against.seen
        yield "moved since the mark" if seen else "both stand as marked"
        return
    left, right = (_end(now, side) for side in Side)
    if left == right:
        yield f"both cabinets are {left}"
    else:
        yield f"left is {left}"
        yield f"right is {right}"
    if now.symmetry is not None:
        yield {
            Verdict.IN: "left and right match",
            Verdict.OUT: "left and right do not match",
            Verdict.UNSURE: "cannot yet tell whether left and right match",
        }[now.symmetry.worst]


def _shot_words(kind: ShotKind) -> str:
    """Spell a shot: from which corner to what."""
    if kind.held is Held.SPOT:
        return f"the dot from {_point(kind.point)}, measured from the {kind.to} wall"
    return f"{_point(kind.point)} to {_aim_words(kind)}"


def _aim_words(kind: ShotKind) -> str:
    names = {AimedAt.SEAT: "the seat mark", AimedAt.CABINET: "the other cabinet"}
    return names.get(kind.to, f"the {kind.to} wall")


def _point(name: str) -> str:
    return name.replace("-", " ")
