"""A mark that is being put back, or looked after."""

from __future__ import annotations

import msgspec

from witnessmark.model.pair import Pair
from witnessmark.model.poses import Poses
from witnessmark.model.shot import ShotKind


class Restoring(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What of a mark counts while the cabinets are brought back to it.

    ``shots`` are those to take of each cabinet, so that the same places are measured as then.
    ``is_check`` says that it is only looked whether both still stand there: nothing is to be moved.
    """

    name: str
    poses: Poses
    shots: Pair[tuple[ShotKind, ...]]
    is_check: bool = False
