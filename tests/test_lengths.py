"""Reading and printing lengths: what people write, what is refused and why, and round trips."""

import math
import re
import subprocess
import sys
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import LengthError
from witnessmark.lengths import (
    UNIT_MM,
    Length,
    Units,
    format_expanded,
    format_known,
    format_length,
    format_small,
    parse_length,
)

STEP_MM = {
    Units.MM: Fraction(1),
    Units.TENTH_MM: Fraction(1, 10),
    Units.INCH_16: Fraction(254, 160),
    Units.INCH_32: Fraction(254, 320),
}
INCH_UNITS = (Units.INCH_16, Units.INCH_32)
FLOAT_SLACK_MM = 1e-9

lengths_mm = st.floats(min_value=0, max_value=100_000)
differences_mm = st.floats(min_value=-100_000, max_value=100_000)
any_units = st.sampled_from(Units)


def length_or_reason(text: str) -> Length | str:
    """What parse_length answers; any exception but LengthError goes through."""
    try:
        return parse_length(text)
    except LengthError as error:
        return str(error)


@pytest.mark.parametrize(
    "text",
    [
        "2.435 m", "2,435 m", "2.435m", "2.435 M", "2.435 metres", "2.435 meter", " 2.435 m ",
        "243.5 cm", "243,5 cm", "243.5 CM", "243.5 centimetres",
        "2435", "2435 mm", "2435mm", "2435 mm.", "2435.0 millimeters", "2435,0 mm", "02435",
        "2435\N{NO-BREAK SPACE}mm", "2435\N{NARROW NO-BREAK SPACE}mm",
        "2 435 mm", "2\N{NO-BREAK SPACE}435 mm", "2\N{THIN SPACE}435\N{THIN SPACE}mm", "2 435",
        "2\N{NARROW NO-BREAK SPACE}435,0 mm", "+2435 mm", "+ 2.435 m", "2435. mm",
        "2 m 43.5 cm", "2m43,5cm", "2 m 43.5", "2m435", "2 m 435 mm", "2 metres, 43.5 cm",
        "2 m 4.35 dm", "24.35 dm", "24,350 dm", "24.35 decimetres",
        "２４３５", "２４３５ｍｍ", "２．４３５　ｍ", "2435㎜", "243.5㎝",
    ],
)  # fmt: skip
def test_metric_as_people_write_it(text: str) -> None:
    assert parse_length(text) == Length(2435.0, None)


@pytest.mark.parametrize(
    "text",
    [
        "8' 3 1/2\"", "8'3 1/2\"", "8'-3 1/2\"", "8' - 3 1/2\"", "8'-3-1/2\"", "8' 3 1/2", "8'3.5",
        "8'3.5\"", "8' 3,5\"", "8' 3 1/2''", "8’ 3 1/2”", "8’ 3 1/2’’", "8‘ 3 1/2“",
        "8′ 3½″", "8′3½″", "8′ 3 ½′′", "8′ 3 1⁄2″", "8'-3-½\"", "8' 3\N{NO-BREAK SPACE}1/2\"",
        "8ft 3-1/2in", "8ft3-1/2in", "8 FT 3 1/2 IN", "8 ft. 3 1/2 in.", "8 ft, 3 1/2 in",
        "8 feet 3 1/2 inches", "8 foot 3.5", "8 ft 3 2/4 in", "8ft 3‑1/2in", "8ft 3–1/2in",
        "99.5\"", "99 1/2 in", "99½\"", "99-1/2 inches", "99.5 ins",
        "8-3 1/2\"", "8-3-1/2\"", "8-3½″", "8 - 3 1/2 in", "8-3.5\"", "８′３½″", "＋8' 3 1/2＂",
         "99.5 Inch", "99,5 in", "99.5''",
    ],
)  # fmt: skip
def test_feet_and_inches_as_people_write_them(text: str) -> None:
    assert parse_length(text) == Length(2527.3, None)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("0", 0.0),
        ('0"', 0.0),
        ("0' 6\"", 152.4),
        ('1/2"', 12.7),
        ("½ in", 12.7),
        (".5 in", 12.7),
        ("8' 1/2\"", 2451.1),
        ("8'½\"", 2451.1),
        ("8 ft", 2438.4),
        ("8.0 ft", 2438.4),
        ("8 1/2 ft", 2590.8),
        ("2 yd", 1828.8),
        ("2.5 yards", 2286.0),
        ("0,435 m", 435.0),
        ("0,435 mm", 0.435),
        (",5 m", 500.0),
        ("5. m", 5000.0),
        ("10 ins", 254.0),
        ("2m43", 2430.0),
        ("2 m 43", 2430.0),
        ("2 m 43 cm", 2430.0),
        ("2m05", 2050.0),
        ("2m005", 2005.0),
        ("0 m 5 mm", 5.0),
        ("12 345.5 mm", 12_345.5),
        ("1 234 cm", 12_340.0),
        ("12.125 in", 307.975),
        ("8' 3,125\"", 2517.775),
        ("1'6", 457.2),
        ("8'11", 2717.8),
        ('8-3"', 2514.6),
        ("0.0", 0.0),
        ("100 m", 100_000.0),
        ("100000", 100_000.0),
    ],
)
def test_more_lengths(text: str, mm: float) -> None:
    assert parse_length(text) == Length(mm, None)


