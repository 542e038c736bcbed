"""Where the cabinets stand: the poses of one or both, from shots, with what is known of them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Self, cast

import msgspec
import numpy as np

from witnessmark.errors import TooFewShots
from witnessmark.geometry.adjust import (
    Adjustment,
    FloatArray,
    Model,
    NotDetermined,
    adjust,
    is_sound,
)
from witnessmark.locate.bounds import FACING_DEG, cannot_be, is_unlikely
from witnessmark.locate.observe import ShotModel, shot_model
from witnessmark.locate.walls import Misfit, Pose, WeighedWalls
from witnessmark.model import OneCabinet, Pair, Placement, Poses, Setup, Shot, ShotKind, Side, Tilt
from witnessmark.model.pair import COVERAGE_FACTOR, Covariance

_UNLIKELY = 13.8
"""Chi-square by which an unlikely pose must fit better than a usual one: a thousand to one."""
_UNKNOWNS = 3
"""Unknowns of a cabinet (side, setback, toe-in): that few shots cannot contradict each other."""
_FITS = 25.0
"""Chi-square up to which the few shots of one cabinet are no contradiction yet."""
_FAR_WORSE = 250.0
"""Chi-square by which a pose may fit worse than one that accounts for the shots, and still be a
rival: more than an unlikely pose and shots of the worst standing can have between them."""
_FACING = math.radians(FACING_DEG)
_GUESSED_TOE_INS = (-10.0, 15.0, 45.0)
"""Toe-ins, degrees, to start the iteration from where shots to walls tell none."""
_SAME_MM = 0.5
_SAME_DEG = 0.05
"""Difference of toe-in, degrees, below which two poses are one minimum, reached twice."""


class Located(msgspec.Struct, frozen=True):
    """The poses that fit the shots best.

    ``covariance`` is (3 c, 3 c) over side mm, setback mm, toe-in degrees of each cabinet of
    ``placements`` in order, errors shared by all shots of the meter included, so that they cancel
    in differences.
    """

    placements: dict[Side, Placement]
    covariance: FloatArray
    adjustment: Adjustment
    kinds: tuple[ShotKind, ...]
    zero_mm: float
    """The zero error of the meter that the shots themselves suggest."""
    settled: bool = True
    """Whether nothing else accounts for the shots as well; only then may a verdict be ``in``."""

    def covariance_of(self, side: Side) -> FloatArray:
        """Return (3, 3) the covariance of one cabinet's side mm, setback mm and toe-in degrees."""
        start = 3 * list(self.placements).index(side)
        block: FloatArray = self.covariance[start : start + 3, start : start + 3]
        return block

    def expanded(self, side: Side) -> Placement:
        """Return the expanded uncertainty (k = 2) of each quantity of one cabinet's placement."""
        variances = self.covariance_of(side).diagonal().tolist()
        return Placement(*(COVERAGE_FACTOR * math.sqrt(variance) for variance in variances))


def poses_of(located: Located, tilts: Pair[Tilt | None]) -> Poses:
    """Return both placements and their covariance as a record, of a pair located together."""
    left, right = (located.placements[side] for side in Side)
    rows = tuple(tuple(row) for row in located.covariance.tolist())
    return Poses(Pair(left, right), cast("Covariance", rows), tilts)


def locate(
    setup: Setup, shots: Sequence[Shot], start: Mapping[Side, Placement] | None = None
) -> Located:
    """Return the poses that fit the shots best, of all that a pair of loudspeakers can have.

    Args:
        setup: room, cabinets, seat and the meter's error model.
        shots: any number from any touch points.
        start: where each cabinet is thought to stand: of poses that fit alike the nearer one is
            taken. Without it, the target or the middle of its half of the room.

    Raises:
        TooFewShots: naming the shots that are missing.
        BadInput: when a shot's point or aim does not exist.
        NoPose: when nothing that a pair can be fits the shots.
    """
    found = Fitting.of(setup, shots, start).solutions()
    if not found:
        raise NoPose("no place in the room fits these shots")
    return found[0]


class NoPose(ArithmeticError):
    """No pose that a pair of loudspeakers can have fits the shots."""


