"""A profile: how a meter is reached and how its bytes are a distance, as a TOML file.

    format = "witnessmark profile 1"
    about = "Nine bytes after each press"

    [serial]                # or [bluetooth], or both; neither: any serial line
    baud = 19200

    [frame]                 # or [text], or [modbus]
    length = 9
    header = "59 59"
    distance = { at = 2, order = "little", type = "uint16", unit = "mm" }
    status = { at = 4, ok = ["00"], faults = { "01" = "too little light comes back" } }
    checksum = { kind = "sum8" }

A key that is not known is an error, because a misspelt one would otherwise be left out without a
word. What a profile does not explain is never a distance.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from witnessmark.errors import BadInput
from witnessmark.file_errors import complaint, printable
from witnessmark.meters.checksum import Checksum
from witnessmark.meters.number import DistanceLimits, Order, ScaledNumber
from witnessmark.meters.profile_values import (
    Baud,
    ByteFaults,
    DeviceNumber,
    DisplayStep,
    FaultValue,
    FrameLength,
    LineEnds,
    LineFormat,
    Longest,
    Octets,
    Offset,
    Pattern,
    ReadFunction,
    Register,
    RegisterFaults,
    Scale,
    Seconds,
    ShortestDistance,
    TextFaults,
    Thousands,
    Unit,
    Uuid,
    plain_value,
    read_value,
)
from witnessmark.nesting import read_toml

FORMAT = "witnessmark profile 1"
LARGEST_BYTES = 64_000


class ProfileTable(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True, omit_defaults=True
):
    """A table of the file."""


class Request(ProfileTable, frozen=True):
    """What is written to the meter to make it measure: once it is open, and then at intervals."""

    text: str = ""
    bytes: Octets = Octets()
    every: Seconds | None = None

    def __post_init__(self) -> None:
        if bool(self.text) == bool(self.bytes):
            raise BadInput(
                'a request is either a text such as "take\\r\\n" or bytes such as "10 01"'
            )

    @property
    def data(self) -> Octets:
        """The bytes to write."""
        return self.bytes or Octets(self.text.encode())


class Serial(ProfileTable, frozen=True):
    """``[serial]``: the line."""

    baud: Baud = Baud(9600)
    line: LineFormat = LineFormat("8N1")
    request: Request | None = None


class Bluetooth(ProfileTable, frozen=True):
    """``[bluetooth]``: the characteristic that notifies, and the one that takes requests."""

    characteristic: Uuid
    service: Uuid | None = None
    request: Request | None = None
    request_characteristic: Uuid | None = None
    """Where requests are written; None: to ``characteristic``."""

    def __post_init__(self) -> None:
        if self.request_characteristic and not self.request:
            raise BadInput("request_characteristic goes with a request, which is missing")


class TextChecksum(ProfileTable, frozen=True):
    """``text.checksum``: hexadecimal digits that end a line and check what stands before them.

    The first ``leaves_out`` signs of the line are not covered, nor are the last ``but`` signs
    before the digits, such as a ``*``. With ``low_first`` the low byte of two comes first.
    """

    kind: Checksum
    leaves_out: Offset = Offset(0)
    but: Offset = Offset(0)
    low_first: bool = False

    @property
    def digits(self) -> int:
        """How many digits it has."""
        return 2 * self.kind.size

    def fits(self, line: bytes) -> bool:
        """Return whether a line, without its line end, ends with its own checksum."""
        body, digits = line[: -self.digits], line[-self.digits :]
        covered = body[self.leaves_out : len(body) - self.but]
        return bool(covered) and digits.upper() == self.over(covered).hex().upper().encode()

    def over(self, covered: bytes) -> bytes:
        """Return the checksum of bytes in the order in which it is written."""
        number = self.kind.number(covered)
        return number.to_bytes(self.kind.size, "little" if self.low_first else "big")


class Text(DistanceLimits, frozen=True):
    """``[text]``: lines of printable signs.

    Without ``pattern`` a line is read as without any profile: one number, perhaps with its unit.
    With it the whole line has to match. The group ``value`` is the number, in the unit that the
    group ``unit`` shows, else in ``unit``. What the group ``status`` shows has to be among ``ok``;
    statuses and whole lines among ``faults`` are reported in the words given there.

    The value is decimal, perhaps with a power of ten (``1.899E+3``), with ``thousands`` in groups,
    a fraction (``74 11/16``), or feet and inches; ``hexadecimal`` where its digits are sixteens.
    """

    pattern: Pattern | None = None
    unit: Unit | None = None
    scale: Scale = Scale(1)
    thousands: Thousands = Thousands()
    hexadecimal: bool = False
    checksum: TextChecksum | None = None
    ends: LineEnds = LineEnds("\r\n")
    ok: tuple[str, ...] = ()
    faults: TextFaults = TextFaults()

    def __post_init__(self) -> None:
        if self.pattern is None:
            if self.ok or self.scale != Scale(1):
                raise BadInput("ok and scale need a pattern")
            if self.thousands or self.hexadecimal or self.checksum:
                raise BadInput("thousands, hexadecimal and checksum need a pattern")
            return
        if self.unit is None and "(?P<unit>" not in self.pattern:
            raise BadInput("give the unit of the pattern's value, or a group (?P<unit>...) in it")
        if bool(self.ok) != ("(?P<status>" in self.pattern):
            raise BadInput("the group (?P<status>...) of the pattern and the list ok go together")


class FrameDistance(ScaledNumber, frozen=True):
    """``frame.distance``: where the number stands, counted from the frame's first byte."""

    at: Offset
    order: Order

    def in_frame(self, frame: bytes) -> float:
        """Return the distance that a frame holds, mm.

        Raises:
            LengthError: when it holds none.
        """
        return self.distance_mm(frame[self.at : self.at + self.type.size], self.order)