def test_decimal_feet_are_answered_with_what_they_are_and_what_was_perhaps_meant() -> None:
    mm, note = parse_length("12.6 ft")
    assert mm == 3840.48
    assert note is not None
    assert "12' 7 3/16\"" in note
    assert "12' 6\"" in note


@pytest.mark.parametrize("text", ["8.25 ft", "8.25'", "8,25 feet"])
def test_decimals_that_cannot_be_inches_suggest_none(text: str) -> None:
    mm, note = parse_length(text)
    assert mm == 2514.6
    assert note is not None
    assert "8' 3\"" in note
    assert "write" not in note


def test_a_leading_zero_in_decimal_feet_still_suggests_the_inches() -> None:
    assert "12' 6\"" in str(parse_length("12.06 ft").note)


def test_decimals_up_to_eleven_could_be_inches() -> None:
    assert "write 8' 11\"" in str(parse_length("8.11 ft").note)
    assert "write" not in str(parse_length("8.12 ft").note)


@pytest.mark.parametrize("text", ["2.435", ".5", "99.9"])
def test_a_bare_decimal_that_could_be_metres_is_answered_with_a_note(text: str) -> None:
    mm, note = parse_length(text)
    assert mm == float(text)
    assert f"{text} m" in str(note)


def test_a_bare_decimal_too_long_for_metres_needs_no_note() -> None:
    assert parse_length("2435.4") == Length(2435.4, None)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "empty"),
        (" \t\n", "empty"),
        ("-3", "negative"),
        ("-8' 3\"", "negative"),
        ("−2.4 m", "negative"),
        ("8' 12\"", "below 12"),
        ("8 ft 12.5 in", "below 12"),
        ("8' 300", "below 12"),
        ('3 1/0"', "0 below its line"),
        ("1/0 in", "0 below its line"),
        ("8' 3 0/0\"", "0 below its line"),
        ('3 5/4"', "not below 1"),
        ('3 4/4"', "not below 1"),
        ("8'11/2\"", "not below 1"),
        ('31/2"', "not below 1"),
        ("8.5' 3\"", "whole number"),
        ("8 1/2 ft 3 in", "whole number"),
        ("2,435", "thousands or decimals"),
        ("2,435 mm", "thousands or decimals"),
        ("1,234 cm", "thousands or decimals"),
        ("1,200 ft", "thousands or decimals"),
        ("1,234.5 mm", "not separated"),
        ("1.234,5 mm", "not separated"),
        ("1,234,567", "not separated"),
        ("12 ells", "ells"),
        ("2.435 km", "km"),
        ("2.4e3", "e is not a unit"),
        ("2435²", "² is not a unit"),
        ("3 1/2", "needs its unit"),
        ("8 ft 3 cm", "only feet"),
        ("8' 3'", "only feet"),
        ("100.001 m", "over 100 m"),
        ("329 ft", "over 100 m"),
        ("9" * 80, "over 100 m"),
        ("9" * 5000, "write it as"),
        ("nan", "write it as"),
        ("inf", "write it as"),
        ("+-2 mm", "write it as"),
        ("-+2 mm", "negative"),
        ("8' -3\"", "write it as"),
        ('3 -1/2"', "write it as"),
        ('3½4"', "write it as"),
        ('3.5 1/2"', "write it as"),
        ("2 43 mm", "write it as"),
        ("2 4355 mm", "write it as"),
        ("0 435 mm", "write it as"),
        ("2 435 m", "over 100 m"),
        ("2 yd 1 ft", "only feet"),
        ("2.5 m 43 cm", "whole number"),
        ("2 m 100 cm", "below 1 m"),
        ("2 m 1000 mm", "below 1 m"),
        ("2 m 43 m", "only feet"),
        ("2m4350", "needs its unit"),
        ("2m1/2", "needs its unit"),
        ("8.3.5", "one decimal mark"),
        ("8-3", "write it as"),
        ("8-3 1/2", "write it as"),
        ("8-3 cm", "write it as"),
        ('8-12"', "below 12"),
        ("1'005 mm", "write 1005 mm"),
        ("2'435", "write 2435 mm"),
        ("2'435 mm", "write 2435 mm"),
        ("8' 03 1/2\"", "no 0 in front"),
        ("8' 00\"", "no 0 in front"),
        ('8-03"', "no 0 in front"),
        ("8'''", "write it as"),
        ("٢٤٣٥", "write it as"),
        ("m", "write it as"),
        ("about 2 m", "write it as"),
    ],
)
def test_what_is_not_a_length_is_refused_with_the_reason(text: str, why: str) -> None:
    with pytest.raises(LengthError, match=re.escape(why)):
        parse_length(text)


