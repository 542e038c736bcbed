"""A room as one file: lines of JSON that a program of any kind can read.

A head names the format and the room. A line follows for each setup, round, journal entry, trial,
preference and mark, in an order in which none refers to a later one. The end tells how many lines
there were and their SHA-256, so that damage and a lost end are found. Lines and not one object: a
room with a million readings is written and read one line at a time, in the memory of one line, and
what is wrong can be named by its line.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from typing import IO, BinaryIO, Union

import msgspec

from witnessmark.errors import BadInput, StoreError
from witnessmark.file_errors import printable
from witnessmark.model.limits import LONGEST_NAME
from witnessmark.sentences import json_visible
from witnessmark.store.export.lines import LINES, RoomLine

FORMAT = "witnessmark room 1"
_ANY_VERSION = re.compile(r"witnessmark room ([1-9][0-9]*)")
_NOT_A_LINE = (msgspec.MsgspecError, UnicodeDecodeError, RecursionError)
_LONGEST_LINE = 4 * 2**20
"""Longest line, bytes, far above any setup or mark: some other huge file is not read into
memory."""


class _Head(msgspec.Struct, frozen=True):
    format: str
    room: str = ""


class _End(msgspec.Struct, frozen=True, tag="end", tag_field="what"):
    lines: int
    sha256: str


class RoomWriter:
    """Writes the head, then one line after another, then the end."""

    def __init__(self, to: BinaryIO, name: str, room: str) -> None:
        """Write to an open file; ``name`` is what it is called in an error."""
        self._to = to
        self._name = name
        self._seal = hashlib.sha256()
        self._lines = 0
        self._put(_Head(FORMAT, room))

    def write(self, line: RoomLine) -> None:
        """Write a line.

        Raises:
            StoreError: when the file cannot be written.
        """
        self._put(line)

    def end(self) -> None:
        """Write the end; without it the file counts as cut off."""
        self._put(_End(self._lines, self._seal.hexdigest()))

    def _put(self, line: RoomLine | _Head | _End) -> None:
        # a file is looked at in a terminal too, which text of others must not steer
        text = json_visible(f"{msgspec.json.encode(line).decode()}\n").encode()
        self._seal.update(text)
        self._lines += 1
        try:
            self._to.write(text)
        except BrokenPipeError:  # nobody reads it any more, which is no failure
            raise
        except OSError as error:
            raise StoreError(f"{self._name}: is not written: {reason(error)}") from error


class RoomReader:
    """Reads the head, then one line after another, and checks the end."""

    def __init__(self, source: IO[bytes], name: str, copy: IO[bytes] | None = None) -> None:
        """Read from an open file.

        Args:
            source: the file.
            name: what it is called in an error.
            copy: takes all that is read, where it is to be read again.

        Raises:
            BadInput: when it is no room file, or a newer program's.
        """
        self._source = source
        self._name = name
        self._copy = copy
        self._seal = hashlib.sha256()
        self._line = 0
        self._counted = 0
        self._is_whole = True
        self.room = self._head()

    def __iter__(self) -> Iterator[RoomLine]:
        """Return the lines between head and end.

        Raises:
            BadInput: when a line is damaged, or the file is cut off.
        """
        decoder: msgspec.json.Decoder[RoomLine | _End] = msgspec.json.Decoder(Union[*LINES, _End])
        while text := self._next():
            try:
                line = decoder.decode(text)
            except _NOT_A_LINE as error:
                raise (self.damaged(error) if self._is_whole else self._cut_off()) from error
            if isinstance(line, _End):
                self._check_end(line)
                return
            self._count(text)
            yield line
        raise self._cut_off()

    def damaged(self, error: Exception) -> BadInput:
        """Return what to raise where the line that was read last makes no sense."""
        why = f"{error} is not known here" if isinstance(error, KeyError) else str(error)
        return self._refused(f"line {self._line} is damaged or of a newer witnessmark: {why}")

    def wrong(self, why: str) -> BadInput:
        """Return what to raise where the line that was read last cannot be taken."""
        return self._refused(f"line {self._line}: {why}")

    def _cut_off(self) -> BadInput:
        return self._refused(f"is cut off after line {self._counted}")

    def _head(self) -> str:
        text = self._next()
        try:
            head = msgspec.json.decode(text, type=_Head)
        except _NOT_A_LINE:
            head = _Head("")
        version = _ANY_VERSION.fullmatch(head.format)
        if version is None:
            raise self._refused("is not a room that witnessmark export wrote")
        if head.format != FORMAT:
            raise self._refused(
                f"was written by a newer witnessmark ({head.format}); update the program"
            )
        if len(head.room) > LONGEST_NAME:
            raise self.wrong(f"its room has a name of over {LONGEST_NAME} signs")
        self._count(text)
        return head.room

    def _check_end(self, end: _End) -> None:
        if (end.lines, end.sha256) != (self._counted, self._seal.hexdigest()):
            raise self._refused("is damaged: its lines are not those that were written")
        if self._next().strip():
            raise self._refused("is damaged: it continues after its end")

    def _next(self) -> bytes:
        try:
            text = self._source.readline(_LONGEST_LINE)
            if self._copy is not None:
                self._copy.write(text)
        except OSError as error:
            raise self._refused(f"cannot be read: {reason(error)}") from error
        self._line += 1
        self._is_whole = text.endswith(b"\n")
        # a mail program may have changed the line ends, which is no damage
        return text.rstrip(b"\r\n") + b"\n" if text else b""

    def _count(self, text: bytes) -> None:
        self._seal.update(text)
        self._counted += 1

    def _refused(self, why: str) -> BadInput:
        return BadInput(printable(f"{self._name}: {why}; nothing was taken from it"))


def reason(error: OSError) -> str:
    """Return what the system says of a file that it will not open, read or write."""
    return (error.strerror or str(error)).lower()