@dataclass(frozen=True, slots=True)
class Fitting:
    """Shots that are to be fitted, all of them or without some."""

    setup: Setup
    shots: tuple[Shot, ...]
    model: ShotModel
    observed: FloatArray
    sigma: FloatArray
    likely: tuple[Pose, ...]
    """Where each cabinet of the model is thought to stand."""

    @classmethod
    def of(
        cls, setup: Setup, shots: Sequence[Shot], start: Mapping[Side, Placement] | None = None
    ) -> Self:
        """Return the fitting of all shots; the arguments are those of ``locate``.

        Raises:
            TooFewShots: when there is no shot.
            BadInput: when a shot's point or aim does not exist.
        """
        if not shots:
            raise TooFewShots("missing every shot: none was taken, and a cabinet needs three")
        model = shot_model(setup, tuple(shot.kind for shot in shots))
        likely = tuple(_guess(setup, side, start or {}) for side in model.sides)
        observed = model.observed(shots)
        return cls(setup, tuple(shots), model, observed, model.sigma_of(shots), likely)

    def solutions(
        self, without: frozenset[int] = frozenset(), *, anywhere: bool = False
    ) -> list[Located]:
        """Return every pose that is a least of the misfit and that a pair can have, best first.

        Once one accounts for the shots, those are passed over that would fit far worse.

        Args:
            without: rows of the model, shots or priors, that are left out.
            anywhere: also poses that no pair of loudspeakers can have.

        Raises:
            TooFewShots: naming the shots that are missing.
        """
        rows = self._rows(without)
        model: Model = self.model
        observed, sigma = self.observed, self.sigma
        if without:
            model, observed, sigma = _some_rows(self.model, rows), observed[rows], sigma[rows]
        found: list[Located] = []
        loose: FloatArray | None = None
        is_flat = False
        for start in self._starts(without, found, anywhere=anywhere):
            try:
                adjustment = adjust(model, start, observed, sigma)
            except NotDetermined as error:
                loose = error.loose
                continue
            except ArithmeticError:
                is_flat = True  # no bend to come to rest in
                continue
            located = self._located(adjustment, rows)
            is_new = not any(_is_same(located, other) for other in found)
            if is_new and (anywhere or cannot_be(self.setup, located.placements) is None):
                found.append(located)
        if not found and loose is not None:
            raise TooFewShots(_missing(self.setup, self.model, loose))
        if not found and is_flat and self._may_agree(without):
            raise TooFewShots(
                "missing a shot that fixes the toe-in: these leave it open; take one more to a "
                "wall, from another touch point"
            )
        return sorted(found, key=self._rank) if len(found) > 1 else found

    def where_likely(self) -> Located:
        """Return the poses next to the likely ones, without a look at others.

        Raises:
            ArithmeticError: when the shots do not fix them.
        """
        start = np.zeros(self.model.unknowns)
        start[: 3 * len(self.likely)] = np.concatenate(self.likely)
        return self._located(adjust(self.model, start, self.observed, self.sigma), self._rows())

    def with_unknown(self, located: Located, column: FloatArray) -> Located | None:
        """Return the poses with one more unknown, which is the last of the adjustment's estimate.

        None where that leaves no pose that a pair can have.

        Args:
            located: poses by all shots, to begin from.
            column: (m,) by how much the unknown changes each reading.
        """
        start = np.append(located.adjustment.estimate, 0.0)
        model = _with_column(self.model, column)
        try:
            found = self._located(adjust(model, start, self.observed, self.sigma), self._rows())
        except ArithmeticError:
            return None
        return found if cannot_be(self.setup, found.placements) is None else None

    def misfits(self, without: frozenset[int] = frozenset()) -> list[Misfit | None]:
        """Return what the shots to walls alone say of the toe-in of each cabinet of the model."""
        shots = self.model.shots
        return self._walls(without).misfits(self.observed[:shots])

    def misfits_about(self, located: Located) -> list[Misfit | None]:
        """Return the same of each cabinet while the other one is turned as it was located."""
        turns = [math.radians(one.toe_in_deg) for one in located.placements.values()]
        return self._walls(frozenset()).misfits_beside(
            self.observed[: self.model.shots], turns, located.zero_mm
        )

    def turned(self, located: Located, side: Side, toe_in_deg: float) -> Located:
        """Return the poses with one cabinet at this toe-in, and the positions that go with it."""
        turns = [
            math.radians(toe_in_deg if one is side else placement.toe_in_deg)
            for one, placement in located.placements.items()
        ]
        poses, _ = self._walls(frozenset()).poses(self.misfits(), turns)
        pose = poses[list(located.placements).index(side)]
        assert pose is not None  # noqa: S101 - it was given a toe-in
        placement = Placement(pose[0], pose[1], toe_in_deg)
        return msgspec.structs.replace(located, placements=located.placements | {side: placement})

    def _rows(self, without: frozenset[int] = frozenset()) -> list[int]:
        return [row for row in range(len(self.observed)) if row not in without]

    def _walls(self, without: frozenset[int]) -> WeighedWalls:
        if not without:
            return self.model.weighed_walls(self.sigma)
        sigma = self.sigma.copy()
        sigma[list(without)] = np.inf
        return self.model.weighed_walls(sigma)

    def _starts(
        self, without: frozenset[int], found: Sequence[Located], *, anywhere: bool
    ) -> Iterator[FloatArray]:
        """Yield first guesses, one near every least of the misfit.

        Those are passed over that would fit far worse than one of ``found``, which the caller adds
        to meanwhile.
        """
        walls = self._walls(without)
        misfits = walls.misfits(self.observed[: self.model.shots])
        share = self._share_at_walls(without)
        errors = [0.0] * (self.model.unknowns - 3 * len(misfits))
        each: list[list[tuple[float, float | None]]] = []
        for misfit in misfits:
            least = [] if misfit is None else misfit.least()
            facing = [one for one in least if anywhere or abs(one.toe_in) <= _FACING]
            each.append([*facing] if least else [(0.0, None)])
        if not all(each):
            return
        # what one cabinet's shots leave open has no say in the other's
        for turned in itertools.product(*each):
            sizes, turns = zip(*turned, strict=True)
            if any(self._is_far_better(one, share * max(sizes)) for one in found):
                continue
            poses, zero_mm = walls.poses(misfits, turns)
            if self.model.zero_column is not None:
                errors[0] = zero_mm
            for guessed in _guessed(self.setup, self.likely, poses):
                yield np.array([*itertools.chain(*guessed), *errors])

    def _share_at_walls(self, without: frozenset[int]) -> float:
        """Return which part of the misfit at walls is the least that all shots together can have.

        There each distance is weighed by the cosine to its wall, which only makes it less; but the
        meter's errors are not, and a pose can have as much of them as its misfit allows.
        """
        shots, meter = self.model.shots, self.setup.meter
        if any(row >= shots for row in without):
            return 0.0  # nothing holds the meter's errors
        most_mm = meter.zero_mm + meter.scale_ppm * 1e-6 * self.observed[:shots].max()
        return float((1.0 + most_mm * np.sqrt((self.sigma[:shots] ** -2).sum())) ** -2)

    def _is_far_better(self, located: Located, misfit: float) -> bool:
        """Return whether a pose accounts for the shots, and what has this misfit is no rival."""
        far_worse = located.adjustment.chi_square + _FAR_WORSE
        return misfit > far_worse and is_sound(located.adjustment, len(self.shots))

    def _may_agree(self, without: frozenset[int]) -> bool:
        """Return whether the shots of no cabinet are known to contradict one another."""
        for side, misfit in zip(self.model.sides, self.misfits(without), strict=True):
            own = [
                row
                for row, shot in enumerate(self.shots)
                if shot.kind.cabinet is side and row not in without
            ]
            least = [] if misfit is None else misfit.least()
            fits = bool(least) and least[0].chi_square <= _FITS
            if len(own) > _UNKNOWNS and not fits:
                return False
        return True

    def _rank(self, located: Located) -> float:
        """Return the badness; of poses that fit alike, less for the one turned as is likely."""
        turned = zip(located.placements.values(), self.likely, strict=True)
        return badness(self.setup, located) - sum(
            math.cos(math.radians(placement.toe_in_deg) - likely[2]) for placement, likely in turned
        )

    def _located(self, adjustment: Adjustment, rows: list[int]) -> Located:
        kinds = tuple(self.shots[row].kind for row in rows if row < len(self.shots))
        return _located(self.model, kinds, adjustment)