@pytest.mark.parametrize(
    ("text", "first", "second"),
    [
        ("1'005", "1005 mm", "1' 5\""),
        ("8' 03\"", "8' 3\"", "8' 0.3\""),
        ("8'03", "8' 3\"", "8' 0.3\""),
        ("8 ft 03 in", "8' 3\"", "8' 0.3\""),
        ('8-03"', "8' 3\"", "8' 0.3\""),
        ("2,435 in", "2.435 in", "2435 in"),
        ('2,435"', "2.435 in", "2435 in"),
        ("2,435", "2.4350 mm", "2435 mm"),
        ("2,435 mm", "2.4350 mm", "2435 mm"),
        ("1,234 cm", "1.2340 cm", "1234 cm"),
        ("1.234 cm", "1.2340 cm", "1234 cm"),
        ("2m5", "2.5 m", "2.05 m"),
        ("2 m 5", "2.5 m", "2.05 m"),
    ],
)
def test_an_unclear_length_is_asked_back_with_both_readings(
    text: str, first: str, second: str
) -> None:
    sentence = str(length_or_reason(text))
    assert sentence.startswith(f'"{text}" could be {first} or {second}')
    assert sentence.endswith("write one of these")
    # and what it says to write is understood, as two lengths
    shorter, longer = parse_length(first), parse_length(second)
    assert shorter.mm != longer.mm
    assert shorter.note is longer.note is None


@pytest.mark.parametrize("text", ["2.435 mm", "2.435mm", "2.435 millimetres", "２．４３５ｍｍ"])
def test_thousandths_of_a_millimetre_are_thousands_and_noted(text: str) -> None:
    mm, note = parse_length(text)
    assert mm == 2435.0
    assert note == "2.435 mm was read as 2435 mm; for decimals write 2.4350 mm"
    assert parse_length("2.4350 mm") == Length(2.435, None)


@pytest.mark.parametrize(
    ("text", "mm"),
    [("0.435 mm", 0.435), ("2.43 mm", 2.43), ("2435.125 mm", 2435.125), ("2.4350 mm", 2.435)],
)
def test_other_decimals_of_a_millimetre_are_decimals(text: str, mm: float) -> None:
    assert parse_length(text) == Length(mm, None)


def test_a_message_of_two_readings_stays_short() -> None:
    assert len(str(length_or_reason("9" * 70 + "' 03\""))) < 250


@pytest.mark.parametrize(
    ("text", "mm"), [("-35", -35.0), ("−35 mm", -35.0), ("- 2.4 m", -2400.0), ("+3", 3.0)]
)
def test_a_length_below_zero_where_it_is_allowed(text: str, mm: float) -> None:
    assert parse_length(text, signed=True) == Length(mm, None)


def test_the_message_quotes_what_was_written_and_cuts_it_short_when_long() -> None:
    assert str(length_or_reason(" 12  ells ")).startswith('"12 ells" is not a length: ')
    assert str(length_or_reason("x" * 41)).startswith('"' + "x" * 39 + '…" is not a length: ')


@given(text=st.text() | st.text(alphabet="0123456789 .,'\"/-ftincmyd½′″”\t", max_size=16))
def test_any_text_is_a_length_within_bounds_or_a_length_error_in_one_line(text: str) -> None:
    answer = length_or_reason(text)
    if isinstance(answer, Length):
        assert 0 <= answer.mm <= 100_000
    else:
        assert answer.isprintable()
        assert len(answer) < 250


