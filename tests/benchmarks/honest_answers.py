"""What rounds are answered, and how much of that is true.

A round goes the way of ``witnessmark solve``. An answer is measured against where the cabinets
truly stand: side and setback as a tape shows them square to the true walls, toe-in against the true
front wall.
"""

from __future__ import annotations

import itertools
import math
import time
import zlib
from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

import msgspec
import numpy as np
from answer_regimes import REGIMES
from answer_rounds import Case, draw_case
from honesty import NAMES, suspects, verdicts_against
from shapely.geometry import Polygon

from witnessmark.errors import BadInput, TooFewShots
from witnessmark.geometry.verdict import Verdict
from witnessmark.model import Pair, Placement, Setup, Side
from witnessmark.placing.judge import PairAppraisal, appraise
from witnessmark_simulators.room import SimulatedRoom

PAIR_NAMES = ("side_mm", "setback_mm", "toe_in_deg", "path_to_seat_mm")
_OUTSIDE_MM = 50.0
"""A cabinet that reaches farther than this out of the room does not stand in it."""
_WORDS = 4
"""So many words of an error tell it from others, and name no shot yet."""
_TOUCHING_MM2 = 100.0
"""Cabinets that cover less floor than this in common only touch."""


class Off(NamedTuple):
    """How far a told figure is from the truth, and its expanded uncertainty."""

    off: float
    expanded: float

    def beyond(self, times: float) -> bool:
        """Whether it is off by more than so many times its expanded uncertainty."""
        return not abs(self.off) <= times * self.expanded


class Answer(NamedTuple):
    """What the answer to a round was worth."""

    cabinets: dict[str, list[Off]]
    """Of both cabinets, by quantity."""
    pair: dict[str, Off]
    called_in: int
    wrongly_in: int
    """Quantities of the cabinets that were called in, and those of them that are not."""
    pair_in: int
    pair_wrongly_in: int
    is_impossible: bool
    named: bool
    """Whether just the wrong shots are suspect."""
    accused: bool
    """Whether a shot that is not wrong is suspect."""
    unseen: bool
    """Whether no shot is suspect."""


class Outcome(NamedTuple):
    """One round: its answer, or None where it was asked back, and how long that took."""

    answer: Answer | None
    failure: str
    """How the error in place of an answer begins."""
    shots: int
    wrong: int
    """How many of the shots are wrong."""
    band: str
    ms: float


def outcome_of(name: str, number: int) -> Outcome:
    """One round of the regime of this name, the same for the same number."""
    regime = REGIMES[name]
    rng = np.random.default_rng((zlib.crc32(name.encode()), number))
    return solve(draw_case(regime, rng))


def solve(case: Case) -> Outcome:
    """Answer a round, and compare that with the truth."""
    begin = time.thread_time()
    appraisal, failure = None, ""
    try:
        appraisal = appraise(case.world.setup, case.shots)
    except (TooFewShots, BadInput, ArithmeticError, np.linalg.LinAlgError) as error:
        failure = f"{type(error).__name__}: {' '.join(str(error).split()[:_WORDS])} ..."
    ms = (time.thread_time() - begin) * 1e3
    answer = None if appraisal is None else _answer(case, appraisal)
    return Outcome(answer, failure, len(case.shots), len(case.wrong), case.band, ms)


def _answer(case: Case, appraisal: PairAppraisal) -> Answer:
    world, accused = case.world, suspects(appraisal)
    wrong = [case.shots[place].kind for place in case.wrong]
    cabinets: dict[str, list[Off]] = {name: [] for name in NAMES}
    for side, one in appraisal.cabinets.items():
        off = one.measured.minus(world.truth.standing[side])
        for name in NAMES:
            cabinets[name].append(Off(getattr(off, name), getattr(one.expanded, name)))
    called_in, wrongly_in = verdicts_against(world, appraisal)
    pair, pair_in, pair_wrongly_in = _pair(case, appraisal)
    named = {shot.kind for shot in accused}
    return Answer(
        cabinets,
        pair,
        called_in,
        wrongly_in,
        pair_in,
        pair_wrongly_in,
        is_impossible(world.setup, appraisal.measured),
        bool(wrong) and named == set(wrong),
        not named <= set(wrong),
        not named,
    )


def _pair(case: Case, appraisal: PairAppraisal) -> tuple[dict[str, Off], int, int]:
    told, truth, setup = appraisal.symmetry, true_symmetry(case.world.truth), case.world.setup
    if told is None:
        return {}, 0, 0
    pair = {
        name: Off(getattr(told.error, name) - truth[name], getattr(told.expanded, name))
        for name in PAIR_NAMES
    }
    limits = dict.fromkeys(PAIR_NAMES, setup.tolerance.position_mm)
    limits["toe_in_deg"] = setup.tolerance.toe_in_deg
    verdicts = dict(zip(PAIR_NAMES, told.verdict.values(), strict=True))
    called = [name for name in PAIR_NAMES if verdicts[name] is Verdict.IN]
    return pair, len(called), sum(abs(truth[name]) > limits[name] for name in called)


