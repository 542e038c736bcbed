"""What the first shots of a cabinet that may stand anywhere say of the others."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from exact_shots import SETUP

from witnessmark.locate.pose import predict
from witnessmark.model import AimedAt, Held, OneCabinet, Placement, Shot, ShotKind, Side
from witnessmark.placing.expectation import unmeasured
from witnessmark.placing.first_walk import range_so_far
from witnessmark.placing.shot_list import route


def on_wall(point: str, to: AimedAt) -> ShotKind:
    return ShotKind(Side.LEFT, point, to, Held.WALL)


@pytest.mark.parametrize("first", ["rear-outer", "front-inner"])
@pytest.mark.parametrize("to", [AimedAt.LEFT, AimedAt.FRONT, AimedAt.RIGHT, AimedAt.BACK])
@pytest.mark.parametrize("read_mm", [(1100.0, 900.0), (1234.5, 987.6), (777.7, 1003.1)])
def test_a_corner_that_is_found_leaves_the_others_at_every_toe_in_that_can_be(
    first: str, to: AimedAt, read_mm: tuple[float, float]
) -> None:
    """Every toe-in fits one corner alike, and rounding must not choose among them."""
    wanted = on_wall("rear-inner", to)
    kinds = on_wall(first, AimedAt.LEFT), on_wall(first, AimedAt.FRONT)
    cabinet = OneCabinet(SETUP, Side.LEFT)
    shots = tuple(Shot(kind, mm) for kind, mm in zip(kinds, read_mm, strict=True))
    work = msgspec.structs.replace(unmeasured(cabinet, route(cabinet)), shots=shots)

    reads = []
    for toe_in_deg in np.arange(-45.0, 61.0, 5.0).tolist():
        turned = {Side.LEFT: Placement(1000.0, 1000.0, toe_in_deg)}
        off = [mm - predict(SETUP, turned, kind) for kind, mm in zip(kinds, read_mm, strict=True)]
        moved = {Side.LEFT: Placement(1000.0 + off[0], 1000.0 + off[1], toe_in_deg)}
        reads.append(predict(SETUP, moved, wanted))
    found = range_so_far(work, wanted)
    # the finer steps lie within, so they can only add what is between two of the coarse ones
    assert found is not None
    assert found.least_mm == pytest.approx(min(reads), abs=0.5)
    assert found.most_mm == pytest.approx(max(reads), abs=0.5)
