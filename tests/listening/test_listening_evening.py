"""The evening as a whole: which position this is, what it varies, and what is told of it."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest
from listening_cases import BEGAN, HERE, SETUP, choices, found_at, trial, tried

from witnessmark.errors import BadInput
from witnessmark.listening.difference import PairPose
from witnessmark.listening.evening import Evening
from witnessmark.listening.judging import latest_flagged, positions
from witnessmark.listening.order import walk
from witnessmark.listening.ranking import rank
from witnessmark.model import Attribute, Impression, Pair, Placement, Setup, Struck, Varied
from witnessmark.words.listening import said_words, trial_words

LATER = BEGAN + timedelta(hours=1)
HEARD = Impression({Attribute.TIMBRE: 4})
STATIONS = walk(SETUP, {}).proposals


def aiming(posture: PairPose, setup: Setup = SETUP) -> Setup:
    left, right = posture.placements.left, posture.placements.right
    targets = Pair[Placement | None](left, right)
    return msgspec.structs.replace(setup, targets=targets, tilt_targets_deg=posture.tilts_deg)


def test_without_targets_or_a_measured_pair_there_is_no_position() -> None:
    evening = Evening(SETUP)
    assert evening.here is None
    assert evening.place_words(None) == "No targets yet"
    with pytest.raises(BadInput, match=r"targets: first choose"):
        evening.trial(HEARD, LATER, None)


def test_a_pair_that_was_only_measured_is_a_position_where_it_was_found() -> None:
    found = Placement(1203.0, 1804.0, 4.0)
    measured = found_at(trial(0), found, found).measured
    kept = Evening(SETUP).trial(HEARD, LATER, measured)
    assert (kept.targets.left, kept.measured) == (found, measured)


@pytest.mark.parametrize("number", [1, 4, 9])
def test_a_station_is_known_as_one(number: int) -> None:
    evening = Evening(aiming(STATIONS[number - 1].posture))
    kept = evening.trial(HEARD, LATER, None)
    assert (kept.varied, kept.repeats) == (Varied.STATION, None)
    assert evening.place_words(None) == f"station {number}"
    assert evening.is_ahead is (number == 1)


def test_a_place_that_is_no_station_is_a_place_of_its_own() -> None:
    elsewhere = Placement(HERE.side_mm + 40, HERE.setback_mm, 0.0)
    there = PairPose(Pair(elsewhere, elsewhere), Pair(None, None))
    assert Evening(aiming(there)).trial(HEARD, LATER, None).varied is Varied.PLACE


def test_the_same_position_again_repeats_the_first_of_it() -> None:
    first = tried(STATIONS[0], 0)
    trials = {"a": first, "b": msgspec.structs.replace(first, at=LATER, repeats="a")}
    evening = Evening(aiming(STATIONS[0].posture), trials)
    kept = evening.trial(HEARD, LATER + timedelta(minutes=5), None)
    assert (kept.varied, kept.repeats) == (Varied.NOTHING, "a")
    assert evening.place_words(None) == "station 1, again"
    assert evening.is_at_the_latest


def test_a_trial_that_is_struck_out_is_listed_and_counts_for_nothing() -> None:
    first, second = tried(STATIONS[0], 0), tried(STATIONS[1], 1)
    again = msgspec.structs.replace(first, at=LATER, repeats="a")
    more = msgspec.structs.replace(first, at=LATER + timedelta(minutes=1), repeats="a")
    trials = {"a": first, "b": second, "c": again, "d": more}
    setup = aiming(STATIONS[0].posture)
    whole = Evening(setup, trials, tuple(choices("a", "b", 6)))
    struck = Evening.of(setup, trials, whole.choices, [Struck(LATER, "a")])
    assert struck.names == whole.names
    assert list(struck.listed) == list(trials)
    # the next trial of that position stands for it, and no choice for the struck one counts
    assert positions(struck.trials) == {"b": "b", "c": "c", "d": "c"}
    assert struck.here == "c"
    assert rank(whole.trials, whole.choices).groups
    assert not rank(struck.trials, struck.choices).groups
    # striking again lets it count
    assert struck.striking("a").trials == trials
    assert (
        Evening.of(
            setup, trials, (), [Struck(LATER, "a"), Struck(LATER + timedelta(1), "a", back=True)]
        ).trials
        == trials
    )
    assert whole.striking("a").trials == struck.trials


def test_a_position_that_was_found_elsewhere_is_the_same_where_it_was_found() -> None:
    found = Placement(1350.0, 3000.0, 2.0)
    one = found_at(tried(STATIONS[0], 0), found, found)
    evening = Evening(SETUP, {"a": one})
    assert evening.back_to("a").placements == Pair(found, found)
    assert Evening(aiming(evening.back_to("a")), {"a": one}).here == "a"


def test_one_thing_varied_from_the_kept_one_is_named_after_the_stage() -> None:
    kept = {"a": tried(STATIONS[3], 0, best=True)}
    for stage in (Varied.SPREAD, Varied.TOE_IN):
        proposal = walk(SETUP, kept, stage=stage).proposals[-1]
        evening = Evening(aiming(proposal.posture), kept)
        assert evening.trial(HEARD, LATER, None).varied is stage
        assert evening.place_words(None) == proposal.name


def test_the_one_before_is_the_latest_of_another_position() -> None:
    first, second = tried(STATIONS[0], 0), tried(STATIONS[1], 1)
    again = msgspec.structs.replace(second, at=BEGAN + timedelta(minutes=2), repeats="b")
    evening = Evening(SETUP, {"a": first, "b": second, "c": again})
    assert (evening.before, evening.latest) == ("a", "c")
    assert Evening(SETUP, {"a": first}).before is None
    assert Evening(SETUP).latest is None


def test_what_was_said_is_told_and_nothing_of_what_is_good() -> None:
    trials = {
        "a": trial(0, grades={Attribute.TIMBRE: 2}),
        "b": trial(1, grades={Attribute.TIMBRE: 5}, best=True),
    }
    evening = Evening(SETUP, trials, tuple(choices("b", "a", 6)))
    said = list(said_words(evening))
    assert any("graded highest" in words and "preferred most" in words for words in said)
    about = list(trial_words(evening, "a"))
    assert "graded once" in about[0]
    assert "to see how much is chance, grade one position twice" in about[1]


def test_the_chart_has_its_names_below_where_there_is_no_room_beside() -> None:
    evening = Evening(SETUP, {"a": trial(0, grades={Attribute.TIMBRE: 2})})
    wide, narrow = evening.chart_text(60), evening.chart_text(38)
    assert max(map(len, narrow.splitlines())) <= 38
    assert len(narrow.splitlines()) > len(wide.splitlines())
    *_, name, about_rings = narrow.splitlines()
    assert "station" in name or "setback" in name
    assert about_rings == "in a ring: at the target, not measured"
    assert Evening(SETUP, {"a": trial(0)}).chart_text(60) == ""


FUTURE = BEGAN + timedelta(days=30_000)


def test_a_clock_that_was_once_wrong_neither_hides_nor_outlasts_what_came_after() -> None:
    """Everything goes by the order of storing, whatever the times say."""
    early = msgspec.structs.replace(tried(STATIONS[0], 0, best=True), at=FUTURE)
    trials = {"a": early, "b": tried(STATIONS[1], 1, best=True), "c": tried(STATIONS[2], 2)}
    strikes = [Struck(FUTURE, "c"), Struck(LATER, "c", back=True), Struck(FUTURE, "b")]
    evening = Evening.of(SETUP, trials, (), strikes)
    assert list(evening.listed) == ["a", "b", "c"]
    assert (list(evening.trials), evening.latest, evening.before) == (["a", "c"], "c", "a")
    counting = evening.striking("b")
    assert list(counting.trials) == ["a", "b", "c"]
    assert latest_flagged(counting.trials) == "b"
    assert counting.walk.kept == "b"
    following = walk(SETUP, counting.trials, stage=Varied.STATION).following
    assert following is not None
    assert following.name == "station 4"
    kept = counting.adding("d", tried(STATIONS[3], 3))
    assert (kept.latest, list(kept.names)) == ("d", ["a", "b", "c", "d"])