def badness(setup: Setup, located: Located) -> float:
    """Return how little poses account for the shots: their chi-square, more for unlikely poses."""
    unlikely = sum(is_unlikely(setup, *placed) for placed in located.placements.items())
    return located.adjustment.chi_square + _UNLIKELY * unlikely


def expanded_of(
    cabinet: OneCabinet, placement: Placement, kinds: Sequence[ShotKind]
) -> Placement | None:
    """Return the expanded uncertainty (k = 2) that shots of one cabinet leave of where it stands.

    None where they do not fix it.
    """
    setup, standing = cabinet.setup, {cabinet.side: placement}
    shots = [Shot(kind, predict(setup, standing, kind)) for kind in kinds]
    try:
        return Fitting.of(setup, shots, standing).where_likely().expanded(cabinet.side)
    except (TooFewShots, ArithmeticError):
        return None


def _some_rows(model: ShotModel, rows: list[int]) -> Model:
    def some(unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        predicted, jacobian = model(unknowns)
        return predicted[rows], jacobian[rows]

    return some


def _with_column(model: ShotModel, column: FloatArray) -> Model:
    def wider(unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        predicted, jacobian = model(unknowns[:-1])
        return predicted + column * unknowns[-1], np.hstack((jacobian, column[:, None]))

    return wider


def _guessed(
    setup: Setup, likely: Sequence[Pose], poses: Sequence[Pose | None]
) -> Iterator[list[Pose]]:
    """Yield the poses, with guesses all over the room for those that are not known."""
    if None not in poses:
        yield [pose for pose in poses if pose is not None]
        return
    width, length = setup.room.width_mm, setup.seat.from_front_mm
    anchors = itertools.product((0.1, 0.25, 0.4), (0.2, 0.5, 0.8), _GUESSED_TOE_INS)
    spread = [(width * x, length * y, math.radians(turn)) for x, y, turn in anchors]
    yield [pose or instead for pose, instead in zip(poses, likely, strict=True)]
    for anchor in spread:
        yield [pose or anchor for pose in poses]


def _is_same(one: Located, other: Located) -> bool:
    return all(
        abs(placement.side_mm - other.placements[side].side_mm) < _SAME_MM
        and abs(placement.setback_mm - other.placements[side].setback_mm) < _SAME_MM
        and abs(placement.toe_in_deg - other.placements[side].toe_in_deg) < _SAME_DEG
        for side, placement in one.placements.items()
    )


def predict(setup: Setup, placements: Mapping[Side, Placement], kind: ShotKind) -> float:
    """Return the reading of a shot, mm, by a meter without error with the cabinets standing so.

    Raises:
        BadInput: when the shot's point or aim does not exist.
    """
    model = shot_model(setup, (kind,))
    predicted, _ = model(_pack(model, placements))
    return float(predicted[0])


def predict_expanded(setup: Setup, located: Located, kind: ShotKind) -> float:
    """Return how uncertain that is by what the shots leave open of one cabinet, mm (k = 2).

    Raises:
        BadInput: when the shot's point or aim does not exist.
    """
    model = shot_model(setup, (kind,))
    _, jacobian = model(_pack(model, located.placements))
    by_unknowns = jacobian[0]
    return COVERAGE_FACTOR * math.sqrt(by_unknowns @ located.adjustment.covariance @ by_unknowns)


def _pack(model: ShotModel, placements: Mapping[Side, Placement]) -> FloatArray:
    unknowns = np.zeros(model.unknowns)
    for side, column in model.column.items():
        unknowns[column : column + 3] = _radians(placements[side])
    return unknowns


def _radians(placement: Placement) -> tuple[float, float, float]:
    return placement.side_mm, placement.setback_mm, math.radians(placement.toe_in_deg)


def _guess(setup: Setup, side: Side, start: Mapping[Side, Placement]) -> tuple[float, float, float]:
    # a little inward: where shots leave open which way a cabinet is turned, that is commoner
    return _radians(start.get(side) or OneCabinet(setup, side).likely_placement(toe_in_deg=5.0))


def _located(model: ShotModel, kinds: tuple[ShotKind, ...], adjustment: Adjustment) -> Located:
    poses = 3 * len(model.sides)
    values = (adjustment.estimate[:poses] * model.to_degrees).tolist()
    back = adjustment.back[:poses] * model.to_degrees[:, None]
    zero = model.zero_column
    return Located(
        placements={
            side: Placement(*values[3 * place : 3 * place + 3])
            for place, side in enumerate(model.sides)
        },
        covariance=back @ back.T,
        adjustment=adjustment,
        kinds=kinds,
        zero_mm=0.0 if zero is None else float(adjustment.estimate[zero]),
    )


def _missing(setup: Setup, model: ShotModel, loose: FloatArray) -> str:
    """One sentence a cabinet that says which shots would fix what is loose."""
    # which quantities the shots to walls tell of, at a toe-in of a few degrees
    _, gradient = model.to_walls(np.full(model.unknowns, 0.1))
    seen = np.abs(gradient).max(axis=0) > 1e-6
    shares = {
        # a turn of one radian moves a point a cabinet's depth away by that depth
        side: np.abs(loose[:, column : column + 3]).max(axis=0)
        * (1.0, 1.0, setup.cabinets[side].depth_mm)
        for side, column in model.column.items()
    }
    # what is loose may be written small, where beams run along their wall
    most = max(share.max() for share in shares.values())
    sentences = []
    for side, share in shares.items():
        if share.max() > 1e-6 * most:
            turns = share[2] > 1e-6 * share.max()
            sentences.append(f"{side}: missing {_wanted(side, seen[model.column[side] :], turns)}")
    return "; ".join(sentences)


def _wanted(side: Side, seen: Sequence[bool], turns: bool) -> str:
    wanted = []
    if not seen[0]:
        wanted.append(f"a shot to the {side} wall (nothing fixes side)")
    if not seen[1]:
        wanted.append("a shot to the front wall (nothing fixes setback)")
    if turns or not wanted:
        wanted.append(
            "a second shot to one wall from another touch point (two from one face fix toe-in)"
        )
    return " and ".join(wanted)
