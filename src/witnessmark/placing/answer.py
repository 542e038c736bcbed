"""The answer to a round file as one JSON object, in the shape that other programs rely on."""

from __future__ import annotations

from typing import Any

import msgspec

from witnessmark.locate.blunders import ShotCheck
from witnessmark.locate.nudge import Nudge
from witnessmark.locate.symmetry import Symmetry
from witnessmark.model import Placement
from witnessmark.placing.judge import Appraisal, PairAppraisal

Json = dict[str, Any]


def answer(appraisal: PairAppraisal) -> Json:
    """Return all that is known of a pair as plain dicts and lists, millimetres and degrees.

    A cabinet without a target has no error, verdict or nudge; one cabinet alone has no symmetry.
    """
    fields: Json = {
        "cabinets": {side.value: _cabinet(one) for side, one in appraisal.cabinets.items()}
    }
    if appraisal.symmetry is not None:
        fields["symmetry"] = _symmetry(appraisal.symmetry)
    return fields


def _cabinet(one: Appraisal) -> Json:
    fields = _rounded(one.measured) | {"expanded": _rounded(one.expanded)}
    if (against := one.against_target) is not None:
        fields["error"] = _rounded(against.error)
        fields["verdict"] = {name: verdict.value for name, verdict in against.verdicts.items()}
        fields["nudge"] = _nudge(against.nudge)
    fields["shots"] = [_shot(check) for check in one.checks]
    return fields


def _nudge(nudge: Nudge) -> Json:
    return _rounded(nudge.move) | {
        "words": nudge.words,
        "feet": {name: _rounded(foot) for name, foot in nudge.feet.items()},
    }


def _shot(check: ShotCheck) -> Json:
    kind = check.shot.kind
    return {
        "point": kind.point,
        "to": kind.to.value,
        "held": kind.held.value,
        "reading_mm": check.shot.reading_mm,
        "residual_mm": round(check.residual_mm, 6),
        "suspect": check.suspect,
        "cause": check.cause,
        "left_out": check.left_out,
    }


def _symmetry(pair: Symmetry) -> Json:
    return _rounded(pair.error) | {
        "expanded": _rounded(pair.expanded),
        "verdict": {name: verdict.value for name, verdict in pair.verdict.items()},
    }


def _rounded(record: Placement | msgspec.Struct) -> Json:
    """The fields of a record, to a nanometre: what lies below is rounding of the arithmetic."""
    # plus 0.0 takes the sign off a zero
    return {name: round(value, 6) + 0.0 for name, value in msgspec.structs.asdict(record).items()}
