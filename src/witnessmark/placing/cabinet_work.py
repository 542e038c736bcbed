"""How far the work on one cabinet has come in a round."""

from __future__ import annotations

import enum

import msgspec

from witnessmark.model import OneCabinet, Placement, Setup, Shot, ShotKind, Side
from witnessmark.placing.shot_list import Route


class Stage(enum.StrEnum):
    """What is being done with a cabinet."""

    MEASURE = "measure"
    NUDGE = "nudge"
    SETTLED = "settled"
    BEST = "best"
    ENOUGH = "enough"


class Watch(msgspec.Struct, frozen=True):
    """A shot that is taken over and over while the cabinet is moved, until it reads ``stop_mm``."""

    kind: ShotKind
    start_mm: float
    """What it read before the cabinet was moved, as far as that is known."""
    stop_mm: float
    near_mm: float
    """How far from there it may be left."""
    about: str | None = None
    """The touch point about which the cabinet is turned meanwhile; None where it is pushed."""

    def made(self, reading_mm: float) -> float:
        """Return which part of the way is made: 0 at the start, 1 at the stop, more past it."""
        way_mm = self.stop_mm - self.start_mm
        return 1.0 if way_mm == 0 else (reading_mm - self.start_mm) / way_mm


class CabinetWork(msgspec.Struct, frozen=True, kw_only=True):
    """How far the work on one cabinet has come."""

    cabinet: OneCabinet
    route: Route
    """The shots of a whole walk round it."""
    todo: tuple[ShotKind, ...]
    """Shots of the walk that are still to be taken, the prompted one first."""
    belief: Placement
    """Where the cabinet is thought to stand before its new shots say so."""
    gate_mm: float
    """How far a reading may be from what that belief predicts."""
    stage: Stage = Stage.MEASURE
    shots: tuple[Shot, ...] = ()
    """All since the cabinet was last moved."""
    judged: tuple[Shot, ...] = ()
    """The shots of the last finished walk: the pose that is shown until the next is finished."""
    walks: int = 0
    """Finished walks since the cabinet was last moved."""
    repeated: tuple[ShotKind, ...] = ()
    """Suspect shots that are taken once more, or were."""
    wanted: tuple[ShotKind, ...] = ()
    """Shots that were skipped and are asked for all the same."""
    nudged_from: Placement | None = None
    """Where it stood when the nudge was asked for that its shots are taken after."""
    nudged_to: Placement | None = None
    """Where that nudge leads: what is in already stays as it was found."""
    watches: tuple[ShotKind, ...] = ()
    """The shots to watch one after another while that nudge is made."""
    watch: Watch | None = None
    """What the shot that was taken last is watched for, if it is one of these."""
    coming: bool = False
    """The point that is watched is not yet where the nudge should bring it."""
    contrary: bool = False
    """It was found farther from its target than before the nudge, and is measured once more."""
    nudges: int = 0
    no_answer: str = ""
    """Why its last finished walk gave no position, in words; empty where it did."""

    @property
    def setup(self) -> Setup:
        """Everything that is known before the first shot."""
        return self.cabinet.setup

    @property
    def side(self) -> Side:
        """Which cabinet it is."""
        return self.cabinet.side

    @property
    def target(self) -> Placement | None:
        """Where the cabinet is to stand; None where that is not chosen."""
        return self.cabinet.target

    @property
    def done(self) -> bool:
        """Whether there is nothing left to do with it."""
        return self.stage in (Stage.SETTLED, Stage.BEST, Stage.ENOUGH)

    @property
    def before(self) -> ShotKind | None:
        """The shot that was taken last, if it can be asked for once more."""
        last = self.shots[-1].kind if self.stage is Stage.MEASURE and self.shots else None
        return last if last in self.route.shots else None

    def afresh(self) -> CabinetWork:
        """Return it begun again: it may stand elsewhere, and old shots only say what to expect."""
        nudged = self.stage is Stage.NUDGE
        return CabinetWork(
            cabinet=self.cabinet,
            route=self.route,
            todo=self.todo if nudged else self.route.shots,
            belief=self.belief,
            gate_mm=self.gate_mm,
            judged=self.judged,
            nudged_from=self.nudged_from if nudged else None,
            nudged_to=self.nudged_to if nudged else None,
            watches=self.watches if nudged else (),
            nudges=self.nudges + nudged,
        )

    def in_doubt(self, gate_mm: float) -> CabinetWork:
        """Return it to be measured again after a nudge, by shots that may be off by a gate, mm."""
        return msgspec.structs.replace(
            self.afresh(), gate_mm=gate_mm, judged=self.shots, contrary=True
        )

    def under_way(self) -> CabinetWork:
        """Return it as it is being measured, begun again where it was not."""
        return self if self.stage is Stage.MEASURE else self.afresh()

    def with_shot(self, shot: Shot) -> CabinetWork:
        """Return it with a shot that was asked for, or with one more of a kind that it has."""
        if shot.kind not in self.todo:
            return msgspec.structs.replace(self, shots=(*self.shots, shot))
        again = shot.kind in self.repeated
        kept = tuple(old for old in self.shots if not (again and old.kind == shot.kind))
        place = self.todo.index(shot.kind)
        todo = self.todo[:place] + self.todo[place + 1 :]
        return msgspec.structs.replace(self, shots=(*kept, shot), todo=todo)

    def once_more(self, kind: ShotKind) -> CabinetWork:
        """Return it asking for a shot again; the new reading then replaces the old one."""
        others = tuple(one for one in self.todo if one != kind)
        repeated = tuple(dict.fromkeys((*self.repeated, kind)))
        return msgspec.structs.replace(
            self, todo=(kind, *others), repeated=repeated, watch=None, coming=False
        )

    def wanting(self, kind: ShotKind) -> CabinetWork:
        """Return it asking for a shot that tells apart the two places that its shots allow."""
        return msgspec.structs.replace(self, todo=(kind,), wanted=(*self.wanted, kind))

    def short_of_shots(self) -> CabinetWork:
        """Return it asking for what was skipped, or for all again where the shots contradict."""
        order = tuple(dict.fromkeys(self.route.shots))
        taken = {shot.kind for shot in self.shots}
        skipped = tuple(kind for kind in order if kind not in taken)
        if skipped:
            return msgspec.structs.replace(self, todo=skipped, wanted=skipped)
        return msgspec.structs.replace(self.afresh(), todo=order, repeated=order)
