"""Where the cabinets stand: the poses of one or both, from shots, with what is known of them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import cast

import msgspec
import numpy as np

from witnessmark.errors import TooFewShots
from witnessmark.geometry.adjust import Adjustment, FloatArray, NotDetermined, adjust
from witnessmark.geometry.observe import ShotModel, shot_model
from witnessmark.model import Pair, Placement, Poses, Setup, Shot, ShotKind, Side, Tilt
from witnessmark.model.poses import Covariance
from witnessmark.model.uncertainty import COVERAGE_FACTOR


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

    def covariance_of(self, side: Side) -> FloatArray:
        """(3, 3) covariance of one cabinet's side mm, setback mm and toe-in degrees."""
        start = 3 * list(self.placements).index(side)
        block: FloatArray = self.covariance[start : start + 3, start : start + 3]
        return block

    def expanded(self, side: Side) -> Placement:
        """Expanded uncertainty (k = 2) of each quantity of one cabinet's placement."""
        variances = self.covariance_of(side).diagonal().tolist()
        return Placement(*(COVERAGE_FACTOR * math.sqrt(variance) for variance in variances))


def poses_of(located: Located, tilts: Pair[Tilt | None]) -> Poses:
    """Both placements and their covariance as a record, of a pair that was located together."""
    left, right = (located.placements[side] for side in Side)
    rows = tuple(tuple(row) for row in located.covariance.tolist())
    return Poses(Pair(left, right), cast("Covariance", rows), tilts)


def locate(
    setup: Setup, shots: Sequence[Shot], start: Mapping[Side, Placement] | None = None
) -> Located:
    """Poses of all cabinets that have shots, by weighted least squares over all shots at once.

    Args:
        setup: room, cabinets, seat and the meter's error model.
        shots: any number from any touch points.
        start: where to begin for a cabinet that its shots to walls alone do not fix; without it,
            at its target or in the middle of its half of the room.

    Raises:
        TooFewShots: naming the shots that are missing.
        BadInput: when a shot's point or aim does not exist.
        ArithmeticError: when the shots contradict one another so much that no pose settles.
    """
    if not shots:
        raise TooFewShots("missing every shot: none was taken, and a cabinet needs three")
    kinds = tuple(shot.kind for shot in shots)
    model = shot_model(setup, kinds)
    observed = model.observed(shots)
    likely = [_guess(setup, side, start or {}) for side in model.sides]
    try:
        adjustment = adjust(model, model.start(observed, likely), observed, model.sigma_of(shots))
    except NotDetermined as error:
        raise TooFewShots(_missing(setup, model, error.loose)) from None
    return _located(model, kinds, adjustment)


def expanded_of(
    setup: Setup, side: Side, placement: Placement, kinds: Sequence[ShotKind]
) -> Placement | None:
    """Expanded uncertainty (k = 2) that shots of one cabinet leave of where it stands.

    None where they do not fix it.
    """
    standing = {side: placement}
    shots = [Shot(kind, predict(setup, standing, kind)) for kind in kinds]
    try:
        return locate(setup, shots, start=standing).expanded(side)
    except (TooFewShots, ArithmeticError):
        return None


def predict(setup: Setup, placements: Mapping[Side, Placement], kind: ShotKind) -> float:
    """Reading of a shot, mm, by a meter without error with the cabinets standing so.

    Raises:
        BadInput: when the shot's point or aim does not exist.
    """
    model = shot_model(setup, (kind,))
    predicted, _ = model(_pack(model, placements))
    return float(predicted[0])


def predict_expanded(setup: Setup, located: Located, kind: ShotKind) -> float:
    """How uncertain that reading is by what the shots leave open of one cabinet, mm (k = 2).

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
    likely = start.get(side) or setup.targets[side]
    if likely is None:
        # a little inward: where shots leave open which way a cabinet is turned, that is commoner
        likely = Placement(setup.room.width_mm / 4, setup.seat.from_front_mm / 2, 5.0)
    return _radians(likely)


def _located(model: ShotModel, kinds: tuple[ShotKind, ...], adjustment: Adjustment) -> Located:
    poses = 3 * len(model.sides)
    to_degrees = model.to_degrees
    values = (adjustment.estimate[:poses] * to_degrees).tolist()
    zero = model.zero_column
    return Located(
        placements={
            side: Placement(*values[3 * place : 3 * place + 3])
            for place, side in enumerate(model.sides)
        },
        covariance=adjustment.covariance[:poses, :poses] * to_degrees * to_degrees[:, None],
        adjustment=adjustment,
        kinds=kinds,
        zero_mm=0.0 if zero is None else float(adjustment.estimate[zero]),
    )


def _missing(setup: Setup, model: ShotModel, loose: FloatArray) -> str:
    """One sentence a cabinet that says which shots would fix what is loose."""
    # which quantities the shots to walls tell of, at a toe-in of a few degrees
    _, gradient = model.to_walls(np.full(model.unknowns, 0.1))
    seen = np.abs(gradient).max(axis=0) > 1e-6
    sentences = []
    for side, column in model.column.items():
        # a turn of one radian moves a point a cabinet's depth away by that depth
        reach = np.array([1.0, 1.0, setup.cabinets[side].depth_mm])
        share = np.abs(loose[:, column : column + 3] * reach).max(axis=0)
        if share.max() > 1e-6:
            turns = share[2] > 1e-6 * share.max()
            sentences.append(f"{side}: missing {_wanted(side, seen[column:], turns)}")
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
