"""What a person reads: the large figure, the sentence, the details, with their directions."""

from __future__ import annotations

import math

import msgspec
import pytest
from exact_shots import (
    LEFT,
    RIGHT,
    SETUP,
    TARGET,
    do,
    finished,
    known,
    off,
    question_of,
    reading,
    settle,
    shoot,
    walk_round,
    with_targets,
    world_of,
)

from witnessmark.drawing.bigfont import glyphs
from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units
from witnessmark.model import (
    Act,
    AimedAt,
    Cabinet,
    Edge,
    Held,
    Meter,
    Pair,
    Placement,
    Setup,
    Side,
    TouchPoint,
)
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import Guidance, guide
from witnessmark.placing.round import Round
from witnessmark.words.holding import how_to_hold
from witnessmark.words.live import say
from witnessmark.words.spoken import spoken

BEGUN = Round.begin(SETUP)
WORLD = world_of()
IN_INCHES = msgspec.structs.replace(SETUP, units=Units.INCH_16)


def nudged(side: Side, standing: Placement, setup: Setup = SETUP) -> Guidance:
    """What is told once one cabinet was found to stand so and is to be moved."""
    begun = Round.begin(setup)
    state = begun if side is LEFT else do(begun, Act.OTHER)
    state = walk_round(state, world_of(setup).moved(side, standing))
    guidance = guide(state)
    assert guidance.side is side
    assert guidance.stage is Stage.NUDGE
    return guidance


def test_the_first_prompt() -> None:
    guidance = guide(BEGUN)
    assert say(guidance).headline.figure == "L FRONT OUTER ←"
    assert say(guidance).headline.words == (
        "Left cabinet, shot 1 of 4: front-outer to left wall (should read 1304 mm)."
    )
    assert say(guidance).details[0].startswith("Hold the meter's rear edge flush on the outer side")
    assert (guidance.prompt.number, guidance.prompt.count) == (1, 4)
    wanted_mm = WORLD.true_distance(BEGUN.prompted)
    assert guidance.prompt.on_target_mm == pytest.approx(wanted_mm)
    assert guidance.prompt.expected_mm == pytest.approx(wanted_mm)
    assert not guidance.prompt.again
    assert guidance.cabinets.left.appraisal is None
    assert not guidance.cabinets.left.stale


def test_every_prompt_of_the_walk_points_at_its_wall() -> None:
    state, figures = BEGUN, []
    for number in range(8):
        guidance = guide(state)
        figures.append(say(guidance).headline.figure)
        assert guidance.prompt.number == number % 4 + 1
        state = shoot(state, WORLD)
    assert figures == [
        "L FRONT OUTER ←",
        "L REAR OUTER ←",
        "L REAR OUTER ↑",
        "L REAR INNER ↑",
        "LEFT IN",
        "R REAR OUTER ↑",
        "R REAR OUTER →",
        "R FRONT OUTER →",
    ]


def test_how_to_hold_the_meter() -> None:
    at_the_wall = guide(Round.begin(msgspec.structs.replace(SETUP, held=Held.WALL)))
    assert say(at_the_wall).details[0] == (
        "Hold the meter's rear edge at front-outer, square to the left wall."
    )
    at_the_rear = guide(shoot(BEGUN, WORLD, [0.0] * 2))
    assert say(at_the_rear).details[0] == (
        "Hold the meter's rear edge flush on the rear face at rear-outer, firing back."
    )


@pytest.mark.parametrize(
    ("edge", "words"),
    [
        (Edge.REAR, "Hold the meter's rear edge flush on the outer side at front-outer"),
        (Edge.FRONT, "Hold the meter's front edge even with the outer side at front-outer"),
        (Edge.THREAD, "Hold the meter's thread even with the outer side at front-outer"),
        (Edge.OTHER, "Hold your end piece flush on the outer side at front-outer"),
    ],
)
def test_the_edge_that_is_held_is_told(edge: Edge, words: str) -> None:
    setup = msgspec.structs.replace(SETUP, meter=Meter(edge=edge))
    line = say(guide(Round.begin(setup))).details[0]
    assert line == f"{words}, firing out."
    assert len(line) <= 80


@pytest.mark.parametrize(("offset_mm", "words"), [(118.0, "118 mm more"), (-0.8, "0.8 mm less")])
def test_a_question_tells_what_was_added_to_the_reading(offset_mm: float, words: str) -> None:
    setup = msgspec.structs.replace(SETUP, meter=Meter(edge_offset_mm=offset_mm))
    state = Round.begin(setup).feed(reading(9000.0))
    assert f": read {9000 + offset_mm:.0f} mm" in say(guide(state)).headline.words
    assert say(guide(state)).details[1].startswith(f"{words} than the meter shows")


