"""Frames and lines that have to be cut apart, or told from others, before they can be learnt."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shots import AT, KNOWN, PACKETS, by_parts, learnt, read, samples
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.decoding import decoder_for
from witnessmark.meters.learning.samples import Sample
from witnessmark.model import Reading
from witnessmark_simulators.binary import (
    angle,
    constant,
    counter,
    sum8,
    whole_distance,
)


def test_other_channels_and_frames_are_left_alone() -> None:
    encode = by_parts(constant(b"\xf0"), whole_distance(2, "big", 1.0), sum8())
    shots = [
        Sample(
            one.known_mm,
            (
                RawFrame(b"\x57", AT, "battery"),
                RawFrame(b"\x01\x02\x03", AT, PACKETS),
                *(RawFrame(frame.data, AT, PACKETS) for frame in one.frames),
            ),
        )
        for one in samples(encode)
    ]
    found = learnt(shots)
    assert found.channel == PACKETS
    assert read(found, b"\x01\x02\x03", encode(2514.0)) == [2514.0]


def test_frames_of_two_kinds_are_told_apart_by_their_first_byte() -> None:
    encode = by_parts(constant(b"\xf0"), whole_distance(2, "big", 1.0), sum8())
    shots = [
        Sample(one.known_mm, (RawFrame(b"\xe1\x00\x09\x09", AT), *one.frames))
        for one in samples(encode)
    ]
    found = learnt(shots)
    assert found.profile.frame is not None
    assert found.profile.frame.header[:1] == b"\xf0"
    assert read(found, b"\xe1\x00\x09\x09", encode(2514.0)) == [2514.0]


def test_frames_that_come_together_are_cut_apart() -> None:
    encode = by_parts(constant(b"\xf0\x0f"), counter(1, "big"), whole_distance(2, "big", 1.0))
    shots = [
        Sample(mm, (RawFrame(b"".join(encode(mm) for _ in range(count)), AT),))
        for mm, count in zip(KNOWN, (1, 3, 2), strict=True)
    ]
    assert read(learnt(shots), encode(2514.0), encode(2515.0) + encode(2516.0)) == [
        2514,
        2515,
        2516,
    ]


def test_a_stream_without_pauses_is_cut_by_its_header_and_checksum() -> None:
    encode = by_parts(
        constant(b"\x5c"),
        whole_distance(2, "little", 1.0),
        counter(1, "big"),
        angle(2, "big"),
        sum8(),
    )

    def stretch(mm: float, cut: int) -> tuple[RawFrame, ...]:
        stream = b"".join(encode(mm) for _ in range(60))[cut:-3]
        return tuple(RawFrame(stream[at : at + 256], AT) for at in range(0, len(stream), 256))

    shots = [Sample(mm, stretch(mm, cut)) for mm, cut in zip(KNOWN, (3, 0, 5), strict=True)]
    found = learnt(shots)
    decoder = decoder_for(found.profile, "meter")
    stream = b"".join(encode(mm) for mm in range(2000, 2050))
    outcomes = [
        one for at in range(0, len(stream), 11) for one in decoder.feed(stream[at : at + 11], AT)
    ]
    readings = [one.distance_mm for one in outcomes if isinstance(one, Reading)]
    assert readings == [float(mm) for mm in range(2000, 2049)]


def test_a_line_may_come_in_several_pieces() -> None:
    shots = [
        Sample(mm, (RawFrame(line[:4], AT, PACKETS), RawFrame(line[4:], AT, PACKETS)))
        for mm in KNOWN
        for line in [f"D {mm / 1000:.3f},m\r\n".encode()]
    ]
    assert read(learnt(shots), b"D 2.5", b"14,m\r\n") == [2514.0]


def echoed(pause_s: float, channel: str = "") -> list[Sample]:
    """Shots before which the line repeats the request, without a line end."""
    later = AT + timedelta(seconds=pause_s)
    lines = [(mm, f"D {mm / 1000:.3f}\r\n".encode()) for mm in KNOWN]
    return [
        Sample(mm, (RawFrame(b"D", AT, channel), RawFrame(line, later, channel)))
        for mm, line in lines
    ]


def test_an_echo_that_a_pause_parts_from_its_answer_is_not_in_the_line() -> None:
    assert read(learnt(echoed(0.8)), b"D 2.514\r\n") == [2514.0]


@pytest.mark.parametrize(("pause_s", "channel"), [(0.2, ""), (0.8, PACKETS)])
def test_an_echo_that_runs_on_into_its_answer_is_part_of_the_line(
    pause_s: float, channel: str
) -> None:
    found = learnt(echoed(pause_s, channel))
    assert read(found, b"D", b"D 2.514\r\n") == [2514.0]
    assert read(found, b"D 2.514\r\n") == []
