"""What a phone is told: all of the guidance that it shows, and nothing but distances."""

from __future__ import annotations

import re
from itertools import takewhile

import msgspec
import pytest
from effort import examples
from exact_shots import AT, SETUP, off, shoot, walk_round, world_of
from hypothesis import given
from hypothesis import strategies as st
from rounds import Working
from test_round_properties import SETUPS, Step, begun, event_for, standings, walks

from witnessmark.app.commands import act_words
from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units
from witnessmark.meters.port import Fault, Link, LinkState, Noise, Report
from witnessmark.model import Act, Placement, Reading, Side
from witnessmark.phone.meter import MeterSeen
from witnessmark.phone.state import ACTS, PhoneState, phone_state, walk_picture
from witnessmark.placing.guidance import Guidance, guide
from witnessmark.placing.round import Round
from witnessmark.words.cautions import MOVING
from witnessmark.words.live import say
from witnessmark_simulators.scenario import DEMO_SETUP

PORT, BLUETOOTH = "/dev/ttyUSB7", "ble:C0:FF:EE:12:34:56"
TELLTALE = re.compile(
    r"/dev|/home|://|\.sqlite|ble:|serial:|ttyUSB|([0-9A-F]{2}:){2}|Acme", re.IGNORECASE
)
GONE = (LinkState.LOST, LinkState.CLOSED)
NAMESPACE = 'xmlns=\\"http://www.w3.org/2000/svg\\"'

reports: st.SearchStrategy[Report] = st.one_of(
    st.builds(
        Link,
        st.sampled_from(LinkState),
        st.just(f"{PORT}: no such port; plug the Acme in"),
        st.just(AT),
        st.just(BLUETOOTH),
    ),
    st.builds(Reading, st.floats(0.0, 100_000.0), st.just(AT), st.just(BLUETOOTH)),
    st.just(Fault("Acme 31", AT, BLUETOOTH, b"Acme")),
    st.just(Noise(f"not for {PORT}", AT, BLUETOOTH, b"\xff")),
)


def check(state: PhoneState, guidance: Guidance, *, by_tape: bool = False) -> None:
    """What holds of every state; ``by_tape`` if the meter was lost and a tape used since."""
    text = msgspec.json.encode(state)
    assert msgspec.json.decode(text, type=PhoneState) == state
    assert not TELLTALE.search(text.decode().replace(NAMESPACE, ""))
    assert state.offered <= {*guidance.offered, *guidance.onward} & set(ACTS)
    asked = {Act.KEEP, Act.THERE, Act.DROP, Act.ENOUGH} & guidance.offered
    assert {answer.act for answer in state.answers} == {*asked, *guidance.onward}
    if state.meter.link in ("meter lost", "meter closed") and not by_tape:
        assert state.figure == "NO METER"
    if state.figure == "NO METER":
        assert "connected" not in state.meter.link
        assert state.spoken.words == state.sentence
        return
    letter = f"{guidance.side[0].upper()} " if state.side else ""
    said = say(guidance).headline.figure.removeprefix(letter)
    assert sorted(f"{state.arrow}{state.figure}".replace(" ", "")) == sorted(said.replace(" ", ""))
    assert state.sentence == say(guidance).headline.words


@pytest.mark.parametrize("name", SETUPS)
@examples(2, 60)
@given(
    walk=walks, left=standings, right=standings, heard=st.lists(reports, max_size=4), data=st.data()
)
def test_any_state_is_json_and_tells_no_address_and_no_name(
    name: str,
    walk: list[Step],
    left: Placement,
    right: Placement,
    heard: list[Report],
    data: st.DataObject,
) -> None:
    state, meter = begun(name), MeterSeen()
    for report in heard:
        meter = meter.after(report)
    links = [number for number, report in enumerate(heard) if isinstance(report, Link)]
    # a lost meter is tried again and again, and each time its loss is reported once more
    gone = list(takewhile(lambda number: heard[number].state in GONE, reversed(links)))
    by_tape = bool(gone) and any(isinstance(report, Reading) for report in heard[gone[-1] :])
    looked_at = data.draw(st.sets(st.integers(0, len(walk)), max_size=3)) | {len(walk)}
    for number, step in enumerate([None, *walk]):
        if step is not None:
            state = state.feed(event_for(state, step, left, right))
        if number in looked_at:
            guidance = guide(state)
            check(phone_state(guidance, meter, act_words()), guidance, by_tape=by_tape)


def test_a_nudge_is_split_into_cabinet_arrow_and_length() -> None:
    working = Working()
    working.shoot(4)
    state = working.state
    assert say(working.guidance).headline.figure == "L ↑ 72 mm"
    assert (state.cabinet, state.arrow, state.figure) == ("left cabinet", "↑", "72 mm")
    assert state.unit == "mm"


def test_a_phone_cautions_before_the_first_nudge_as_the_screen_does() -> None:
    working = Working()
    working.shoot(4)
    assert working.state.details[0] == MOVING
    working.read(9999.0)
    *answer, caution = working.state.details
    assert caution == MOVING
    assert answer[0].startswith("Shoot again.")
    working.decide(Act.DROP)
    working.finish()
    assert MOVING not in working.state.details