@pytest.mark.parametrize(
    ("side", "standing", "figure", "words"),
    [
        (LEFT, off(side_mm=20), "L ← 20 mm", "20 mm toward the left wall"),
        (LEFT, off(side_mm=-20), "L → 20 mm", "20 mm toward the right wall"),
        (RIGHT, off(side_mm=20), "R → 20 mm", "20 mm toward the right wall"),
        (RIGHT, off(side_mm=-20), "R ← 20 mm", "20 mm toward the left wall"),
        (LEFT, off(setback_mm=14), "L ↑ 14 mm", "14 mm toward the front wall"),
        (LEFT, off(setback_mm=-14), "L ↓ 14 mm", "14 mm toward the seat"),
        (RIGHT, off(setback_mm=6.2), "R ↑ 6.2 mm", "6.2 mm toward the front wall"),
        (RIGHT, off(setback_mm=-14), "R ↓ 14 mm", "14 mm toward the seat"),
        (LEFT, off(toe_in_deg=-3), "L ↺ 3.0°", "turn in 3.00°"),
        (LEFT, off(toe_in_deg=3), "L ↻ 3.0°", "turn out 3.00°"),
        (RIGHT, off(toe_in_deg=-3), "R ↻ 3.0°", "turn in 3.00°"),
        (RIGHT, off(toe_in_deg=3), "R ↺ 3.0°", "turn out 3.00°"),
    ],
)
def test_a_nudge_leads_back_to_the_target(
    side: Side, standing: Placement, figure: str, words: str
) -> None:
    headline = say(nudged(side, standing)).headline
    assert headline.figure == figure
    assert headline.words == f"{side.capitalize()} cabinet: {words}."


def test_what_is_farthest_out_for_its_tolerance_leads() -> None:
    guidance = nudged(LEFT, off(12, -30, 1.5))
    assert say(guidance).headline.figure == "L ↓ 30 mm"
    assert say(guidance).details[:2] == ("12 mm toward the left wall.", "Turn out 1.50°.")
    assert say(guidance).next_shot == (
        "Shoot rear-inner to front wall while you move. Stop at 1406 mm."
    )
    assert say(guidance).headline.below == "REAR INNER ↑"
    feet = [words for words in say(guidance).details if " foot: " in words]
    assert [words.split(" foot: ")[0] for words in feet] == [
        "Front-inner",
        "Front-outer",
        "Rear-inner",
        "Rear-outer",
    ]
    assert all("toward the left wall" in words and "toward the seat" in words for words in feet)


def test_what_is_in_gets_no_words() -> None:
    guidance = nudged(LEFT, off(0.4, 25, -0.1))
    appraisal = guidance.cabinets.left.appraisal
    assert appraisal is not None
    assert appraisal.against_target is not None
    assert appraisal.against_target.verdicts == {
        "side": Verdict.IN,
        "setback": Verdict.OUT,
        "toe_in": Verdict.IN,
    }
    assert say(guidance).headline.words == "Left cabinet: 25 mm toward the front wall."
    assert not any("turn" in words for words in say(guidance).details)


def about_foot(toe_in_deg: float, inward: float, back: float) -> Placement:
    """The target turned about one of its points, by the plain rotation of that point."""

    def arm(degrees: float) -> complex:
        turn = math.radians(degrees)
        forward = complex(math.sin(turn), math.cos(turn))
        to_the_other = complex(math.cos(turn), -math.sin(turn))
        return to_the_other * inward - forward * back

    still = complex(TARGET.side_mm, TARGET.setback_mm) + arm(TARGET.toe_in_deg)
    reference = still - arm(TARGET.toe_in_deg + toe_in_deg)
    return Placement(reference.real, reference.imag, TARGET.toe_in_deg + toe_in_deg)


def test_a_turn_about_one_foot_is_told_as_one() -> None:
    guidance = nudged(RIGHT, about_foot(4.0, 134, 405))
    assert say(guidance).headline.figure == "R ↺ 4.0°"
    assert say(guidance).headline.words == (
        "Right cabinet: hold the rear-inner foot and turn out 4.00° about it."
    )


def test_own_feet_are_named() -> None:
    cabinet = Cabinet(268.0, 405.0, feet={"spike": TouchPoint(0.0, 200.0)})
    setup = msgspec.structs.replace(SETUP, cabinets=Pair(cabinet, cabinet))
    guidance = nudged(LEFT, off(30), setup)
    assert [
        words for words in say(guidance).details if words.startswith("Spike foot: 30 mm toward")
    ]


