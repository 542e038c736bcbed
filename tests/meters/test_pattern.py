"""Expressions of profiles: what Python's own engine says, in bounded time."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.meters.decoding import LineDecoder
from witnessmark.meters.pattern import (
    MOST_A_SECOND,
    MOST_AT_ONCE,
    BoundedPattern,
    PatternRefused,
    PatternTooCostly,
    StepAllowance,
)
from witnessmark.meters.port import Noise
from witnessmark.meters.profile import Text
from witnessmark.meters.profile_values import Pattern, Unit
from witnessmark.model import Reading

VALUE = "(?P<value>[0-9]+)"

ATOMS = st.sampled_from(["a", "b", ".", r"\d", "[ab]", "[^a]", "(?P<value>a)", "(?P<unit>b*)", "^"])


def _widened(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    repeats = st.sampled_from(["*", "+", "?", "*?", "+?", "??", "{2}", "{1,3}", "{,2}?", "{2,}"])
    return (
        st.tuples(inner, inner).map("".join)
        | st.tuples(inner, inner).map(lambda two: f"(?:{two[0]}|{two[1]})")
        | st.tuples(inner, repeats).map(lambda two: f"(?:{two[0]}){two[1]}")
    )


@given(st.recursive(ATOMS, _widened, max_leaves=6), st.text("ab1\n", max_size=7))
@example("(?:a|ab)(?:c|bcd)(?P<value>d*)", "abcd")
@example("(?P<value>a+?)(?P<unit>a*)", "aaa")
@example("(?:(?P<value>a)|b)+", "ab")
@example(r"(?P<value>\w+)\b.*", "ab 1")
def test_it_matches_what_the_standard_library_matches(text: str, line: str) -> None:
    try:
        expected = re.compile(text, re.ASCII).fullmatch(line)
    except re.error:  # a group twice
        with pytest.raises(PatternRefused):
            BoundedPattern(text)
        return
    found = BoundedPattern(text).fullmatch(line)
    assert (found is None) == (expected is None)
    if found and expected:
        # where a repeat goes round without a sign, the empty group may be none
        groups = {name: found[name] or None for name in found}
        assert groups == {name: value or None for name, value in expected.groupdict().items()}


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (f"({VALUE}+)+x", "1" * 100),
        ("(?P<value>(?:a|a)*)*b", "a" * 200),
        ("(?P<value>.*.*.*.*)x", "y" * 200),
    ],
)
def test_what_would_run_for_ever_elsewhere_ends(text: str, line: str) -> None:
    assert BoundedPattern(text).fullmatch(line) is None


COSTLY = "(?P<value>(?:(?:(?:a?){9}){9}){6})b"
"""Of 975 steps, all of which a line of many ``a`` reaches again at each of them."""


def test_a_line_that_would_hold_up_the_program_is_given_up() -> None:
    with pytest.raises(PatternTooCostly):
        BoundedPattern(COSTLY).fullmatch("a" * 200)
    assert BoundedPattern(COSTLY).fullmatch("ab") == {"value": "a"}


def test_it_is_noise_that_says_why() -> None:
    text = Text(unit=Unit("mm"), pattern=Pattern.read(COSTLY))
    decoder = LineDecoder(text, "meter")
    costly, other = decoder.feed(b"a" * 199 + b"b\nxx\n", datetime(2026, 1, 2, tzinfo=UTC))
    assert isinstance(costly, Noise)
    assert "too many ways" in costly.why
    assert costly.raw == b"a" * 199 + b"b"
    assert isinstance(other, Noise)
    assert "does not match" in other.why


def test_many_short_lines_cost_no_more_together_than_they_may(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    visits: list[int] = []
    take = StepAllowance.take

    def counted(allowance: StepAllowance, number: int) -> None:
        visits.append(number)
        take(allowance, number)

    monkeypatch.setattr(StepAllowance, "take", counted)
    decoder = LineDecoder(Text(unit=Unit("mm"), pattern=Pattern.read(COSTLY)), "meter")
    at = datetime(2026, 1, 2, tzinfo=UTC)
    came = decoder.feed(b"aa\n" * 1000, at)
    assert len(came) == 1000
    assert sum(visits) < 1.1 * MOST_AT_ONCE
    first, *_, last = came
    assert isinstance(first, Noise)
    assert "does not match" in first.why
    assert isinstance(last, Noise)
    assert "too much comes at once" in last.why
    visits.clear()
    for tenths in range(1, 11):
        decoder.feed(b"aa\n" * 1000, at + timedelta(seconds=tenths / 10))
    assert sum(visits) < 1.2 * MOST_A_SECOND
    (later,) = decoder.feed(b"aa\n", at + timedelta(seconds=60))
    assert isinstance(later, Noise)
    assert "does not match" in later.why


def test_a_pattern_that_fits_reads_all_that_a_port_holds() -> None:
    text = Text(pattern=Pattern.read(r"D: (?P<value>[0-9]+\.[0-9]{3}) (?P<unit>mm|m)"))
    decoder = LineDecoder(text, "meter")
    came = decoder.feed(b"D: 12.514 m\n" * 341, datetime(2026, 1, 2, tzinfo=UTC))
    assert {type(one) for one in came} == {Reading}


@pytest.mark.parametrize(
    "text",
    [
        f"{VALUE}(?=m)",
        f"{VALUE}[[a]",
        f"{VALUE}[^[a]",
        f"{VALUE}[0-9--]",
        f"{VALUE}[a&&b]",
        f"{VALUE}[a||b]",
        f"{VALUE}[a~~b]",
        f"(?<=a){VALUE}",
        rf"{VALUE}\1",
        f"{VALUE}(?P=value)",
        f"(?i){VALUE}",
        f"{VALUE}a++",
        f"{VALUE}a{{1,2}}+",
        f"(?>{VALUE})",
        f"{VALUE}(",
        f"{VALUE})",
        f"{VALUE}[",
        f"{VALUE}**",
        f"*{VALUE}",
        rf"{VALUE}\p",
        f"{VALUE}a{{3,2}}",
        f"{VALUE}a{{99999999999999999999}}",
        f"{VALUE}(?:(?:(?:a{{99}}){{99}}){{99}}){{99}}",
        "(" * 900 + VALUE + ")" * 900,
        VALUE + "a" * 2000,
    ],
)
def test_what_cannot_be_followed_is_refused_with_the_reason(text: str) -> None:
    with pytest.raises(PatternRefused):
        BoundedPattern(text)
    with pytest.raises(BadInput, match="is not a regular expression of up to 2000 signs"):
        Pattern.read(text)