@given(
    whole=st.integers(1000, 99_999),
    decimals=st.sampled_from(["", ".5", ",25"]),
    space=st.sampled_from(
        [" ", "\N{THIN SPACE}", "\N{NO-BREAK SPACE}", "\N{NARROW NO-BREAK SPACE}"]
    ),
)
def test_thousands_by_spaces_are_those_without(whole: int, decimals: str, space: str) -> None:
    grouped = f"{whole:,}".replace(",", space)
    assert parse_length(f"{grouped}{decimals} mm") == parse_length(f"{whole}{decimals} mm")


@given(
    metres=st.integers(0, 99),
    mm=st.integers(0, 999),
    form=st.sampled_from(["{}m{:03}", "{} m {:03}", "{} m {} mm", "{}m {}mm"]),
)
def test_metres_and_millimetres_add_up(metres: int, mm: int, form: str) -> None:
    assert parse_length(form.format(metres, mm)) == Length(1000.0 * metres + mm, None)


@given(
    metres=st.integers(0, 99),
    cm=st.integers(0, 99),
    form=st.sampled_from(["{}m{:02}", "{} m {:02}", "{} m {} cm"]),
)
def test_metres_and_centimetres_add_up(metres: int, cm: int, form: str) -> None:
    assert parse_length(form.format(metres, cm)) == Length(1000.0 * metres + 10 * cm, None)


@given(text=st.text(alphabet="0123456789 .,'\"/-+ftincm½", max_size=14))
def test_full_width_signs_mean_the_usual_ones(text: str) -> None:
    wide = "".join(chr(ord(sign) + 0xFEE0) if "!" <= sign <= "~" else sign for sign in text)
    usual, same = length_or_reason(text), length_or_reason(wide)
    assert usual == same if isinstance(usual, Length) else isinstance(same, str)


@given(
    feet=st.integers(0, 300),
    whole=st.integers(0, 11),
    part=st.sampled_from([2, 4, 8, 16, 32, 64]).flatmap(
        lambda parts: st.builds(Fraction, st.integers(0, parts - 1), st.just(parts))
    ),
    form=st.sampled_from(["{}' {}{}\"", "{}ft {}{}in", "{} Feet, {}{} Inches", "{}′-{}{}″"]),
)
def test_feet_inches_and_fraction_add_up(feet: int, whole: int, part: Fraction, form: str) -> None:
    text = form.format(feet, whole, f" {part}" if part else "")
    expected_mm = (feet * 12 + whole + part) * Fraction(254, 10)
    assert parse_length(text) == Length(float(expected_mm), None)


@pytest.mark.parametrize(
    ("mm", "units", "text"),
    [
        (2435.4, Units.MM, "2435 mm"),
        (2435.4, Units.TENTH_MM, "2435.4 mm"),
        (2435, Units.TENTH_MM, "2435.0 mm"),
        (0, Units.MM, "0 mm"),
        (0, Units.TENTH_MM, "0.0 mm"),
        (0, Units.INCH_16, '0"'),
        (2527.3, Units.INCH_16, "8' 3 1/2\""),
        (88.9, Units.INCH_16, '3 1/2"'),
        (76.2, Units.INCH_16, '3"'),
        (4.7625, Units.INCH_16, '3/16"'),
        (0.79375, Units.INCH_32, '1/32"'),
        (2451.1, Units.INCH_16, "8' 0 1/2\""),
        (304.7, Units.INCH_16, "1' 0\""),
        (304.8, Units.INCH_32, "1' 0\""),
        (25.3, Units.INCH_32, '1"'),
    ],
)
def test_lengths_printed(mm: float, units: Units, text: str) -> None:
    assert format_length(mm, units) == text


def test_millimetres_unless_told_otherwise() -> None:
    assert format_length(2435.4) == "2435 mm"


@pytest.mark.parametrize(
    ("mm", "units", "text"),
    [
        (2.4, Units.TENTH_MM, "+2.4 mm"),
        (-2.4, Units.TENTH_MM, "-2.4 mm"),
        (3, Units.MM, "+3 mm"),
        (-4.7625, Units.INCH_16, '-3/16"'),
        (4.7625, Units.INCH_16, '+3/16"'),
        (-2527.3, Units.INCH_16, "-8' 3 1/2\""),
        (0, Units.MM, "0 mm"),
        (-0.0, Units.MM, "0 mm"),
        (-0.4, Units.MM, "0 mm"),
        (0.04, Units.TENTH_MM, "0.0 mm"),
        (-0.7, Units.INCH_16, '0"'),
    ],
)
def test_differences_printed(mm: float, units: Units, text: str) -> None:
    assert format_length(mm, units, signed=True) == text


