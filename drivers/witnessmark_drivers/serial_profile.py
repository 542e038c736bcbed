"""A serial line read by a profile, and read raw for learning one."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from queue import SimpleQueue

import serial

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.decoding import Decoder, Outcome, decoder_for
from witnessmark.meters.port import Clock, MeterLost
from witnessmark.meters.profile import Profile
from witnessmark.meters.profile_folder import load_profile
from witnessmark_drivers.asking import Asking
from witnessmark_drivers.serial_port import (
    READ_S,
    Port,
    may_have_lost,
    read_bytes,
    write_bytes,
)

_MOST_RAW = 256
_MOST_RAW_S = 0.2


def profile_option(address: Address) -> Profile | None:
    """Return the profile that ``?profile=`` asks for; None when it does not.

    Raises:
        BadInput: when there is none of that name, it is wrong, or it is not for a serial line.
    """
    name = address.options.get("profile")
    if name is None:
        return None
    profile = load_profile(name)
    if not profile.allows_serial:
        raise BadInput(f'meter address "{address.text}": profile "{name}" is for Bluetooth')
    if "unit" in address.options:
        raise BadInput(f'meter address "{address.text}": leave unit out, the profile says it')
    return profile


def begin_decoding(line: Port, profile: Profile, meter: str) -> tuple[Decoder, bytes]:
    """Return a decoder for a port just opened, and what to feed it first.

    On a real line this waits a moment: a byte that comes at once belongs to something whose
    beginning was missed.
    """
    first = read_bytes(line, 1) if isinstance(line, serial.Serial) else b""
    return decoder_for(profile, meter, midway=bool(first)), first


def read_by_decoder(
    line: Port,
    decoder: Decoder,
    stop: threading.Event,
    clock: Clock,
    *,
    request: bytes = b"",
    asking: Asking,
) -> Iterator[Outcome]:
    """Yield what a decoder makes of the line until ``stop``, and make the request when it is due.

    A pause counts only while the port was asked and had nothing: a computer that was held up finds
    the rest of a frame waiting.

    Raises:
        MeterLost: when the port goes away.
    """
    silent_reads, pause_reads = 0, round(decoder.pause_s / READ_S)
    while not stop.is_set():
        if request and asking.is_due():
            write_bytes(line, request)
        try:
            data = read_bytes(line)
        except MeterLost:
            yield from decoder.lost(clock())
            raise
        yield from decoder.feed(data, clock()) if data else ()
        if may_have_lost(data):
            yield from decoder.lost(clock())
        silent_reads = 0 if data else silent_reads + 1
        if silent_reads == pause_reads:
            yield from decoder.pause(clock())


def read_raw(
    line: Port, stop: threading.Event, clock: Clock, requests: SimpleQueue[bytes]
) -> Iterator[RawFrame]:
    """Yield what comes between two pauses, or pieces where none is, and make requests when due.

    A meter that sends short frames all the time never pauses, and takes long to fill a piece: so
    a piece ends after a while too.

    Raises:
        MeterLost: when the port goes away.
    """
    pending, at, begun_s = b"", clock(), 0.0
    while not stop.is_set():
        while not requests.empty():
            write_bytes(line, requests.get())
        data = read_bytes(line)
        if data:
            begun_s = begun_s if pending else time.monotonic()
            pending, at = pending + data, clock()
        is_full = len(pending) >= _MOST_RAW or time.monotonic() - begun_s >= _MOST_RAW_S
        if pending and (is_full or not data):
            yield RawFrame(pending, at)
            pending = b""
