"""Random and mutated bytes into what decodes Bluetooth: no crash, no wrong distance."""

from __future__ import annotations

import random
import struct
from collections.abc import Iterator
from datetime import UTC, datetime

from effort import cases

from witnessmark.meters.presentation import LENGTH_UNITS, PresentationFormat, report_value
from witnessmark.model import Reading
from witnessmark_drivers.ble_text import TextDecoder

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
BYTES = cases(400_000, 10_000_000)

SIZES = {0x04: 1, 0x06: 2, 0x07: 3, 0x08: 4, 0x09: 6, 0x0A: 8, 0x0B: 16}
SIZES |= {code + 8: size for code, size in SIZES.items()}
SIZES |= {0x14: 4, 0x15: 8, 0x16: 2, 0x17: 4}
UNITS = [*LENGTH_UNITS, 0x2700, 0x2702]
TEXTS = [b"1512 mm\r\n", b"1.513 m", b"8' 3 1/2\"\r\n", b"Error: dark\r\n", b"2.514 m\0"]


def described_values(draw: random.Random) -> Iterator[tuple[bytes, bytes]]:
    """Descriptors and values, most of them nearly right."""
    codes = [*SIZES, 0x19]
    while True:
        code = draw.choice(codes) if draw.random() < 0.9 else draw.randrange(256)
        size = SIZES.get(code, 6) if draw.random() < 0.9 else draw.randrange(21)
        form = struct.pack("<BbHBH", code, draw.randint(-9, 1), draw.choice(UNITS), 1, 0)
        yield form, draw.randbytes(size)


def test_values_that_describe_themselves() -> None:
    taken = readings = 0
    for form, value in described_values(random.Random(1)):
        taken += len(form) + len(value)
        presentation = PresentationFormat.parse(form)
        report = report_value(presentation, value, at=AT, meter="x")
        if isinstance(report, Reading):
            readings += 1
            assert 0 < report.distance_mm <= 100_000
            assert presentation.is_text or len(value) == SIZES[presentation.format]
            assert presentation.is_text or presentation.unit in LENGTH_UNITS
        if taken >= BYTES:
            break
    assert readings > 1000


def notifications(draw: random.Random) -> Iterator[bytes]:
    """Texts, whole, cut, mutated in a byte or two, or not text at all."""
    while True:
        text = bytearray(draw.choice(TEXTS))
        for _ in range(draw.randrange(3)):
            text[draw.randrange(len(text))] = draw.randrange(256)
        yield bytes(text[: draw.randint(1, 20)]) if draw.random() < 0.8 else draw.randbytes(20)


def test_text_in_notifications() -> None:
    draw = random.Random(2)
    decoder = TextDecoder("x", None)
    taken = readings = 0
    for data in notifications(draw):
        taken += len(data)
        reports = decoder.feed(data, AT)
        if draw.random() < 0.1:
            reports += decoder.break_off("a pause", AT)
        for report in reports:
            if isinstance(report, Reading):
                readings += 1
                assert 0 < report.distance_mm <= 100_000
                assert report.raw.decode().replace("\t", " ").isprintable()
        if taken >= BYTES:
            break
    assert readings > 1000
