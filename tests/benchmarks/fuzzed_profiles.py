"""Profiles for the fuzzing, and a second opinion on what is read from them and by them."""

from __future__ import annotations

import re
import struct
import tomllib
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import tomli_w
from damaged_files import (
    UNIT_MM,
    Fed,
    Once,
    check_refusal,
    damaged,
    drawn_length,
    is_same,
    length_mm,
    number,
)
from fuzz_decoders import in_range, spoilt
from numpy.random import Generator

from witnessmark.errors import LengthError, WitnessmarkError
from witnessmark.meters.decoding import decoder_for
from witnessmark.meters.port import MeterSaysNo
from witnessmark.meters.profile import Modbus, Profile, read_profile, write_profile
from witnessmark.meters.profile_folder import load_profile
from witnessmark.meters.profile_words import in_words
from witnessmark.model import Reading
from witnessmark_simulators.binary import crc16

AT: Final = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
LENGTHS: Final = ("shortest", "longest", "fault_values", "step")
LIMITS: Final = {
    **dict.fromkeys(LENGTHS, (0, 100_000)),
    **dict.fromkeys(("every", "answer_within"), (0.05, 3600)),
    **dict.fromkeys(("at", "covers_from", "leaves_out", "but"), (0, 199)),
    "baud": (50, 4_000_000),
    "length": (2, 200),
    "device": (1, 247),
    "function": (3, 4),
    "register": (0, 65_535),
    "ok": (0, 65_535),
    "scale": (1e-6, 1e3),
}
"""What each figure of a profile may be, least and most."""
OCTETS: Final = ("header", "bytes", "ok")
UUIDS: Final = ("characteristic", "service", "request_characteristic")
LINES: Final = (
    (r"D(?P<value>[0-9]{1,3}\.[0-9]{3})m,(?P<status>.*)", lambda mm: f"D{mm / 1000:.3f}m,OK"),
    (r"(?P<value>[0-9.]+) (?P<unit>m|ft);", lambda mm: f"{mm / 304.8:.3f} ft;"),
    (r"\s*(?P<value>[0-9]+)(?:mm)?", lambda mm: f" {mm:.0f}mm"),
    (r"R(?P<value>[0-9,]+)", lambda mm: f"R{mm:,.0f}"),
    (r"H(?P<value>[0-9A-F]+)h?", lambda mm: f"H{round(mm):04X}h"),
    (r"(?P<value>[0-9]+' ?[0-9]+(?: [0-9]+/[0-9]+)?\")", lambda mm: f"{mm // 304.8:.0f}' 3 1/2\""),
    (r"(?P<value>[0-9.]+[eE][+-]?[0-9]+),(?P<status>[0-9]+)", lambda mm: f"{mm:.3e},0"),
)
"""Patterns, and lines that match them."""
CHECKSUMS: Final = {
    "sum8": lambda data: bytes([sum(data) % 256]),
    "sum8-negated": lambda data: bytes([-sum(data) % 256]),
    "crc16-modbus": lambda data: crc16(data).to_bytes(2, "little"),
}
SIZES: Final = {"uint16": 2, "uint24": 3, "uint32": 4, "int16": 2, "int24": 3, "int32": 4}
FLOATS: Final = {"float32": "f", "float64": "d"}
DIGITS: Final = {"bcd16": 2, "bcd24": 3, "bcd32": 4}


def profiles(folder: Path) -> Once:
    """Profiles, damaged, read from a folder."""
    file = folder / "mine.toml"

    def once(rng: Generator) -> Fed:
        data = damaged(sound_profile(rng), sound_profile(rng), rng)
        file.write_bytes(data)
        try:
            profile = load_profile("mine")
        except WitnessmarkError as error:
            check_refusal(error, data)
            return Fed(len(data))
        tables = tomllib.loads(data.decode("utf-8-sig"))
        return Fed(len(data), check_profile(profile, tables, data) + tried(profile, tables, rng))

    return once