def test_the_end_is_about_both_cabinets() -> None:
    working = Working()
    working.finish()
    state = working.state
    assert (state.cabinet, state.side, state.arrow) == ("both cabinets", None, "")
    assert state.figure == "BOTH IN"
    assert [table.verdict for table in state.tables] == [Verdict.IN] * 3
    assert all(row.verdict is Verdict.IN for table in state.tables for row in table.rows)


def test_lengths_are_in_the_units_of_the_setup() -> None:
    working = Working(msgspec.structs.replace(DEMO_SETUP, units=Units.INCH_16))
    working.shoot(4)
    state = working.state
    assert state.figure == '2 13/16"'
    assert state.unit == ""
    assert state.meter.last.endswith('"')
    assert all(row.off.endswith(('"', " in", "°")) for row in state.tables[0].rows)


def test_the_meters_last_reading_gives_way_to_what_went_wrong_since() -> None:
    working = Working()
    working.shoot()
    read = working.state.meter
    assert read.last == f"{working.round.last.reading_mm:.1f} mm"  # type: ignore[union-attr]
    working.meter = working.meter.after(Fault("too dark", AT, "sim:"))
    assert working.state.meter.last == "it could not measure"
    working.shoot()
    assert working.state.meter.last.endswith(" mm")


def test_the_link_is_told_in_words() -> None:
    seen = {None: MeterSeen()} | {
        state: MeterSeen().after(Link(state, "words", AT, "sim:")) for state in LinkState
    }
    assert len({meter.link_words for meter in seen.values()}) == 5
    woken = seen[LinkState.QUIET].after(Reading(1000.0, AT, "sim:"))
    assert woken.link is LinkState.OPEN


def test_a_lost_meter_is_told_in_large_letters_and_nothing_else_is_said() -> None:
    working = Working()
    working.shoot()
    before = working.state
    working.meter = working.meter.after(Link(LinkState.LOST, "gone", AT, "sim:"))
    lost = working.state
    assert (lost.figure, lost.arrow) == ("NO METER", "")
    assert lost.spoken.words == lost.sentence
    assert (lost.cabinet, lost.side, lost.shot) == (before.cabinet, before.side, before.shot)
    working.meter = working.meter.after(Link(LinkState.OPEN, "back", AT, "sim:"))
    assert working.state == before


def test_a_meter_that_could_not_measure_says_so_before_the_shot() -> None:
    working = Working()
    prompt = working.state.spoken.words
    working.meter = working.meter.after(Fault("too dark", AT, "sim:"))
    assert working.state.spoken.words == f"It could not measure. {prompt}"


def test_a_hold_is_shown_while_it_lasts() -> None:
    working = Working()
    held = {button.act: button.on for button in working.state.decisions}
    assert not any(held.values())
    working.decide(Act.HOLD)
    held = {button.act: button.on for button in working.state.decisions}
    assert held == {Act.SKIP: False, Act.BACK: False, Act.UNDO: False, Act.HOLD: True}


def test_a_decision_is_called_what_its_key_is_called() -> None:
    words = act_words()
    assert set(words) == set(ACTS)
    assert words[Act.SKIP] == ("Skip", "Leave the prompted shot out.")


def test_a_phone_offers_good_enough_where_it_makes_sense() -> None:
    working = Working(seed=4)
    offered = []
    for _ in range(40):
        if working.round.finished:
            break
        acts = {answer.act for answer in working.state.answers}
        assert (Act.ENOUGH in acts) == (Act.ENOUGH in working.guidance.offered)
        offered.append(Act.ENOUGH in acts)
        if offered[-1]:
            assert any(words.endswith("if that is good enough.") for words in working.state.details)
            assert working.state.tables[working.guidance.side is Side.RIGHT].sure.endswith(" %")
        working.nudge()
        working.shoot()
    assert set(offered) == {True, False}


def test_the_page_is_told_the_way_of_a_watched_point() -> None:
    state = walk_round(Round.begin(SETUP), world_of(left=off(0, -30)))
    asked = guide(state)
    assert phone_state(asked, MeterSeen(), act_words()).watch is None
    state = shoot(state, world_of(left=off(0, -15)))
    watch = phone_state(guide(state), MeterSeen(), act_words()).watch
    assert watch is not None
    assert asked.watch is not None
    assert watch.stop == f"{asked.watch.stop_mm:.0f} mm"
    assert watch.start == f"{asked.watch.start_mm:.0f} mm"
    assert watch.made == pytest.approx(0.5, abs=0.01)
    there = shoot(walk_round(Round.begin(SETUP), world_of(left=off(0, -30))), world_of())
    assert phone_state(guide(there), MeterSeen(), act_words()).watch is None


def test_a_room_that_cannot_be_foreseen_has_no_picture_of_its_walk() -> None:
    room = msgspec.structs.replace(DEMO_SETUP.room, height_mm=None)
    assert walk_picture(msgspec.structs.replace(DEMO_SETUP, room=room)) == ""
    assert walk_picture(DEMO_SETUP).startswith("<svg")
