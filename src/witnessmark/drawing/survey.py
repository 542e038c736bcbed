"""A room that is being surveyed: the distances taken so far, and the one to take now.

Apart from ``plan``, which most views draw and which loads no numpy.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from witnessmark.drawing.plan import plan_drawing
from witnessmark.drawing.room import side_stroke
from witnessmark.drawing.strokes import Drawing, Ink, Label, Stroke
from witnessmark.model import Measure, Room, Wall
from witnessmark.model.plan import between
from witnessmark.survey.model import measure_ends
from witnessmark.survey.names import side_measured


def survey_drawing(
    room: Room, taken: Sequence[Measure], awaited: Measure | None, *, is_found: bool
) -> Drawing:
    """Draw the room as far as it is known, with the awaited distance dashed and named ``next``.

    Until its corners are found the room is a guess: its sides are dotted, and the distances that
    were taken are solid.
    """
    strokes = list(plan_drawing(room).strokes if is_found else _so_far(room, taken, awaited))
    labels = list(plan_drawing(room).labels)
    if awaited is not None:
        ends = measure_ends(room, awaited)
        share = 0.5 if side_measured(awaited) else 0.35  # other lines cross in the middle
        strokes.append(Stroke(ends, Ink.AWAITED))
        labels.append(Label(" next ", between(*ends, share), Ink.AWAITED))
    return Drawing(tuple(strokes), tuple(labels))


def _so_far(room: Room, taken: Sequence[Measure], awaited: Measure | None) -> Iterator[Stroke]:
    sides = {side_measured(measure) for measure in taken}
    for wall in Wall:
        if wall not in sides and (awaited is None or wall is not side_measured(awaited)):
            yield side_stroke(room, wall, Ink.GUESSED)
    for measure in taken:
        yield Stroke(measure_ends(room, measure), Ink.TAKEN)
