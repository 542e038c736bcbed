from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.meters.framing import MOST_BYTES, Line, LineSplitter, Rubbish

STREAMS = st.lists(
    st.one_of(
        st.sampled_from([b"\r", b"\n", b"\r\n", b"1.512 m\r\n", b"E7\n", b"x" * 150]),
        st.binary(max_size=30),
    ),
    max_size=12,
).map(b"".join)


def split(*chunks: bytes, midway: bool = False) -> list[Line | Rubbish]:
    splitter = LineSplitter(midway=midway)
    return [piece for chunk in chunks for piece in splitter.feed(chunk)]


@pytest.mark.parametrize("end", [b"\r", b"\n", b"\r\n", b"\n\r", b"\r\r\n"])
def test_every_line_end_ends_a_line_once(end: bytes) -> None:
    assert split(b"1512" + end + b"1513" + end) == [Line(b"1512"), Line(b"1513")]


@given(STREAMS, st.data())
def test_chunking_makes_no_difference(stream: bytes, data: st.DataObject) -> None:
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=8)))
    chunks = [stream[a:b] for a, b in zip([0, *cuts], [*cuts, len(stream)], strict=True)]
    assert split(*chunks) == split(stream)


@given(STREAMS)
def test_no_byte_but_the_line_ends_is_lost_or_doubled(stream: bytes) -> None:
    splitter = LineSplitter()
    pieces = [*splitter.feed(stream), *splitter.break_off("the end")]
    assert b"".join(piece.data for piece in pieces) == re.sub(rb"[\r\n]", b"", stream)


@given(STREAMS)
def test_no_line_is_empty_or_over_long(stream: bytes) -> None:
    for piece in split(stream):
        assert 0 < len(piece.data) <= MOST_BYTES


def test_the_longest_line_is_a_line_and_one_byte_more_is_not() -> None:
    assert split(b"1" * MOST_BYTES + b"\n") == [Line(b"1" * MOST_BYTES)]
    too_long = split(b"1" * (MOST_BYTES + 1) + b"\n1512\n")
    assert [type(piece) for piece in too_long] == [Rubbish, Rubbish, Line]


def test_rubbish_without_any_line_end_is_told_while_it_comes() -> None:
    assert len(split(b"\xff" * 5 * MOST_BYTES)) == 4


def test_a_line_that_broke_off_never_joins_the_next() -> None:
    splitter = LineSplitter()
    assert splitter.feed(b"1.5") == []
    assert splitter.break_off("silent") == [Rubbish(b"1.5", "silent")]
    assert splitter.feed(b"2.345 m\n2.346 m\n") == [
        Line(b"2.345 m", after=b"1.5"),
        Line(b"2.346 m"),
    ]


def test_breaking_off_between_lines_is_nothing() -> None:
    splitter = LineSplitter()
    splitter.feed(b"1512\r")
    assert splitter.break_off("silent") == []
    assert splitter.feed(b"\n1513\r\n") == [Line(b"1513")]


def test_a_line_that_broke_off_twice_is_remembered_whole() -> None:
    splitter = LineSplitter()
    for part in (b"1", b"5"):
        splitter.feed(part)
        splitter.break_off("silent")
    assert splitter.feed(b"12\n") == [Line(b"12", after=b"15")]


def test_a_lone_line_end_closes_what_broke_off() -> None:
    splitter = LineSplitter()
    splitter.feed(b"1")
    splitter.break_off("silent")
    assert splitter.feed(b"\r\n512\r\n") == [Line(b"512")]


def test_a_stream_joined_midway_begins_with_its_first_whole_line() -> None:
    pieces = split(b"514 m\r\n1.512 m\r\n", midway=True)
    assert [type(piece) for piece in pieces] == [Rubbish, Line]
    assert pieces[1].data == b"1.512 m"
