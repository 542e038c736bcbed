"""A request in one line, as profiles write it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.meters.profile import Profile, Request, Serial, Text, read_profile, write_profile
from witnessmark.meters.profile_values import Octets, Seconds
from witnessmark.meters.profile_words import in_words
from witnessmark.meters.request_line import doubt_about, read_request, write_request


@pytest.mark.parametrize(
    ("line", "data"),
    [
        ("take\\r\\n", b"take\r\n"),
        ("D", b"D"),
        ('say "D"', b'say "D"'),
        ("\\u0002D\\u0003", b"\x02D\x03"),
        ("10 01", b"10 01"),
        ('bytes = "10 01"', b"\x10\x01"),
        ('bytes="1b0c"', b"\x1b\x0c"),
        ('text = "take\\r\\n"', b"take\r\n"),
    ],
)
def test_what_is_written_to_the_meter(line: str, data: bytes) -> None:
    assert read_request(line).data == data


def test_how_often_may_stand_behind_as_in_a_profile() -> None:
    assert read_request('text = "take\\r", every = 2') == Request(text="take\r", every=Seconds(2))


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("", "a request is either a text"),
        ("D\\q", "write it as in a profile, a text such as take"),
        ('bytes = "AA 8', "write it as in a profile"),
        ("bytes = 10 01", "write it as in a profile"),
        ('bytes = "10 0"', 'request.bytes: "10 0" is not bytes in hexadecimal'),
        ('text = "D", every = 0', "request.every: 0 is not seconds"),
        ("every = 2", "a request is either a text"),
        ('text = "D", colour = 2', "request.colour: no such key here"),
        ('text = "D", bytes = "AA"', "a request is either a text"),
        ("\n", "write it as in a profile"),
        ("every = " + "9" * 5000, "write it as in a profile"),
        ("bytes = " + "[" * 5000, "write it as in a profile"),
    ],
)
def test_what_is_no_request_says_how_one_is_written(line: str, words: str) -> None:
    with pytest.raises(BadInput, match="request") as caught:
        read_request(line)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("line", "doubted"), [("10 01", True), ("0d", True), ("D", False), ("D 80", False)]
)
def test_a_text_that_looks_like_bytes_is_doubted(line: str, doubted: bool) -> None:
    doubt = doubt_about(read_request(line))
    assert (doubt is not None) is doubted
    if doubt:
        assert f'bytes = "{line}"' in doubt


@given(
    st.one_of(
        st.builds(Request, text=st.text(st.characters(codec="utf-8"), min_size=1)),
        st.builds(Request, bytes=st.binary(min_size=1, max_size=64).map(Octets)),
    ),
    st.none() | st.integers(1, 3600).map(Seconds),
)
def test_a_request_is_read_back_from_its_line_and_from_its_profile(
    request_: Request, every: Seconds | None
) -> None:
    whole = Request(text=request_.text, bytes=request_.bytes, every=every)
    assert read_request(write_request(whole)) == whole
    profile = Profile(serial=Serial(request=whole), text=Text())
    assert read_profile(write_profile(profile)) == profile


def test_a_profile_says_in_words_how_its_meter_is_asked() -> None:
    profile = Profile(serial=Serial(request=read_request("take\\r")), text=Text())
    assert in_words(profile)[0] == 'measures when asked with "take\\r"'
    often = Profile(serial=Serial(request=read_request('bytes="1001", every=2')), text=Text())
    assert in_words(often)[0] == "measures when asked with 10 01, and every 2 s"