def test_a_negative_value_keeps_its_sign_when_not_asked_for_signs() -> None:
    assert format_length(-2.4, Units.TENTH_MM) == "-2.4 mm"
    assert format_length(2.4, Units.TENTH_MM) == "2.4 mm"


@pytest.mark.parametrize(
    ("mm", "units", "text"),
    [
        (0.5, Units.MM, "1 mm"),
        (2.5, Units.MM, "3 mm"),
        (-2.5, Units.MM, "-3 mm"),
        (2435.45, Units.TENTH_MM, "2435.5 mm"),
        (0.79375, Units.INCH_16, '1/16"'),
        (2.38125, Units.INCH_16, '1/8"'),
    ],
)
def test_halves_go_away_from_zero(mm: float, units: Units, text: str) -> None:
    assert format_length(mm, units) == text


@pytest.mark.parametrize("mm", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("units", Units)
def test_what_is_not_finite_is_not_printed(mm: float, units: Units) -> None:
    with pytest.raises(LengthError, match="finite"):
        format_length(mm, units)


@given(mm=lengths_mm, units=any_units)
def test_what_is_printed_reads_back_within_half_a_step(mm: float, units: Units) -> None:
    mm_again, note = parse_length(format_length(mm, units))
    assert abs(mm_again - mm) <= STEP_MM[units] / 2 + FLOAT_SLACK_MM
    # 0.1 mm prints carry their unit, so nothing needs saying about them either
    assert note is None


@given(steps=st.integers(0, 60_000), units=any_units)
def test_whole_steps_read_back_exactly(steps: int, units: Units) -> None:
    mm = float(steps * STEP_MM[units])
    assert parse_length(format_length(mm, units)).mm == mm


@given(mm=differences_mm, units=any_units)
def test_a_difference_and_its_opposite_print_alike_but_for_the_sign(
    mm: float, units: Units
) -> None:
    text = format_length(mm, units, signed=True)
    opposite = format_length(-mm, units, signed=True)
    assert text.lstrip("+-") == opposite.lstrip("+-") == format_length(abs(mm), units)
    if parse_length(text.lstrip("+-")).mm > 0:
        assert {text[0], opposite[0]} == {"+", "-"}
        assert (text[0] == "+") == (mm > 0)
    else:
        assert text == opposite


@given(mm=lengths_mm, units=st.sampled_from(INCH_UNITS))
def test_inches_stay_below_a_foot_and_fractions_are_reduced(mm: float, units: Units) -> None:
    text = format_length(mm, units)
    match = re.fullmatch(r"(?:(\d+)' )?(?:(\d+)(?: |(?=\")))?(?:(\d+)/(\d+))?\"", text)
    assert match is not None, text
    feet, whole, numerator, denominator = (
        int(number) if number else None for number in match.groups()
    )
    assert feet is None or (feet > 0 and whole is not None)
    assert whole is None or whole < 12
    if numerator is not None and denominator is not None:
        assert 0 < numerator < denominator <= (16 if units is Units.INCH_16 else 32)
        assert math.gcd(numerator, denominator) == 1


def test_every_unit_is_read_by_each_of_its_spellings_in_either_case() -> None:
    for spelling, size_mm in UNIT_MM.items():
        for text in (f"3 {spelling}", f"3{spelling.upper()}"):
            assert parse_length(text) == Length(float(3 * size_mm), None)


def test_reading_lengths_loads_nothing_heavy() -> None:
    program = (
        "import sys, witnessmark.lengths;"
        "print(sorted({'numpy', 'msgspec', 'asyncio', 'click'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True)
    assert done.stdout.strip() == b"[]"


@pytest.mark.parametrize(
    ("expanded_mm", "told"),
    [
        (0.94, "1450.4 mm ±0.9 mm"),
        (0.95, "1450 mm ±1 mm"),
        (1.0, "1450 mm ±1 mm"),
        (1.6, "1450 mm ±2 mm"),
        (12.01, "1450 mm ±13 mm"),
    ],
)
def test_a_length_has_no_more_digits_than_its_uncertainty_supports(
    expanded_mm: float, told: str
) -> None:
    assert format_known(1450.4, expanded_mm, Units.TENTH_MM) == told


@pytest.mark.parametrize(
    ("expanded_mm", "told"),
    [
        # of an inch of 25.4 mm: 0.0315, 0.0630, 0.0748, 0.2000, 1.1024, 12.008
        (0.8, "0.032 in"),
        (1.6, "0.07 in"),
        (1.9, "0.08 in"),
        (5.08, "0.20 in"),
        (28.0, "1.2 in"),
        (305.0, "13 in"),
    ],
)
@pytest.mark.parametrize("units", INCH_UNITS)
def test_an_uncertainty_beside_inches_is_in_decimal_inches(
    expanded_mm: float, told: str, units: Units
) -> None:
    for whole in (None, False, True):
        assert format_expanded(expanded_mm, units, whole=whole) == told
    assert format_known(1524.0, expanded_mm, units) == f"5' 0\" ±{told}"


@given(mm=st.floats(0, 1e5), units=any_units)
def test_an_uncertainty_has_at_most_two_digits_and_is_never_less_than_it_is(
    mm: float, units: Units
) -> None:
    """JCGM 100:2008, 7.2.6: two significant digits do, and up is the safe way to round."""
    number, unit = format_expanded(mm, units).split()
    told = float(Fraction(number) * UNIT_MM[unit])
    if units.is_metric and mm < 0.95:
        assert abs(told - mm) <= 0.05 + 1e-9
        return
    assert told >= mm - 1e-4
    if not units.is_metric:
        assert len(number.replace(".", "").lstrip("0")) <= 2 or mm > 99 * 25.4
        assert told - mm <= max(0.0255, 0.255 * (mm >= 0.95), mm / 9.5)


@given(mm=differences_mm, units=any_units)
def test_a_small_figure_reads_back_within_half_a_step(mm: float, units: Units) -> None:
    text = format_small(mm, units, signed=True)
    step = 0.1 if units.is_metric else 0.254 if text.endswith("in") else float(STEP_MM[units])
    assert abs(parse_length(text, signed=True).mm - mm) <= step / 2 + 1e-6
    assert ("mm" in text) == units.is_metric


def test_whole_millimetres_of_an_uncertainty_are_chosen_by_place() -> None:
    assert format_expanded(0.3, Units.MM, whole=True) == "1 mm"
    assert format_expanded(1.31, Units.MM, whole=False) == "1.3 mm"
    with pytest.raises(LengthError, match="finite"):
        format_expanded(math.nan, Units.INCH_16)


@given(st.floats(0, 1e5))
def test_an_uncertainty_in_whole_millimetres_is_never_less_than_it_is(expanded_mm: float) -> None:
    told = float(format_expanded(expanded_mm, Units.MM, whole=True).removesuffix(" mm"))
    assert expanded_mm - 1e-5 <= told < expanded_mm + 1


def test_two_metres_in_feet_and_inches() -> None:
    # arithmetic: the nearest 1/16 in is 0.25 mm above, the nearest 1/64 in 0.146875 mm below
    assert format_length(2000.0, Units.INCH_16) == "6' 6 3/4\""
    assert parse_length("6' 6 3/4\"").mm - 2000 == 0.25
    assert parse_length("6' 6 47/64\"").mm == 2000 - 0.146875
    # 1/32 in: 78.740157 in * 32 = 2519.685, so 2520/32 in, the same 6' 6 3/4"
    assert format_length(2000.0, Units.INCH_32) == "6' 6 3/4\""


def test_sixteenths_carry_into_inches_and_feet() -> None:
    # arithmetic: 1/32 in below 8 ft lies at 2437.60625 mm
    assert format_length(2437.60, Units.INCH_16) == "7' 11 15/16\""
    assert format_length(2437.61, Units.INCH_16) == "8' 0\""
    assert format_length(-2437.61, Units.INCH_16) == "-8' 0\""


@pytest.mark.parametrize(
    ("units", "finer"),
    [
        (Units.MM, Units.TENTH_MM),
        (Units.TENTH_MM, Units.TENTH_MM),
        (Units.INCH_16, Units.INCH_32),
        (Units.INCH_32, Units.INCH_32),
    ],
)
def test_what_is_measured_is_shown_in_a_finer_step_of_the_same_unit(
    units: Units, finer: Units
) -> None:
    assert units.finer is finer
