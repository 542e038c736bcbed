"""Several shots of one distance: what the display's steps leave of their mean."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from many_readings import METERS, ids, read

from witnessmark.geometry.rounding import repeat_sigma_mm, repeats_help
from witnessmark.locate.pose import locate, predict
from witnessmark.model import (
    AimedAt,
    Cabinet,
    Held,
    Meter,
    Pair,
    Placement,
    Room,
    Seat,
    Setup,
    Shot,
    ShotKind,
    Side,
)


@pytest.mark.parametrize("meter", METERS, ids=ids)
@pytest.mark.parametrize("count", [1, 2, 5, 20])
def test_what_averaging_leaves(meter: Meter, count: int) -> None:
    true, readings = read(meter, count, 40_000)
    foretold = repeat_sigma_mm(meter, count) / math.sqrt(count)
    assert np.std(readings.mean(axis=1) - true) == pytest.approx(foretold, rel=0.015)


def test_repeats_help_where_noise_stirs_the_last_digit() -> None:
    assert repeats_help(Meter(0.5, 1.0, 0.7))
    assert not repeats_help(Meter(0.05, 1.0, 0.7))


@pytest.mark.parametrize("meter", [Meter(0.05, 1.0, 0.0), Meter(0.4, 1.0, 0.0)])
def test_a_cabinet_shot_four_times_over_is_known_as_well_as_is_said(meter: Meter) -> None:
    """A display with coarse steps reads the same four times: that is no better than once."""
    cabinet = Cabinet(260.0, 380.0)
    room, seat = Room.rectangular(5000.0, 6500.0), Seat(4300.0, 2500.0)
    setup = Setup(room=room, cabinets=Pair(cabinet, cabinet), seat=seat, meter=meter)
    kinds = [
        ShotKind(Side.LEFT, point, to, Held.WALL)
        for point, to in (
            ("rear-outer", AimedAt.FRONT),
            ("rear-inner", AimedAt.FRONT),
            ("front-outer", AimedAt.LEFT),
        )
    ]
    rng = np.random.default_rng(11)
    held = []
    for _ in range(300):
        standing = Placement(*rng.uniform((1300, 1700, -10), (1500, 1900, 10)))
        shots = []
        for kind in kinds:
            true = predict(setup, {Side.LEFT: standing}, kind)
            raw = true + rng.normal(0.0, meter.repeatability_mm, 4)
            read_mm = np.round(raw / meter.resolution_mm) * meter.resolution_mm
            shots += [Shot(kind, float(mm)) for mm in read_mm]
        located = locate(setup, shots)
        off = located.placements[Side.LEFT].minus(standing)
        held.append(abs(off.setback_mm) <= located.expanded(Side.LEFT).setback_mm)
    assert np.mean(held) >= 0.93


def test_a_shot_with_an_uncertainty_of_its_own_weighs_by_that() -> None:
    cabinet = Cabinet(260.0, 380.0)
    room, seat = Room.rectangular(5000.0, 6500.0), Seat(4300.0, 2500.0)
    setup = Setup(room=room, cabinets=Pair(cabinet, cabinet), seat=seat, meter=Meter(0.4, 1.0, 0.0))
    standing = {Side.LEFT: Placement(1400.0, 1800.0, 0.0)}
    kinds = [
        ShotKind(Side.LEFT, point, to, Held.WALL)
        for point, to in (
            ("rear-outer", AimedAt.FRONT),
            ("rear-inner", AimedAt.FRONT),
            ("front-outer", AimedAt.LEFT),
        )
    ]
    shots = [Shot(kind, predict(setup, standing, kind)) for kind in kinds]
    vague = [*shots[:2], Shot(kinds[2], shots[2].reading_mm, 5.0)]
    assert locate(setup, vague).expanded(Side.LEFT).side_mm == pytest.approx(10.0, rel=0.01)
    assert locate(setup, shots).expanded(Side.LEFT).side_mm < 1.2


def spot_expanded_deg(flush_deg: float, count: int) -> float:
    """Expanded uncertainty of the toe-in by so many shots of one spot, the place known well."""
    cabinet = Cabinet(260.0, 380.0)
    meter = Meter(0.3, 0.1, 0.0, flush_deg=flush_deg)
    setup = Setup(
        Room.rectangular(5000.0, 6500.0), Pair(cabinet, cabinet), Seat(4300.0, 2500.0), meter=meter
    )
    target = Placement(1400.0, 1500.0, 5.0)
    setup = msgspec.structs.replace(setup, targets=Pair[Placement | None](target, None))
    spot = ShotKind(Side.LEFT, "front-inner", AimedAt.LEFT, Held.SPOT)
    walls = [
        ShotKind(Side.LEFT, "rear-outer", AimedAt.FRONT, Held.WALL),
        ShotKind(Side.LEFT, "rear-outer", AimedAt.LEFT, Held.WALL),
    ]
    shots = [Shot(kind, predict(setup, {Side.LEFT: target}, kind)) for kind in walls]
    shots += [Shot(spot, predict(setup, {Side.LEFT: target}, spot))] * count
    return locate(setup, shots).expanded(Side.LEFT).toe_in_deg


def test_a_beam_that_leaves_its_face_askew_is_as_far_off_in_every_spot() -> None:
    straight = spot_expanded_deg(0.0, 1)
    assert straight < 0.03
    askew = spot_expanded_deg(0.1, 1)
    # 0.1 degrees over the 5.0 m of the beam, seen from the rear corner that is 5.4 m from the dot
    assert askew == pytest.approx(math.hypot(0.2 * 5.0 / 5.4, straight), rel=0.02)
    assert spot_expanded_deg(0.1, 10) == pytest.approx(askew, rel=0.02)