def sound_profile(rng: Generator) -> bytes:
    """A profile of one of the three kinds."""

    def maybe(share: float, **values: object) -> dict[str, Any]:
        return values if rng.random() < share else {}

    kind = int(rng.integers(3))
    limits = maybe(0.4, longest=drawn_length(rng, 5000, 90_000))
    limits |= maybe(0.4, shortest=drawn_length(rng, 10, 300))
    limits |= maybe(0.3, fault_values=[drawn_length(rng, 1, 20_000) for _ in range(2)])
    request = {"text": "take\r\n"} if rng.random() < 0.5 else {"bytes": "10 01"}
    request |= maybe(0.4, every=float(rng.uniform(0.1, 9)))
    serial = maybe(0.6, baud=19_200) | maybe(0.5, line="8E1")
    bluetooth = {"characteristic": "ffe1"} | maybe(
        0.4, service="0000FFE0-0000-1000-8000-00805f9b34fb"
    )
    asked = {"request": request} | maybe(0.4, request_characteristic="2ac6")
    tables: dict[str, Any] = {"format": "witnessmark profile 1"} | maybe(0.5, about="ours “ß”")
    tables |= maybe(0.4, step=drawn_length(rng, 0.1, 3))
    tables |= maybe(0.5, serial=serial | ({} if kind == 2 else maybe(0.5, request=request)))
    tables |= {} if kind == 2 else maybe(0.4, bluetooth=bluetooth | maybe(0.5, **asked))
    make = (_drawn_text, _drawn_frame, _drawn_modbus)[kind]
    name = ("text", "frame", "modbus")[kind]
    return tomli_w.dumps(tables | {name: make(rng, limits)}).encode()


def _drawn_text(rng: Generator, limits: dict[str, Any]) -> dict[str, Any]:
    if rng.random() < 0.3:
        return ({"unit": str(rng.choice(["m", "mm", "ft"]))} if rng.random() < 0.6 else {}) | limits
    pattern = LINES[int(rng.integers(len(LINES)))][0]
    table: dict[str, Any] = {"pattern": pattern, "unit": str(rng.choice(["m", "mm", "in"]))}
    table |= {"ok": ["OK", "0"]} if "status" in pattern else {}
    table |= {"thousands": ","} if "0-9," in pattern else {}
    table |= {"hexadecimal": True} if "A-F" in pattern else {}
    table |= {"scale": 0.1} if rng.random() < 0.2 else {}
    table |= {"faults": {"E1": "too little light", "---": "far"}} if rng.random() < 0.4 else {}
    table |= {"ends": str(rng.choice(["\r\n", ";", ""]))} if rng.random() < 0.4 else {}
    if rng.random() < 0.2:
        table["checksum"] = {"kind": "sum8"} | ({"leaves_out": 1} if rng.random() < 0.5 else {})
    return table | limits


def _drawn_frame(rng: Generator, limits: dict[str, Any]) -> dict[str, Any]:
    kind = str(rng.choice([*SIZES, *FLOATS, *DIGITS]))
    at = int(rng.integers(2, 4))
    distance = {"at": at, "order": str(rng.choice(["big", "little"])), "type": kind}
    distance |= {"unit": str(rng.choice(["mm", "cm", "m", "ft"]))}
    distance |= {"scale": float(rng.choice([0.1, 0.01, 10]))} if rng.random() < 0.4 else {}
    end = at + _size(kind)
    frame: dict[str, Any] = {"header": "59 5A", "distance": distance | limits}
    if rng.random() < 0.5:
        faults = {"faults": {"01": "too little light"}} if rng.random() < 0.5 else {}
        frame["status"] = {"at": end, "ok": ["00", "10"]} | faults
    if rng.random() < 0.4:
        frame["fixed"] = [{"at": end + 1, "bytes": "0D"}]
    check = str(rng.choice(list(CHECKSUMS)))
    frame["length"] = end + 2 + (2 if check.startswith("crc") else 1)
    if rng.random() < 0.8:
        frame["checksum"] = {"kind": check} | ({"covers_from": 1} if rng.random() < 0.4 else {})
    return frame