class FrameStatus(ProfileTable, frozen=True):
    """``frame.status``: the byte by which the meter says whether it could measure."""

    at: Offset
    ok: tuple[Octets, ...]
    faults: ByteFaults = ByteFaults()

    def __post_init__(self) -> None:
        if not self.ok or any(len(one) != 1 for one in self.ok):
            raise BadInput('ok is a list of single bytes such as ["00"]')


class FrameChecksum(ProfileTable, frozen=True):
    """``frame.checksum``: its kind, the first byte it covers, and where it stands.

    It covers what comes before it. Without ``at`` it ends the frame.
    """

    kind: Checksum
    covers_from: Offset = Offset(0)
    at: Offset | None = None


class FixedBytes(ProfileTable, frozen=True):
    """One of ``frame.fixed``: bytes that never change."""

    at: Offset
    bytes: Octets


class Frame(ProfileTable, frozen=True):
    """``[frame]``: binary frames of one length.

    With both header and checksum they are found in any stream. Otherwise only a burst between two
    pauses, or a packet, that is nothing but whole frames is believed.
    """

    length: FrameLength
    distance: FrameDistance
    header: Octets = Octets()
    fixed: tuple[FixedBytes, ...] = ()
    status: FrameStatus | None = None
    checksum: FrameChecksum | None = None

    def __post_init__(self) -> None:
        places = {
            "header": (0, len(self.header)),
            "distance": (self.distance.at, self.distance.type.size),
        }
        places |= {f"fixed {n}": (one.at, len(one.bytes)) for n, one in enumerate(self.fixed, 1)}
        if self.status:
            places["status"] = (self.status.at, 1)
        if self.checksum:
            places["checksum"] = (self.checksum_at, self.checksum.kind.size)
            if self.checksum.covers_from >= self.checksum_at:
                raise BadInput("checksum.covers_from has to be before the checksum")
        _check_places(places, self.length)

    @property
    def checksum_at(self) -> int:
        """Where the checksum stands, if there is one."""
        if self.checksum is None or self.checksum.at is None:
            return self.length - (self.checksum.kind.size if self.checksum else 0)
        return self.checksum.at


def _check_places(places: Mapping[str, tuple[int, int]], length: int) -> None:
    taken: dict[int, str] = {}
    for name, (at, size) in places.items():
        if at < 0 or at + size > length:
            raise BadInput(f"{name} reaches out of a frame of {length} bytes")
        for place in range(at, at + size):
            if other := taken.get(place):
                raise BadInput(f"{name} and {other} stand in the same byte {place}")
            taken[place] = name


class RegisterStatus(ProfileTable, frozen=True):
    """``modbus.status``: the register by which the meter says whether it could measure."""

    register: Register
    ok: tuple[Register, ...]
    faults: RegisterFaults = RegisterFaults()

    def __post_init__(self) -> None:
        if not self.ok:
            raise BadInput("ok is a list of numbers such as [0]")


