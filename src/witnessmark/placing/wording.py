"""The sentences of a round, and the few large characters that can be read from three metres."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from witnessmark.geometry.nudge import (
    FootMove,
    nudge_length,
    setback_words,
    side_words,
)
from witnessmark.geometry.symmetry import Symmetry
from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import format_length
from witnessmark.model import AimedAt, Held, Setup, ShotKind, Side
from witnessmark.placing.appraise import Appraisal
from witnessmark.placing.expect import on_target
from witnessmark.placing.round import Round
from witnessmark.placing.stand import Stage
from witnessmark.placing.walk import how_to_hold

_ARROW_TO = {
    AimedAt.FRONT: "↑",
    AimedAt.BACK: "↓",
    AimedAt.LEFT: "←",
    AimedAt.RIGHT: "→",
    AimedAt.SEAT: "↓",
    AimedAt.CABINET: "↔",
}


class Headline(msgspec.Struct, frozen=True):
    """The one thing to read from three metres: a few characters, and the sentence they stand for.

    ``figure`` is made of capitals, digits, signs and the arrows ← → ↑ ↓ ↔ ↺ ↻.
    """

    figure: str
    words: str


def headline(state: Round, own: Appraisal | None) -> Headline:
    """The one thing to do or to know now.

    Args:
        state: the round.
        own: what is known of the cabinet that is being worked on.
    """
    units = state.setup.units
    if state.question is not None:
        read = format_length(state.question.reading_mm, units)
        expected = format_length(state.question.expected_mm, units)
        return Headline(f"{read}?", f"{read} was read where about {expected} was expected")
    if state.finished:
        return _finished(state)
    if state.stand.stage is Stage.NUDGE and own is not None and own.nudge is not None:
        return Headline(
            _leading_move(state.setup, state.side, own),
            f"{state.side} cabinet: {own.nudge.words[0]}",
        )
    if state.hold and state.last is not None and state.last.kind == state.prompted:
        return _to_go(state)
    kind = state.prompted
    return Headline(
        f"{kind.point} {_ARROW_TO[kind.to]}".upper(),
        f"{state.side} cabinet: shoot {shot_words(kind)}",
    )


def shot_words(kind: ShotKind) -> str:
    """A shot in words: from where to where."""
    to = {AimedAt.SEAT: "the seat mark", AimedAt.CABINET: "the other cabinet"}.get(
        kind.to, f"{kind.to} wall"
    )
    return f"{kind.point} to {to}"


def details(state: Round, own: Appraisal | None, pair: Symmetry | None) -> tuple[str, ...]:
    """Further sentences for the present state, the most useful first."""
    return tuple(_details(state, own, pair))


def _details(state: Round, own: Appraisal | None, pair: Symmetry | None) -> Iterator[str]:
    if state.question is not None:
        yield "shoot again: the same once more is taken, one that fits replaces it"
        return
    if own is not None:
        for check in own.suspects:
            yield f"{shot_words(check.shot.kind)}: {check.cause}"
    if state.finished:
        if pair is not None:
            yield symmetry_words(state.setup, pair)
        yield "a shot from here on checks the pair again"
        return
    if state.stand.stage is Stage.NUDGE and own is not None and own.nudge is not None:
        yield from own.nudge.words[1:]
        yield from (foot_words(state.setup, state.side, *foot) for foot in own.nudge.feet.items())
        yield f"then shoot {shot_words(state.prompted)} again"
        return
    yield f"hold the meter {how_to_hold(state.prompted)}"
    if state.prompted in state.stand.repeated:
        yield "this shot and the others do not agree: once more, please"
    elif state.stand.walks and own is not None:
        yield _too_coarse(state.setup, own)
    if state.last is not None and state.last.kind != state.prompted:
        yield from _after(state)


def _finished(state: Round) -> Headline:
    settled = all(state.stands[side].stage is Stage.SETTLED for side in Side)
    if not settled:
        return Headline("UNSURE", "both as near to target as this meter can tell")
    if state.setup.targets[state.side] is None:
        return Headline("DONE", "both cabinets measured; no targets are set")
    return Headline("BOTH IN", "both cabinets stand in, within the tolerance")


def _leading_move(setup: Setup, side: Side, own: Appraisal) -> str:
    """Arrow and amount of the quantity that is farthest out for its tolerance."""
    assert own.nudge is not None  # noqa: S101 - asked for only with a nudge at hand
    move, verdicts = own.nudge.move, own.verdicts or {}
    position, toe_in = setup.tolerance.position_mm, setup.tolerance.toe_in_deg
    inward, outward = ("→", "←") if side is Side.LEFT else ("←", "→")
    turned_in, turned_out = ("↺", "↻") if side is Side.LEFT else ("↻", "↺")
    far = [
        (
            verdicts.get("side") != Verdict.IN,
            abs(move.side_mm) / position,
            f"{inward if move.side_mm > 0 else outward} {nudge_length(move.side_mm, setup.units)}",
        ),
        (
            verdicts.get("setback") != Verdict.IN,
            abs(move.setback_mm) / position,
            f"{'↓' if move.setback_mm > 0 else '↑'} {nudge_length(move.setback_mm, setup.units)}",
        ),
        (
            verdicts.get("toe_in") != Verdict.IN,
            abs(move.toe_in_deg) / toe_in,
            f"{turned_in if move.toe_in_deg > 0 else turned_out} {abs(move.toe_in_deg):.1f}°",
        ),
    ]
    return max(far)[2]


def _to_go(state: Round) -> Headline:
    """How far the held point is still from where it would be with the cabinet on target."""
    assert state.last is not None  # noqa: S101 - asked for only after a reading
    wanted = on_target(state.setup, state.prompted)
    read = format_length(state.last.reading_mm, state.setup.units)
    if wanted is None:
        return Headline(read, f"{shot_words(state.prompted)} reads {read}")
    return Headline(
        _way_to_go(state, wanted), f"{state.side} cabinet, this point: {_gap_words(state, wanted)}"
    )


def _way_to_go(state: Round, wanted_mm: float) -> str:
    assert state.last is not None  # noqa: S101
    excess = state.last.reading_mm - wanted_mm
    toward = _ARROW_TO[state.prompted.to]
    away = {"↑": "↓", "↓": "↑", "←": "→", "→": "←"}.get(toward, toward)
    return f"{toward if excess > 0 else away} {nudge_length(excess, state.setup.units)}"


def _gap_words(state: Round, wanted_mm: float) -> str:
    assert state.last is not None  # noqa: S101
    units = state.setup.units
    excess = state.last.reading_mm - wanted_mm
    toward = "nearer to" if excess > 0 else "farther from"
    return (
        f"{nudge_length(excess, units)} {toward} the {state.last.kind.to} wall "
        f"(reads {format_length(state.last.reading_mm, units)}, "
        f"on target {format_length(wanted_mm, units)})"
    )


def _after(state: Round) -> Iterator[str]:
    """What the reading just taken says by itself."""
    assert state.last is not None  # noqa: S101
    wanted = on_target(state.setup, state.last.kind)
    if wanted is not None and state.last.kind.held in (Held.WALL, Held.CABINET):
        yield f"last, {shot_words(state.last.kind)}: {_gap_words(state, wanted)}"


def _too_coarse(setup: Setup, own: Appraisal) -> str:
    width = max(own.expanded.side_mm, own.expanded.setback_mm)
    if width / setup.tolerance.position_mm < own.expanded.toe_in_deg / setup.tolerance.toe_in_deg:
        return (
            f"known to ±{own.expanded.toe_in_deg:.2f}°, too coarse for a tolerance of "
            f"{setup.tolerance.toe_in_deg:g}°: measuring once more"
        )
    return (
        f"known to ±{width:.1f} mm, too coarse for a tolerance of "
        f"{setup.tolerance.position_mm:g} mm: measuring once more"
    )


def foot_words(setup: Setup, side: Side, name: str, foot: FootMove) -> str:
    """How one foot goes, in words."""
    return (
        f"{name} foot: {side_words(side, foot.side_mm, setup.units)}, "
        f"{setback_words(foot.setback_mm, setup.units)}"
    )


def symmetry_words(setup: Setup, pair: Symmetry) -> str:
    """The symmetry of the pair in one sentence, with how well it is known."""
    units = setup.units
    error, expanded = pair.error, pair.expanded
    words = {
        Verdict.IN: "left and right match",
        Verdict.OUT: "left and right do not match",
        Verdict.UNSURE: "whether left and right match is more than this meter can tell",
    }[pair.worst]
    return (
        f"{words}: side {nudge_length(error.side_mm, units)}, "
        f"setback {nudge_length(error.setback_mm, units)}, toe-in {abs(error.toe_in_deg):.2f}° "
        f"apart, known to ±{nudge_length(max(expanded.side_mm, expanded.setback_mm), units)} "
        f"and ±{expanded.toe_in_deg:.2f}°"
    )