def _drawn_modbus(rng: Generator, limits: dict[str, Any]) -> dict[str, Any]:
    kinds = ("uint16", "uint32", "int16", "int32", "float32", "float64", "bcd32")
    table: dict[str, Any] = {"register": int(rng.integers(60_000)), "type": str(rng.choice(kinds))}
    table |= {"unit": str(rng.choice(["mm", "m"]))}
    table |= {"device": 17, "function": 4} if rng.random() < 0.5 else {}
    table |= {"word_order": "little", "every": 0.5} if rng.random() < 0.5 else {}
    table |= {"only_changes": True, "scale": 0.01} if rng.random() < 0.4 else {}
    if rng.random() < 0.4:
        table["status"] = {"register": 3, "ok": [0, 4], "faults": {"2": "too little light"}}
    return table | limits


def check_profile(profile: Profile, tables: dict[str, Any], data: bytes) -> int:
    """Judge all that a profile holds; how many figures there were."""
    written = write_profile(profile)
    assert read_profile(written) == profile, data
    assert in_words(profile), data
    return sum(
        _check_value(path, came, stands, data)
        for path, came, stands in _beside((), tomllib.loads(written), tables)
    )


def _beside(
    path: tuple[str, ...], came: object, stands: object
) -> Iterator[tuple[tuple[str, ...], object, object]]:
    """Each value of a profile as it is written again, beside that which stands in the file."""
    if isinstance(came, dict):
        assert isinstance(stands, dict), (path, came, stands)
        for key, value in came.items():
            assert key in stands, (path, key, stands)
            yield from _beside((*path, key), value, stands[key])
    elif isinstance(came, list):
        assert isinstance(stands, list), (path, came, stands)
        if path[-1] == "fault_values":
            came, stands = sorted(came, key=_mm), sorted(stands, key=_mm)
        for one, other in zip(came, stands, strict=True):
            yield from _beside(path, one, other)
    else:
        yield path, came, stands


def _check_value(path: tuple[str, ...], came: object, stands: object, data: bytes) -> bool:
    key = path[-1]
    if key in LENGTHS:
        assert is_same(_mm(came), _mm(stands)), (path, came, stands, data)
        came = _mm(came)
    elif key in OCTETS and isinstance(came, str) and "text" not in path:
        assert bytes.fromhex(came) == bytes.fromhex(str(stands)), (path, came, stands, data)
    elif key in UUIDS:
        digits = re.sub("^0x|-", "", str(stands).lower())
        whole = f"0000{digits}00001000800000805f9b34fb" if len(digits) == 4 else digits
        assert str(came).replace("-", "") == whole, (path, came, stands, data)
    else:
        assert came == stands, (path, came, stands, data)
    if isinstance(came, bool) or not isinstance(came, int | float):
        return False
    least, most = LIMITS[key]
    assert least <= came <= most, (path, came, data)
    return True


def _mm(value: object) -> float:
    """A length of a profile, mm."""
    return float(value) if isinstance(value, int | float) else length_mm(str(value)) or 0.0


def tried(profile: Profile, tables: dict[str, Any], rng: Generator) -> int:
    """Feed a profile with frames of its own, some damaged, and judge the distances."""
    if profile.modbus is not None:
        return _tried_registers(profile.modbus, tables["modbus"], rng)
    decoder, count = decoder_for(profile, "fuzz"), 0
    judge = _line_mm if "text" in tables else _frame_mm
    make = _line if "text" in tables else _frame
    for _ in range(6):
        mm = float(rng.uniform(50, 12_000))
        data = spoilt(make(tables, mm, rng), make(tables, mm, rng), rng)
        outcomes = decoder.feed(data, AT)
        outcomes += decoder.pause(AT)
        for one in outcomes:
            if isinstance(one, Reading):
                judged = judge(tables, one.raw)
                assert is_same(one.distance_mm, judged), (tables, one, judged)
                count += 1
    return count


