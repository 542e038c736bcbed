"""An evening: all that was heard in a room so far, and the position that is listened to now."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from functools import cached_property

import msgspec

from witnessmark.errors import BadInput
from witnessmark.listening.chart import Against, chart_text, grade_chart
from witnessmark.listening.difference import STAGES, PairPose, found, varied, wanted
from witnessmark.listening.judging import (
    latest_flagged,
    positions,
    struck_keys,
)
from witnessmark.listening.names import trial_names
from witnessmark.listening.order import Walk, kept_posture, walk
from witnessmark.model import Impression, Pair, Poses, Preference, Setup, Struck, Trial, Varied

_AGAINST = {Varied.SPREAD: Against.SPREAD, Varied.TOE_IN: Against.TOE_IN}
_UNSTORED = datetime.max.replace(tzinfo=UTC)
"""The time of a trial that is never stored."""
_NOWHERE = "targets: first choose where the pair will stand, or go to the first position"


class Evening(msgspec.Struct, frozen=True, dict=True):
    """All trials of a room by their keys, in the order of storing, and the choices between them.

    Those whose keys are ``struck_out`` are listed, and count for nothing.
    ``stage`` is what the person wants to vary next; without it the walk tells.
    """

    setup: Setup
    listed: dict[str, Trial] = {}
    choices: tuple[Preference, ...] = ()
    stage: Varied | None = None
    struck_out: frozenset[str] = frozenset()

    @classmethod
    def of(
        cls,
        setup: Setup,
        trials: dict[str, Trial],
        choices: tuple[Preference, ...],
        strikes: Iterable[Struck],
    ) -> Evening:
        """Return the evening of a room with all that was kept of it, in the order of keeping."""
        return cls(setup, trials, choices, struck_out=struck_keys(strikes))

    @cached_property
    def trials(self) -> dict[str, Trial]:
        """The trials that count."""
        return {key: trial for key, trial in self.listed.items() if key not in self.struck_out}

    def adding(self, key: str, trial: Trial) -> Evening:
        """Return the evening with one more trial, which is the latest."""
        return msgspec.structs.replace(self, listed={**self.listed, key: trial})

    def striking(self, key: str) -> Evening:
        """Return the evening with a trial struck out, or counting again."""
        return msgspec.structs.replace(self, struck_out=self.struck_out ^ {key})

    @cached_property
    def walk(self) -> Walk:
        """Where the walk is, and what to try next."""
        return walk(self.setup, self.trials, stage=self.stage)

    @cached_property
    def names(self) -> dict[str, str]:
        """What each trial is called, by its key."""
        return trial_names(self.setup, self.listed)

    @property
    def latest(self) -> str | None:
        """The key of the trial that was kept last."""
        return next(reversed(self.trials), None)

    @property
    def before(self) -> str | None:
        """The key of the latest trial of another position than that which was tried last."""
        first = positions(self.trials)
        latest = self.latest
        others = [key for key, position in first.items() if position != first.get(latest or "")]
        return others[-1] if others else None

    @property
    def is_at_the_latest(self) -> bool:
        """Whether the position that was tried last is the one that the pair is to stand at."""
        latest, here = self.latest, self.here
        return latest is not None and positions(self.trials)[latest] == here

    def back_to(self, key: str) -> PairPose:
        """Return where the pair is brought to stand as it did at a trial."""
        return kept_posture(self.setup, self.listed[key])

    @property
    def here(self) -> str | None:
        """The key of the first trial of the position that the pair is to stand at, if any."""
        now = _aimed_at(self.setup)
        if now is None:
            return None
        first = positions(self.trials)
        alike = [key for key in first if self._is_of(self.trials[key], now)]
        return first[alike[-1]] if alike else None

    def _is_of(self, trial: Trial, now: PairPose) -> bool:
        postures = (wanted(trial), found(trial))
        return any(varied(self.setup, each, now) is Varied.NOTHING for each in postures)

    def trial(self, heard: Impression, at: datetime, measured: Poses | None) -> Trial:
        """Return the position that is listened to, as a trial (UTC).

        Args:
            heard: what the person said of it.
            at: when.
            measured: where both cabinets were found, None where nobody measured.

        Raises:
            BadInput: when it is not known where the pair is to stand, or stands.
        """
        now = _aimed_at(self.setup)
        if now is None and measured is not None:
            now = PairPose(measured.placements, self.setup.tilt_targets_deg)
        if now is None:
            raise BadInput(_NOWHERE)
        repeats = self.here
        return Trial(
            at,
            Varied.NOTHING if repeats is not None else self._varied(now),
            now.placements,
            heard,
            now.tilts_deg,
            measured,
            repeats,
        )

    def _varied(self, now: PairPose) -> Varied:
        """What of the walk this position varies, else what it differs in from the one before."""
        walks, kept = [self.walk], latest_flagged(self.trials)
        if kept is not None:  # or each stage would set out from these very targets
            walks += [walk(self.setup, self.trials, stage=stage) for stage in STAGES]
        for proposal in (each for one in walks for each in one.proposals):
            if varied(self.setup, proposal.posture, now) is Varied.NOTHING:
                return proposal.varied
        before = kept or self.latest
        if before is None:
            return Varied.PLACE
        return varied(self.setup, wanted(self.trials[before]), now)

    @property
    def is_ahead(self) -> bool:
        """Whether the pair is to stand where the walk would go next."""
        following, now = self.walk.following, _aimed_at(self.setup)
        return (
            following is not None
            and now is not None
            and varied(self.setup, following.posture, now) is Varied.NOTHING
        )

    def place_words(self, measured: Poses | None) -> str:
        """Return which position this is, for the head of a screen."""
        if _aimed_at(self.setup) is None:
            return "No targets yet"
        repeated = self.here
        if repeated is not None:
            return f"{self.names[repeated]}, again"
        provisional = self.trial(Impression(), _UNSTORED, measured)
        return trial_names(self.setup, {**self.listed, "": provisional})[""]

    def chart_text(self, columns: int) -> str:
        """Return the grades over what is varied, as text; empty where nothing is graded."""
        against = _AGAINST.get(self.walk.stage, Against.SETBACK)
        chart = grade_chart(self.setup, self.trials, self.names, against)
        return chart_text(chart, columns) if chart.points else ""


def _aimed_at(setup: Setup) -> PairPose | None:
    left, right = setup.targets.left, setup.targets.right
    if left is None or right is None:
        return None
    return PairPose(Pair(left, right), setup.tilt_targets_deg)