def test_inches_in_inches() -> None:
    assert say(nudged(LEFT, off(25.4), IN_INCHES)).headline.figure == 'L ← 1"'
    headline = say(guide(shoot(Round.begin(IN_INCHES), WORLD, [0.0, 914.4]))).headline
    assert headline.figure.startswith("L 7' ")
    assert headline.figure.endswith('"?')


def test_a_question_shows_what_was_read_and_what_was_expected() -> None:
    state = shoot(BEGUN, WORLD, [0.0, 900.0])
    guidance = guide(state)
    read, expected = question_of(state).reading_mm, question_of(state).expected_mm
    assert expected is not None
    assert guidance.question == state.question
    assert say(guidance).headline.figure == f"L {read:.0f} mm?"
    assert say(guidance).headline.words == (
        f"Left rear-outer to left wall: read {read:.0f} mm, expected about {expected:.0f} mm."
    )
    assert say(guidance).headline.below == "REAR OUTER ←"
    assert say(guidance).details == (
        "Shoot again. The same reading is accepted; a better one replaces it.",
    )


def test_what_is_no_distance_in_the_room_is_told_as_that() -> None:
    guidance = guide(BEGUN.feed(reading(9500.0)))
    assert say(guidance).headline.words == (
        "Left front-outer to left wall: read 9500 mm, no distance in this room."
    )
    assert "no distance in this room" in spoken(guidance).words


def test_the_reading_just_taken_says_how_far_off_it_is() -> None:
    guidance = guide(shoot(BEGUN, world_of(left=off(side_mm=15))))
    # flush on the side at 9 degrees of toe-in the beam runs 1 / cos 9 as far
    excess = 15 / math.cos(math.radians(9))
    assert f"Left front-outer: {excess:.0f} mm toward the left wall" in say(guidance).details[-1]
    nearer = guide(shoot(BEGUN, world_of(left=off(side_mm=-15))))
    assert "15 mm away from the left wall" in say(nearer).details[-1]


@pytest.mark.parametrize(
    ("turns", "standing", "arrow", "words"),
    [
        (0, off(side_mm=15), "←", "toward the left wall"),
        (0, off(side_mm=-15), "→", "away from the left wall"),
        (2, off(setback_mm=15), "↑", "toward the front wall"),
        (2, off(setback_mm=-15), "↓", "away from the front wall"),
    ],
)
def test_a_held_shot_counts_down_to_the_target(
    turns: int, standing: Placement, arrow: str, words: str
) -> None:
    state = do(BEGUN, *[Act.SKIP] * turns, Act.HOLD)
    assert say(guide(state)).headline.figure.startswith("L FRONT OUTER" if turns == 0 else "L REAR")
    for share in (1.0, 0.5):
        there = Placement(
            TARGET.side_mm + share * (standing.side_mm - TARGET.side_mm),
            TARGET.setback_mm + share * (standing.setback_mm - TARGET.setback_mm),
            TARGET.toe_in_deg,
        )
        state = shoot(state, world_of(left=there))
        headline = say(guide(state)).headline
        assert headline.figure.startswith(f"L {arrow} ")
        togo_mm = float(headline.figure.split()[2])
        assert togo_mm == pytest.approx(15 * share / math.cos(math.radians(9)), abs=0.5)
        assert words in headline.words
    assert guide(state).hold


def test_a_held_shot_without_a_target_shows_its_reading() -> None:
    setup = with_targets(None, None)
    state = do(Round.begin(setup), Act.HOLD)
    distance_mm = WORLD.true_distance(state.prompted)
    headline = say(guide(shoot(state, WORLD))).headline
    assert headline.figure == f"L {distance_mm:.0f} mm"
    assert headline.words.endswith(f"front-outer to left wall reads {distance_mm:.0f} mm.")


def test_both_in() -> None:
    guidance = guide(finished())
    assert guidance.finished
    assert say(guidance).headline.figure == "BOTH IN"
    assert say(guidance).headline.words == "Both cabinets: in, within the tolerance."
    assert say(guidance).details[0].startswith("Left and right match: side 0.0 mm")
    assert say(guidance).next_shot.startswith("To check the pair, shoot right rear-inner to front")
    assert not guidance.symmetry_stale


def test_symmetry_goes_stale_with_either_cabinet() -> None:
    state = shoot(finished(), WORLD)
    guidance = guide(state)
    assert guidance.symmetry is not None
    assert guidance.symmetry_stale
    assert guidance.cabinets.right.stale
    assert guidance.cabinets.left.stale