def _size(kind: str) -> int:
    return int(kind.lstrip("uintfloabcd")) // 8


def _line(tables: dict[str, Any], mm: float, rng: Generator) -> bytes:
    text = tables["text"]
    fitting = [make for pattern, make in LINES if pattern == text.get("pattern")]
    make = fitting[0] if fitting else lambda mm: f"{mm / 1000:.3f} m"
    line = make(mm).encode()
    if "checksum" in text:
        line += CHECKSUMS["sum8"](line[text["checksum"].get("leaves_out", 0) :]).hex().encode()
    ends = text.get("ends", "\r\n")
    return line + ends[: int(rng.integers(1, 3))].encode()


def _line_mm(tables: dict[str, Any], raw: bytes) -> float | None:
    """The distance in a line, as the tables say."""
    text = tables["text"]
    try:
        line = raw.decode()
    except UnicodeDecodeError:
        line = raw.decode("latin-1")
    if "pattern" not in text:
        return _believed(text, length_mm(line, text.get("unit", "?"), by_meter=True))
    match = re.fullmatch(text["pattern"], line, re.ASCII)
    groups = match.groupdict() if match else {}
    if not match or ("status" in groups and groups["status"] not in text["ok"]):
        return None
    check = text.get("checksum")
    if check and not _fits(check, raw.rstrip()):
        return None
    value = groups["value"].strip().removeprefix("+").lstrip()
    unit = (groups.get("unit") or text.get("unit", "?")).strip().lower()
    if text.get("hexadecimal"):
        plain = float(int(value.removesuffix("h"), 16))
    elif re.fullmatch(r"[0-9.,]+[eE][+-]?[0-9]+", value):
        plain = float(value.replace(",", "."))
    else:
        found = number(value.replace(text.get("thousands") or "\0", ""))
        if found is None:
            in_feet = length_mm(value) if text.get("scale", 1) == 1 else None
            return _believed(text, in_feet)
        plain = found
    size = UNIT_MM.get(unit)
    return None if size is None else _believed(text, plain * text.get("scale", 1) * size)


def _fits(check: dict[str, Any], line: bytes) -> bool:
    if check["kind"] not in CHECKSUMS or check["kind"].startswith("crc"):
        return True
    covered = line[:-2][check.get("leaves_out", 0) :]
    covered = covered[: len(covered) - check.get("but", 0)]
    return CHECKSUMS[check["kind"]](covered).hex().upper().encode() == line[-2:].upper()


def _frame(tables: dict[str, Any], mm: float, rng: Generator) -> bytes:
    frame = tables["frame"]
    distance = frame["distance"]
    body = bytearray(rng.bytes(frame["length"]))
    header = bytes.fromhex(frame.get("header", ""))
    size = _size(distance["type"])
    body[: len(header)] = header
    value = _bytes_of(distance["type"], mm / UNIT_MM[distance["unit"]] / distance.get("scale", 1))
    value = value if distance["order"] == "big" else value[::-1]
    body[distance["at"] : distance["at"] + size] = value
    for fixed in frame.get("fixed", ()):
        octets = bytes.fromhex(fixed["bytes"])
        body[fixed["at"] : fixed["at"] + len(octets)] = octets
    if "status" in frame:
        body[frame["status"]["at"]] = bytes.fromhex(frame["status"]["ok"][0])[0]
    check = frame.get("checksum")
    if check and check["kind"] in CHECKSUMS:
        at = _checksum_at(frame)
        found = CHECKSUMS[check["kind"]](bytes(body[check.get("covers_from", 0) : at]))
        body[at : at + len(found)] = found
    return bytes(body)


