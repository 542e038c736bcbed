"""A profile said in words."""

from __future__ import annotations

from witnessmark.meters.number import LONGEST_MM, DistanceLimits, Order, ScaledNumber
from witnessmark.meters.profile import Bluetooth, Frame, Modbus, Profile, Request, Serial, Text
from witnessmark.meters.request_line import shown_request

_LINE_ENDS = {"\r\n": "lines of text", "": "text without line ends"}


def in_words(profile: Profile) -> list[str]:
    """Return a line each on how the bytes arrive, what they are, and where the distance is."""
    asked = [_request_words(table.request) for table in _transports(profile) if table.request]
    if profile.frame:
        words = _frame_words(profile.frame)
    elif profile.text:
        words = _text_words(profile.text)
    else:
        words = _modbus_words(profile.modbus) if profile.modbus else []
    return asked + words[:-1] + [words[-1] + _limits_words(profile.limits)] if words else asked


def _limits_words(limits: DistanceLimits) -> str:
    words = f", from {limits.shortest / 1000:.2f} m on" if limits.shortest else ""
    if limits.longest < LONGEST_MM:
        words += f" up to {limits.longest / 1000:.2f} m"
    numbers = " or ".join(f"{value:g}" for value in limits.fault_values)
    return words + (f", and never {numbers} mm" if numbers else "")


def _transports(profile: Profile) -> list[Serial | Bluetooth]:
    return [table for table in (profile.serial, profile.bluetooth) if table]


def _request_words(request: Request) -> str:
    often = f", and every {request.every:g} s" if request.every else ""
    return f"measures when asked with {shown_request(request)}{often}"


def _frame_words(frame: Frame) -> list[str]:
    words = [f"frames of {frame.length} bytes"]
    if frame.header:
        words[0] += f" that begin with {frame.header.hex(' ')}"
    words += [f"always {one.bytes.hex(' ')} from {_nth(one.at)} on" for one in frame.fixed]
    if frame.checksum:
        words.append(f"checked by {frame.checksum.kind} in {_nth(frame.checksum_at)}")
    if frame.status:
        good = " or ".join(one.hex() for one in frame.status.ok)
        words.append(f"the status in {_nth(frame.status.at)} is {good} when all is well")
    distance = frame.distance
    end = "low" if distance.order is Order.LITTLE else "high"
    words.append(
        f"the distance is {_number_words(distance)}, from {_nth(distance.at)} on, {end} byte first"
    )
    return words


def _text_words(text: Text) -> list[str]:
    kind = _LINE_ENDS.get(text.ends, f"text that {text.ends!r} ends")
    if text.pattern is None:
        unit = f", in {text.unit} where no unit follows it" if text.unit else ", with its unit"
        return [kind, f"the distance is the one number in the line{unit}"]
    unit = f"in {_unit_words(text.scale, text.unit)}" if text.unit else "with its unit"
    words = [kind]
    if text.checksum:
        words.append(f"checked by {text.checksum.kind} in the last {text.checksum.digits} digits")
    return [*words, f"the distance is the value in {text.pattern}, {_written_words(text)}{unit}"]


def _written_words(text: Text) -> str:
    if text.hexadecimal:
        return "in hexadecimal digits, "
    return f'with "{text.thousands}" between thousands, ' if text.thousands else ""


def _modbus_words(modbus: Modbus) -> list[str]:
    place = f"{'holding' if modbus.function == 3 else 'input'} register {modbus.register}"
    word = "high" if modbus.word_order is Order.BIG else "low"
    return [
        f"Modbus device {modbus.device}, asked every {modbus.every:g} s",
        f"the distance is {_number_words(modbus)}, from {place} on, {word} word first",
    ]


def _number_words(number: ScaledNumber) -> str:
    kind = "binary fraction" if number.type.is_float else "whole number"
    kind = "decimal number" if number.type.is_decimal else kind
    sign = "signed " if number.type.is_signed else ""
    return f"a {sign}{kind} of {number.type.size} bytes in {_unit_words(number.scale, number.unit)}"


def _unit_words(scale: float, unit: str | None) -> str:
    return f"{unit}" if scale == 1 else f"{scale:g} {unit}"


def _nth(at: int) -> str:
    return f"byte {at + 1}"