class Modbus(ScaledNumber, frozen=True):
    """``[modbus]``: Modbus RTU registers, read ``every`` so often.

    ``register`` counts from 0, as on the wire. Within a register the high byte comes first;
    ``word_order`` says which register of a number does. With ``only_changes`` a reading comes only
    when the registers change, for meters that keep showing their last shot. A device may take
    ``answer_within`` to answer; one that is later is given more time by itself.
    """

    register: Register
    device: DeviceNumber = DeviceNumber(1)
    function: ReadFunction = ReadFunction(3)
    word_order: Order = Order.BIG
    every: Seconds = Seconds(1.0)
    answer_within: Seconds = Seconds(0.5)
    only_changes: bool = False
    status: RegisterStatus | None = None

    def __post_init__(self) -> None:
        if self.type.size % 2:
            raise BadInput(f"type {self.type} does not fill whole registers")
        if self.register + self.register_count > 65536:
            raise BadInput(f"register {self.register} is too high for {self.type}")

    @property
    def register_count(self) -> int:
        """How many registers the number has."""
        return self.type.size // 2

    def in_registers(self, registers: tuple[int, ...]) -> float:
        """Return the distance that these registers hold, mm.

        Raises:
            LengthError: when they hold none.
        """
        ordered = registers if self.word_order is Order.BIG else registers[::-1]
        data = b"".join(register.to_bytes(2, "big") for register in ordered)
        return self.distance_mm(data, Order.BIG)


class Profile(ProfileTable, frozen=True):
    """The whole file.

    ``step`` is that of the meter's display, which is its resolution; None: nobody knows.
    """

    format: str = FORMAT
    about: str = ""
    step: DisplayStep | None = None
    serial: Serial | None = None
    bluetooth: Bluetooth | None = None
    text: Text | None = None
    frame: Frame | None = None
    modbus: Modbus | None = None

    def __post_init__(self) -> None:
        if sum(one is not None for one in (self.text, self.frame, self.modbus)) != 1:
            raise BadInput("a profile has exactly one of the tables text, frame and modbus")
        if self.modbus and (self.bluetooth or (self.serial and self.serial.request)):
            raise BadInput("modbus goes with a serial line, and makes its requests by itself")

    @property
    def limits(self) -> DistanceLimits:
        """Which distances are believed."""
        limits = self.text or self.modbus or (self.frame and self.frame.distance)
        return limits or DistanceLimits()

    def limited(
        self,
        *,
        shortest_mm: float | None = None,
        longest_mm: float | None = None,
        fault_values_mm: Sequence[float] = (),
    ) -> Profile:
        """Return the profile with narrower limits, where they are given, and more fault values.

        Raises:
            BadInput: when a limit is out of range, or nothing is left between them.
        """
        now = self.limits
        shortest = max(now.shortest, ShortestDistance.read(shortest_mm or 0.0))
        longest = min(now.longest, Longest.read(longest_mm or now.longest))
        if shortest >= longest:
            raise BadInput(
                f"the shortest distance, {shortest:g} mm, must be under the longest, {longest:g} mm"
            )
        values = {*now.fault_values, *(FaultValue.read(mm) for mm in fault_values_mm)}
        changes = {"shortest": shortest, "longest": longest, "fault_values": tuple(sorted(values))}
        if self.frame:
            distance = msgspec.structs.replace(self.frame.distance, **changes)
            frame = msgspec.structs.replace(self.frame, distance=distance)
            return msgspec.structs.replace(self, frame=frame)
        if self.modbus:
            modbus = msgspec.structs.replace(self.modbus, **changes)
            return msgspec.structs.replace(self, modbus=modbus)
        text = msgspec.structs.replace(self.text or Text(), **changes)
        return msgspec.structs.replace(self, text=text)

    @property
    def allows_serial(self) -> bool:
        """Whether it may be used on a serial line."""
        return self.serial is not None or self.bluetooth is None


def read_profile(text: str) -> Profile:
    """Read a profile from TOML.

    Raises:
        BadInput: one sentence that names the key and says what would be right.
    """
    if len(text) > LARGEST_BYTES:
        raise BadInput(f"over {LARGEST_BYTES} bytes; a profile is a page of text")
    try:
        tables = read_toml(text)
    except ValueError as error:
        raise BadInput(f"not a TOML file: {printable(str(error))}") from None
    if tables.get("format") != FORMAT:
        raise BadInput(f'format: this is not a profile; its first line is format = "{FORMAT}"')
    try:
        return msgspec.convert(tables, Profile, dec_hook=read_value)
    except msgspec.ValidationError as error:
        raise BadInput(complaint(error, Profile)) from None


def write_profile(profile: Profile) -> str:
    """Return the profile as TOML, which ``read_profile`` reads back the same."""
    import tomli_w  # noqa: PLC0415 - only to save one

    tables = msgspec.to_builtins(profile, enc_hook=plain_value)
    return tomli_w.dumps({"format": FORMAT} | _limits_last(tables))


def _limits_last(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return the table as people write it: which distances are believed comes last."""
    ordered = sorted(table.items(), key=lambda item: item[0] in DistanceLimits.__struct_fields__)
    return {
        key: _limits_last(value) if isinstance(value, Mapping) else value for key, value in ordered
    }