def _checksum_at(frame: dict[str, Any]) -> int:
    check = frame["checksum"]
    size = 2 if check["kind"].startswith("crc16") else 1
    at: int = check.get("at", frame["length"] - size)
    return at


def _frame_mm(tables: dict[str, Any], raw: bytes) -> float | None:
    """The distance in a frame, as the tables say."""
    frame = tables["frame"]
    distance, check = frame["distance"], frame.get("checksum")
    fixed = [(0, frame.get("header", ""))]
    fixed += [(one["at"], one["bytes"]) for one in frame.get("fixed", ())]
    status = frame.get("status")
    right = len(raw) == frame["length"] and all(
        raw[at:].startswith(bytes.fromhex(octets)) for at, octets in fixed
    )
    if status:
        oks = {bytes.fromhex(one) for one in status["ok"]}
        right = right and raw[status["at"] : status["at"] + 1] in oks
    if check and check["kind"] in CHECKSUMS:
        at = _checksum_at(frame)
        covered = raw[check.get("covers_from", 0) : at]
        right = right and raw[at:].startswith(CHECKSUMS[check["kind"]](covered))
    kind = distance["type"]
    value = raw[distance["at"] : distance["at"] + _size(kind)]
    found = _number_in(kind, value if distance["order"] == "big" else value[::-1])
    size = UNIT_MM[distance["unit"]] * distance.get("scale", 1)
    return _believed(distance, found * size) if right else None


def _number_in(kind: str, value: bytes) -> float:
    """The number that bytes are, the highest first; -1 for what means no value."""
    if kind in FLOATS:
        return float(struct.unpack(">" + FLOATS[kind], value)[0])
    if kind in DIGITS:
        digits = value.hex()
        return float(digits) if digits.isdigit() and digits.strip("9") else -1.0
    if kind.startswith("uint"):
        return -1.0 if value == b"\xff" * len(value) else float(int.from_bytes(value, "big"))
    is_end = value == b"\x7f" + b"\xff" * (len(value) - 1)
    return -1.0 if is_end else float(int.from_bytes(value, "big", signed=True))


def _tried_registers(modbus: Modbus, table: dict[str, Any], rng: Generator) -> int:
    """Read registers by a profile, and judge the distances."""
    count, kind = 0, table["type"]
    for _ in range(6):
        mm = float(rng.uniform(50, 12_000))
        data = _bytes_of(kind, mm / UNIT_MM[table["unit"]] / table.get("scale", 1))
        data = data if rng.random() < 0.8 else rng.bytes(len(data))
        registers = struct.unpack(f">{len(data) // 2}H", data)
        is_low_first = table.get("word_order") == "little"
        try:
            came = modbus.in_registers(registers[::-1] if is_low_first else registers)
        except (LengthError, MeterSaysNo):
            continue
        size = UNIT_MM[table["unit"]] * table.get("scale", 1)
        judged = _believed(table, _number_in(kind, data) * size)
        assert is_same(came, judged), (table, data, came, judged)
        count += 1
    return count


def _bytes_of(kind: str, units: float) -> bytes:
    """A number as bytes, the highest first, without what does not fit."""
    size = _size(kind)
    if kind in FLOATS:
        return struct.pack(">" + FLOATS[kind], units)
    if kind in DIGITS:
        return bytes.fromhex(f"{round(units) % 10 ** (2 * size):0{2 * size}d}")
    return (round(units) % 2 ** (8 * size)).to_bytes(size, "big")


def _believed(limits: dict[str, Any], mm: float | None) -> float | None:
    if mm is None or in_range(mm) is None:
        return None
    longest, shortest = _mm(limits.get("longest", 100_000)), _mm(limits.get("shortest", 0))
    # a millionth for what the second reading rounds
    within = shortest * (1 - 1e-9) <= mm <= longest * (1 + 1e-9)
    is_error = any(abs(mm - _mm(one)) < 0.05 - 1e-6 for one in limits.get("fault_values", ()))
    return mm if within and not is_error else None
