"""Turns of the spikes: against a rigid base on the tips of its feet."""

from __future__ import annotations

import math

import numpy as np
import pytest
from geometry_cases import many
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.lengths import Units
from witnessmark.locate.spikes import FootTurn, SpikePlan, spike_plan
from witnessmark.model import Cabinet, TouchPoint
from witnessmark.words.tilt import spike_words, turns_text

THREE = {
    "front": TouchPoint(0.0, 40.0),
    "rear-inner": TouchPoint(110.0, 360.0),
    "rear-outer": TouchPoint(-110.0, 360.0),
}
UPSIDE = {
    "front-inner": TouchPoint(110.0, 40.0),
    "front-outer": TouchPoint(-110.0, 40.0),
    "rear": TouchPoint(0.0, 360.0),
}
tilts = st.floats(-4.0, 4.0)


def lean_deg(feet: dict[str, TouchPoint], reach: dict[str, float]) -> tuple[float, float]:
    """How far a base leans back and sideways when its feet reach so far below it.

    The floor is the plane through the tips, seen from the base: z = -reach at each.
    """
    design = np.array([[foot.back_mm, foot.inward_mm, 1.0] for foot in feet.values()])
    below = np.array([-reach[name] for name in feet])
    plane = np.linalg.lstsq(design, below, rcond=None)[0]
    assert design @ plane == pytest.approx(below, abs=1e-9), "it rocks"
    by_back, by_inward, _ = plane.tolist()
    return math.degrees(math.atan(by_back)), math.degrees(math.atan(by_inward))


@many
@given(
    tilts,
    tilts,
    st.sampled_from((THREE, UPSIDE, {})),
    st.sampled_from(("M8", "M6x0.75", "1/4-20", "3/8-16 UNC")),
)
def test_the_turns_bring_the_tilt(
    tilt_deg: float, target_deg: float, feet: dict[str, TouchPoint], thread: str
) -> None:
    cabinet = Cabinet(262.0, 391.0, feet=feet, thread=thread)
    standing = cabinet.standing_points
    slope = math.tan(math.radians(tilt_deg))
    reach = {name: 30.0 - foot.back_mm * slope for name, foot in standing.items()}
    assert lean_deg(standing, reach)[0] == pytest.approx(tilt_deg, abs=1e-9)
    plan = spike_plan(cabinet, tilt_deg, target_deg)
    for name, turn in plan.feet.items():
        reach[name] += turn.raise_mm
    back, sideways = lean_deg(standing, reach)
    # what is left alone is less than a twentieth of a millimetre
    assert back == pytest.approx(target_deg, abs=math.degrees(0.05 / 320))
    assert sideways == pytest.approx(0.0, abs=1e-9)


def test_turns_are_those_of_the_pitch() -> None:
    plan = spike_plan(Cabinet(262.0, 391.0, feet=THREE, thread="M8"), 0.0, 1.0)
    rise = 320.0 * math.tan(math.radians(1.0))
    assert plan.feet == {"front": FootTurn(pytest.approx(rise), pytest.approx(rise / 1.25))}


def in_words(plan: SpikePlan) -> tuple[str, ...]:
    return spike_words(plan, Units.TENTH_MM)


def test_one_spike_is_turned_rather_than_two() -> None:
    back = spike_plan(Cabinet(262.0, 391.0, feet=THREE, thread="M8"), 0.0, 1.0)
    assert in_words(back)[0].startswith(
        "turn the spike at front out 4 1/2 turns (clockwise seen from"
    )
    assert "raises the cabinet there by 5.6 mm" in in_words(back)[0]
    assert in_words(back)[0].endswith("the baffle leans 1.00° further back")
    assert in_words(back)[1].startswith("or turn the spikes at rear-inner and rear-outer in 4 1/2")
    forward = spike_plan(Cabinet(262.0, 391.0, feet=UPSIDE, thread="M8"), 1.0, 0.0)
    assert in_words(forward)[0].startswith("turn the spike at rear out")
    assert in_words(forward)[0].endswith("1.00° further forward")


def test_of_two_pairs_those_are_turned_that_go_in() -> None:
    """Clockwise seen from above a right-handed spike comes out of the base, which raises it."""
    back = spike_plan(Cabinet(262.0, 391.0, thread="M8"), 0.0, 0.5)
    assert set(back.feet) == {"rear-inner", "rear-outer"}
    assert all(turn.raise_mm < 0 for turn in back.feet.values())
    assert "in 2 3/4 turns each (anticlockwise seen from above, which lowers" in in_words(back)[0]
    forward = spike_plan(Cabinet(262.0, 391.0, thread="M8"), 0.5, 0.0)
    assert set(forward.feet) == {"front-inner", "front-outer"}
    assert all(turn.turns is not None and turn.turns < 0 for turn in forward.feet.values())


def test_without_a_thread_lengths_are_told() -> None:
    plan = spike_plan(Cabinet(262.0, 391.0), 0.0, 0.5)
    assert in_words(plan)[0].startswith(
        "shorten the spikes at rear-inner and rear-outer by 3.4 mm each"
    )


def test_what_is_right_is_left_alone() -> None:
    plan = spike_plan(Cabinet(262.0, 391.0, thread="M8"), 0.5, 0.5)
    assert not plan.feet
    assert not in_words(plan)


def test_feet_abreast_of_each_other_set_no_tilt() -> None:
    feet = {"left": TouchPoint(-100.0, 200.0), "right": TouchPoint(100.0, 210.0)}
    with pytest.raises(BadInput, match="less than 50 mm behind"):
        spike_plan(Cabinet(262.0, 391.0, feet=feet), 0.0, 1.0)


@pytest.mark.parametrize(
    ("turns", "text"),
    [
        (0.02, "less than 1/8 turn"),
        (-0.13, "1/8 turn"),
        (0.5, "1/2 turn"),
        (1.0, "1 turn"),
        (-1.06, "1 turn"),
        (1.07, "1 1/8 turns"),
        (2.99, "3 turns"),
    ],
)
def test_turns_in_eighths(turns: float, text: str) -> None:
    assert turns_text(turns) == text
