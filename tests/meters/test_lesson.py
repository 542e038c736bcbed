"""A lesson, shot by shot."""

from __future__ import annotations

from datetime import UTC, datetime

import msgspec
import pytest

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.decoding import Outcome, decoder_for
from witnessmark.meters.learning.verdict import Learnt, OneMore, Refused
from witnessmark.meters.lesson import Lesson, MeterLimits, finished, told_error, with_step
from witnessmark.meters.port import Fault, Noise
from witnessmark.meters.profile import (
    Bluetooth,
    Profile,
    Request,
    Serial,
    read_profile,
    write_profile,
)
from witnessmark.meters.profile_values import Uuid
from witnessmark.model import Meter, Reading
from witnessmark_simulators.binary import (
    Moment,
    constant,
    counter,
    frame,
    status,
    whole_distance,
)

AT = datetime(2026, 5, 6, 7, 8, tzinfo=UTC)


def sent(*pieces: bytes) -> tuple[RawFrame, ...]:
    return tuple(RawFrame(piece, AT) for piece in pieces)


def metres(*shown_m: str) -> Lesson:
    lesson = Lesson()
    for metre in shown_m:
        lesson = lesson.with_shot(float(metre) * 1000, sent(f"D {metre}\r\n".encode()))
    return lesson


def test_one_distance_teaches_nothing_yet() -> None:
    assert (metres("1.200").learnt, metres("1.200").profile) == (None, None)


def test_two_distances_teach_a_text_meter() -> None:
    lesson = metres("1.200", "1.905")
    assert isinstance(lesson.learnt, Learnt)
    assert lesson.profile is lesson.learnt
    assert lesson.reads(sent(b"D 3.105\r\n")) == [3105.0]
    assert lesson.reads(sent(b"X 3.105\r\n")) == []
    assert [sample.known_mm for sample in lesson.samples] == [1200.0, 1905.0]


def test_several_decodings_ask_for_one_more() -> None:
    # 0x0505 and 0x0A0A read the same from either end
    lesson = Lesson()
    for mm in (1285, 2570):
        frame = bytes([0xA5, *mm.to_bytes(2, "big"), 0x5A])
        lesson = lesson.with_shot(float(mm), sent(frame))
    assert isinstance(lesson.learnt, OneMore)
    assert lesson.profile is None


def test_nothing_that_fits_is_refused_and_so_is_what_cannot_teach() -> None:
    assert isinstance(metres("1.200", "1.900").with_shot(5000, sent(b"x\r\n")).learnt, Refused)
    assert isinstance(metres("1.200", "1.250").learnt, Refused)


@pytest.mark.parametrize(("mm", "alike"), [(1299.0, 1200.0), (1101.0, 1200.0), (1300.0, None)])
def test_distances_that_are_too_much_alike_are_found(mm: float, alike: float | None) -> None:
    assert metres("1.200", "1.905").too_like(mm) == alike


def test_a_meters_own_error_is_told_where_it_is_all() -> None:
    assert told_error(sent(b"E31", b"\r\n")) == "E31"
    assert told_error(sent(b"E31\r\n1.2\r\n")) is None
    assert told_error(()) is None


def test_what_is_kept_says_how_it_is_come_by_and_when_it_was_learnt() -> None:
    lesson = metres("1.200", "1.905")
    learnt = lesson.profile
    assert learnt is not None
    asked = Serial(request=Request(text="D"))
    profile = finished(lesson, learnt, asked, AT)
    assert (profile.serial, profile.bluetooth) == (asked, None)
    assert profile.about == "Learnt on 2026-05-06 from 2 known distances"
    bluetooth = Bluetooth(characteristic=Uuid("0000abcd-0000-1000-8000-00805f9b34fb"))
    assert finished(lesson, learnt, bluetooth, AT).bluetooth == bluetooth


PARTS = (constant(b"\xf0"), whole_distance(2, "little", 1.0), counter(1, "big"), status(0x41))


def shown(mm: float, count: int, status_byte: int = 0) -> tuple[RawFrame, ...]:
    return sent(frame(PARTS, Moment(mm, count=count, status=status_byte)))


def three_shown() -> Lesson:
    lesson = Lesson()
    for count, mm in enumerate((1234.0, 2345.0, 3571.0), 83):
        lesson = lesson.with_shot(mm, shown(mm, count))
    return lesson


def test_a_failed_shot_that_repeats_the_last_distance_is_told_once_one_was_shown() -> None:
    lesson, failed = three_shown(), shown(3571.0, 99, status_byte=3)
    assert lesson.reads(failed) == [3571.0]  # nobody could know
    taught = lesson.with_failure(failed)
    assert taught.reads(failed) == []
    assert taught.reads(shown(2514.0, 100)) == [2514.0]
    later = taught.with_shot(4812.0, shown(4812.0, 101))
    assert later.reads(failed) == []
    assert (len(later.samples), later.failed) == (4, failed)


def test_a_good_shot_shown_as_a_failed_one_teaches_nothing() -> None:
    lesson = three_shown()
    with pytest.raises(BadInput, match="looks just like a good one"):
        lesson.with_failure(shown(2514.0, 100))


def test_a_meter_that_says_nothing_when_it_fails_is_learnt_all_the_same() -> None:
    lesson = three_shown()
    assert lesson.with_failure(()) == lesson