def test_a_meter_too_coarse_for_the_tolerance_says_so_and_gives_up_in_good_time() -> None:
    coarse = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 2.5))
    state = settle(Round.begin(coarse), world_of(coarse, off(1.5, -1.0), off(-1.0, 2.0)))
    assert state.readings == 8  # more walks would not make the zero of the meter any better known
    guidance = guide(state)
    assert {guidance.cabinets[side].stage for side in Side} == {Stage.BEST}
    assert say(guidance).headline.figure == "UNSURE 44 %"  # the less sure of the two
    assert say(guidance).headline.words == (
        "Left cabinet: as near to target as this meter can tell, 51 % sure; "
        "right cabinet: as near to target as this meter can tell, 44 % sure."
    )
    assert known(state, LEFT).verdict is Verdict.UNSURE


def test_a_coarse_meter_still_brings_a_cabinet_as_near_as_it_can_see() -> None:
    coarse = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 2.5))
    state = walk_round(Round.begin(coarse), world_of(coarse, off(30)))
    assert state.work.stage is Stage.NUDGE


def test_a_scattering_meter_is_given_more_walks_first() -> None:
    scattering = msgspec.structs.replace(SETUP, meter=Meter(1.6, 0.1, 0.0))
    state = walk_round(Round.begin(scattering), world_of(scattering, off(0.5)))
    assert (state.work.stage, state.work.walks) == (Stage.MEASURE, 1)
    guidance = guide(state)
    assert any("Shoot once more" in words for words in say(guidance).details)
    state = settle(state, world_of(scattering, off(0.5), off(0.5)))
    assert say(guide(state)).headline.figure in {"BOTH IN", "UNSURE"}


def test_one_without_a_target_and_one_best_are_compared() -> None:
    coarse = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 2.5))
    coarse = with_targets(None, TARGET, coarse)
    headline = say(guide(settle(Round.begin(coarse), world_of(coarse)))).headline
    # what the meter's zero does to both is alike, however badly it is known
    assert headline.figure == "ALIKE"
    assert headline.words.startswith("Left and right match")


def test_a_small_error_near_the_edge_is_measured_again_rather_than_nudged() -> None:
    width = known(walk_round(BEGUN, WORLD), LEFT).expanded
    at_the_edge = world_of(left=off(side_mm=3.02 - width.side_mm))
    state = walk_round(BEGUN, at_the_edge)
    assert known(state, LEFT).verdict is Verdict.UNSURE
    assert (state.work.stage, state.work.nudges) == (Stage.MEASURE, 0)
    details = say(guide(state)).details
    assert any(
        "is too coarse to tell whether it is within 3 mm. Shoot once more." in w for w in details
    )
    state = walk_round(state, at_the_edge)
    assert state.works.left.stage is Stage.SETTLED
    assert (state.works.left.nudges, len(state.works.left.judged)) == (0, 8)


def test_an_error_that_more_walks_cannot_clear_is_nudged() -> None:
    state = walk_round(BEGUN, world_of(left=off(side_mm=2.2)))
    assert state.work.stage is Stage.NUDGE


def test_shots_that_the_walk_does_not_use_have_their_words_too() -> None:
    kind = msgspec.structs.replace(BEGUN.prompted, held=Held.POINT, to=AimedAt.SEAT)
    assert kind.words == "front-outer to the seat mark"
    assert how_to_hold(kind).endswith("rear edge at front-outer, straight to the seat mark")
    kind = msgspec.structs.replace(kind, to=AimedAt.CABINET)
    assert how_to_hold(kind).endswith(
        "at front-outer, straight to front-outer of the other cabinet"
    )


def test_an_unlikely_reading_that_was_kept_does_no_harm() -> None:
    state = BEGUN
    for distance_mm in (99_999.0, 1.0, 0.0, 50_000.0):
        state = do(state.feed(reading(distance_mm)), Act.KEEP)
        guide(state)
    assert state.readings == 4


def test_every_character_of_a_figure_can_be_drawn_large() -> None:
    figures = [
        *(say(nudged(side, off(1, -9, 4))).headline.figure for side in Side),
        *(say(nudged(side, off(-30, 9, -1), IN_INCHES)).headline.figure for side in Side),
        say(guide(shoot(BEGUN, WORLD, [900.0]))).headline.figure,
        say(guide(shoot(Round.begin(IN_INCHES), WORLD, [903.7]))).headline.figure,
        say(guide(BEGUN)).headline.figure,
        say(guide(finished())).headline.figure,
        "UNSURE",
        "DONE",
    ]
    assert set("".join(figures)) <= {*glyphs(), " "}