def true_symmetry(truth: SimulatedRoom) -> dict[str, float]:
    """Left minus right, by the room's own ray casting."""
    off = truth.standing.left.minus(truth.standing.right)
    left, right = (_path_mm(truth, side) for side in Side)
    return msgspec.structs.asdict(off) | {"path_to_seat_mm": left - right}


def _path_mm(truth: SimulatedRoom, side: Side) -> float:
    inner, outer = (np.array(truth.plan_point(side, f"front-{end}")) for end in ("inner", "outer"))
    height_mm = truth.cabinets[side].acoustic_height_mm or 0.0
    across = math.dist((inner + outer) / 2, truth.seat.plan)
    return math.hypot(across, height_mm - (truth.seat.ear_height_mm or 0.0))


def is_impossible(setup: Setup, measured: Pair[Placement | None]) -> bool:
    """Whether cabinets cannot stand so: out of the room, turned away, or in each other."""
    standing = {side: one for side in Side if (one := measured[side]) is not None}
    if any(not abs(one.toe_in_deg) <= 90.0 for one in standing.values()):
        return True
    some = next(iter(standing.values()))
    placed = Pair(standing.get(Side.LEFT, some), standing.get(Side.RIGHT, some))
    as_told = SimulatedRoom(setup.room, setup.cabinets, setup.seat, placed)
    boxes = [_outline(as_told, side) for side in standing]
    within = Polygon(setup.room.corners).buffer(_OUTSIDE_MM, join_style="mitre")
    if not all(within.covers(box) for box in boxes):
        return True
    return len(boxes) == len(Side) and boxes[0].intersection(boxes[1]).area > _TOUCHING_MM2


def _outline(room: SimulatedRoom, side: Side) -> Polygon:
    names = ("front-inner", "front-outer", "rear-outer", "rear-inner")
    return Polygon([room.plan_point(side, name) for name in names])


HEADINGS = (
    "rounds",
    "asked",
    "side",
    "setb",
    "toe",
    "p.side",
    "p.setb",
    "p.toe",
    "p.path",
    ">3U",
    "worst mm",
    "worst °",
    "in",
    "false",
    "p.in",
    "p.false",
    "named",
    "accused",
    "unseen",
    "imposs.",
    "ms",
)
"""Of a row. Shares are of the answers, but for those asked back, which are of all rounds."""


def row(found: Sequence[Outcome]) -> list[str]:
    """The figures of some rounds, under ``HEADINGS``."""
    answers = [one.answer for one in found if one.answer is not None]
    wrong = [one.answer for one in found if one.answer and 0 < one.wrong < one.shots]
    good = [one.answer for one in found if one.answer and one.wrong < one.shots]
    offs = {name: [off for one in answers for off in one.cabinets[name]] for name in NAMES}
    pairs = {name: [one.pair[name] for one in answers if one.pair] for name in PAIR_NAMES}
    every = list(itertools.chain.from_iterable(offs.values()))
    called = sum(one.called_in for one in answers)
    pair_called = sum(one.pair_in for one in answers)
    return [
        str(len(found)),
        _share([one.answer is None for one in found]),
        *(_share([not off.beyond(1.0) for off in offs[name]]) for name in NAMES),
        *(_share([not off.beyond(1.0) for off in pairs[name]]) for name in PAIR_NAMES),
        _share([off.beyond(3.0) for off in every], digits=2),
        _largest([*offs["side_mm"], *offs["setback_mm"]]),
        _largest(offs["toe_in_deg"]),
        str(called),
        _of(sum(one.wrongly_in for one in answers), called),
        str(pair_called),
        _of(sum(one.pair_wrongly_in for one in answers), pair_called),
        _share([one.named for one in wrong]),
        _share([one.accused for one in good], digits=2),
        _share([one.unseen for one in wrong]),
        _share([one.is_impossible for one in answers], digits=2),
        f"{np.median([one.ms for one in found]):.1f}",
    ]


def failures(found: Sequence[Outcome]) -> dict[str, int]:
    """How many rounds were not answered, by how their errors begin."""
    return dict(Counter(one.failure for one in found if one.failure).most_common())


def bands(found: Sequence[Outcome]) -> dict[str, list[Outcome]]:
    """The rounds by the size of their slips, where these are told apart."""
    names = sorted({one.band for one in found if one.band}, key=lambda name: float(name.split()[0]))
    return {name: [one for one in found if one.band == name] for name in names}


def _share(of: Sequence[bool], digits: int = 1) -> str:
    return _of(sum(of), len(of), digits)


def _of(part: int, whole: int, digits: int = 2) -> str:
    return f"{100 * part / whole:.{digits}f}" if whole else "-"


def _largest(offs: Sequence[Off]) -> str:
    return f"{max(abs(one.off) for one in offs):.3g}" if offs else "-"