def test_a_failed_shot_may_be_shown_before_anything_is_learnt() -> None:
    lesson = Lesson().with_shot(1234.0, shown(1234.0, 83)).with_failure(shown(1234.0, 84, 3))
    assert lesson.learnt is None
    assert lesson.with_shot(2345.0, shown(2345.0, 85)).reads(shown(2345.0, 86, 3)) == []


@pytest.mark.parametrize(
    ("address", "changes", "text"),
    [
        ("typed:", {"unit": "m"}, "typed:?unit=m"),
        ("typed:?unit=m", {"unit": None}, "typed:"),
        ("serial:COM3?baud=9600&unit=m", {"unit": None, "profile": "own"}, None),
        ("serial:socket://127.0.0.1:5000", {"profile": "own"}, None),
        ("ble:C0:FF:EE:00:12:34?within=5", {"profile": "a&b=c"}, None),
    ],
)
def test_options_of_an_address_are_changed(
    address: str, changes: dict[str, str | None], text: str | None
) -> None:
    before = Address.parse(address)
    changed = before.with_options(**changes)
    assert text in {None, changed.text}
    assert Address.parse(changed.text) == changed
    assert changed.target == before.target
    kept = before.options | changes
    assert changed.options == {name: value for name, value in kept.items() if value}


@pytest.mark.parametrize("mm", [3.0, 15.0])
def test_an_error_number_in_place_of_the_distance_is_kept_as_one(mm: float) -> None:
    lesson = three_shown().with_failure(shown(mm, 100))
    assert lesson.limits.fault_values_mm == (mm,)
    assert lesson.has_failed
    assert lesson.reads(shown(mm, 101)) == []
    learnt = lesson.profile
    assert learnt is not None
    profile = finished(lesson, learnt, Serial(), AT)
    assert isinstance(outcome(profile, shown(mm, 101)), Fault)
    assert isinstance(outcome(profile, shown(2514.0, 102)), Reading)


def test_an_error_number_that_could_be_a_distance_is_one_once_it_was_said() -> None:
    lesson = three_shown()
    with pytest.raises(BadInput, match=r"just like a good one \(255 mm\)"):
        lesson.with_failure(shown(255.0, 100))
    lesson = msgspec.structs.replace(lesson, limits=MeterLimits(fault_values_mm=(255.0,)))
    assert lesson.with_failure(shown(255.0, 100)).limits.fault_values_mm == (255.0,)


def test_what_the_leaflet_says_limits_the_profile() -> None:
    lesson = three_shown()
    lesson = msgspec.structs.replace(lesson, limits=MeterLimits(200.0, 30_000.0, (255.0,)))
    learnt = lesson.profile
    assert learnt is not None
    profile = finished(lesson, learnt, Serial(), AT)
    assert profile == read_profile(write_profile(profile))
    kinds = {mm: type(outcome(profile, shown(mm, 100))) for mm in (199.0, 200.0, 255.0, 30_001.0)}
    assert kinds == {199.0: Noise, 200.0: Reading, 255.0: Fault, 30_001.0: Noise}


def test_what_nobody_says_of_a_meter_is_what_is_usual() -> None:
    lesson = three_shown()
    learnt = lesson.profile
    assert learnt is not None
    assert finished(lesson, learnt, Serial(), AT).limits.shortest == 50.0


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        (MeterLimits(shortest_mm=2000.0), "shortest 2000 mm: you showed 1234 mm, which is less"),
        (MeterLimits(longest_mm=3000.0), "longest 3000 mm: you showed 3571 mm, which is more"),
        (MeterLimits(fault_values_mm=(1234.0,)), "1234 mm: you showed that as a distance"),
    ],
)
def test_limits_that_shut_out_what_was_shown_are_refused(limits: MeterLimits, words: str) -> None:
    lesson = msgspec.structs.replace(three_shown(), limits=limits)
    learnt = lesson.profile
    assert learnt is not None
    with pytest.raises(BadInput, match=words):
        finished(lesson, learnt, Serial(), AT)


def outcome(profile: Profile, frames: tuple[RawFrame, ...]) -> Outcome:
    (one,) = decoder_for(profile, "serial:x").packet(b"".join(each.data for each in frames), AT)
    return one


@pytest.mark.parametrize(("step_mm", "resolution_mm"), [(10.0, 10.0), (0.1, 0.1), (0.0, 2.0)])
def test_a_learnt_step_is_the_meters_resolution(step_mm: float, resolution_mm: float) -> None:
    assert with_step(Meter(resolution_mm=2.0), step_mm).resolution_mm == resolution_mm


def test_the_step_of_what_was_learnt_is_that_of_its_last_digit() -> None:
    lesson = metres("1.20", "1.91")
    assert lesson.profile is not None
    assert lesson.profile.step_mm == pytest.approx(10.0)
    profile = finished(lesson, lesson.profile, Serial(), AT)
    assert read_profile(write_profile(profile)).step == pytest.approx(10.0)


def test_more_than_four_known_distances_are_welcome() -> None:
    lesson = metres("1.200", "1.905", "0.700", "2.400", "3.100", "0.950")
    assert lesson.reads(sent(b"D 3.105\r\n")) == [3105.0]
