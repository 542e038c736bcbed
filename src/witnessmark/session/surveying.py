"""A survey of the room beside its course: the distance that is chosen, what the corners mean."""

from __future__ import annotations

import enum

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model import Corner, FloorMark, Flush, Measure, Room, Shortest, Wall
from witnessmark.model.survey import diagonal, length_at, wall_length, width_at
from witnessmark.session.draft import Draft
from witnessmark.survey.names import corners_between, side_measured
from witnessmark.survey.squareness import MirrorGap, pair_gap
from witnessmark.survey.survey import SurveyedRoom


class MeasureKind(enum.StrEnum):
    """The kinds of distance that are offered."""

    SIDE = "side"
    DIAGONAL = "diagonal"
    WIDTH = "width"
    LENGTH = "length"
    SHORTEST = "shortest"
    FLUSH = "flush"

    @classmethod
    def of(cls, measure: Measure) -> MeasureKind:
        """Return the kind of a distance."""
        if isinstance(measure, Flush):
            return cls.FLUSH
        if isinstance(measure, Shortest):
            return cls.SHORTEST
        if corners_between(measure) is not None:
            return cls.SIDE if side_measured(measure) else cls.DIAGONAL
        return cls.WIDTH if measure.start.along is Wall.LEFT else cls.LENGTH


class MeasureAnswers(msgspec.Struct, frozen=True):
    """What tells a distance from others of its kind; without a kind none is chosen."""

    kind: MeasureKind | None = None
    wall: Wall = Wall.FRONT
    corner: Corner = Corner.FRONT_LEFT
    along: Wall | None = None
    at_mm: float | None = None

    @classmethod
    def of(cls, measure: Measure) -> MeasureAnswers:
        """Return the answers that make a distance."""
        start = measure.start
        wall = _wall_of(measure) or Wall.FRONT
        return cls(MeasureKind.of(measure), wall, start.corner, start.along, start.at_mm)

    @property
    def measure(self) -> Measure:
        """The distance, its reading 0.

        Raises:
            BadInput: when none is chosen, or something of it is missing.
        """
        match self.kind:
            case None:
                raise BadInput("first choose which distance it is")
            case MeasureKind.SIDE:
                return wall_length(self.wall, 0.0)
            case MeasureKind.DIAGONAL:
                return diagonal(self.corner, 0.0)
            case MeasureKind.WIDTH:
                return width_at(self._at(), 0.0)
            case MeasureKind.LENGTH:
                return length_at(self._at(), 0.0)
            case MeasureKind.SHORTEST:
                return Shortest(FloorMark(self.corner, self.along, self._at()), self.wall, 0.0)
            case MeasureKind.FLUSH:
                return Flush(FloorMark(self.corner, self.wall, self._at()), 0.0)

    def _at(self) -> float:
        if self.at_mm is None:
            raise BadInput("first enter how far it is from the corner")
        return self.at_mm


def _wall_of(measure: Measure) -> Wall | None:
    """Return the side that a distance is of, or goes to, or has the meter's back on it."""
    match measure:
        case Shortest(wall=wall):
            return wall
        case Flush():
            return measure.back
    return side_measured(measure)


def gap_of_pair(found: SurveyedRoom, draft: Draft) -> MirrorGap | None:
    """Return how far the pair is from symmetrical in the room found; None while it has no place."""
    setup = draft.setup
    if setup is None:
        return None
    return pair_gap(msgspec.structs.replace(setup, room=found.room), found.covariance)


def with_known(found: Room, known: Room | None) -> Room:
    """Return the room of the found corners, with what is known of the room beside them.

    What stands proud of a wall goes where a line is in its place now.
    """
    if known is None:
        return found
    return msgspec.structs.replace(
        found,
        height_mm=known.height_mm,
        offsets=tuple(offset for offset in known.offsets if offset.wall not in found.datum),
        keep_clear=known.keep_clear,
    )
