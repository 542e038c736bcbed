"""All that happened and all that was listened to, as documents, and the history as a spreadsheet.

That is CSV (RFC 4180): a header, a row an item, plain columns.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import groupby

from witnessmark.lengths import Units
from witnessmark.meters.port import Fault, Noise
from witnessmark.model import OF_CABINET, Mark, Pair, Placement, Preference, Reading, Side, Trial
from witnessmark.report.blocks import Block, Heading, Paragraph
from witnessmark.report.mark import INDENT, title
from witnessmark.sentences import visible
from witnessmark.store.history import Item
from witnessmark.store.records import Kept
from witnessmark.words.history import (
    heard_words,
    item_words,
    moment_words,
    preference_words,
    stood_words,
    trial_number,
)

_MEASURED, _TARGET = "measured", "target"
"""Whether the placements of a row were measured, or only meant."""
COLUMNS = (
    "at_utc",
    "room",
    "round",
    "kind",
    "number",
    "distance_mm",
    "placed",
    *(f"{side}_{quantity.field}" for side in Side for quantity in OF_CABINET),
    "mean_grade",
    "meter",
    "words",
    "raw_hex",
    "key",
)
_FORMULA_SIGNS = tuple("=+-@\t\r\n＝＋－＠")

CsvCell = str | float | None


def history_blocks(
    items: Iterable[Item], numbers: Mapping[str, int], units: Units
) -> Iterator[Block]:
    """List items under their room and round; ``numbers`` are those of the trials by their keys."""
    for (room, round_id), together in groupby(items, lambda item: (item.room, item.round_id)):
        yield Paragraph(group_words(room, round_id))
        for item in together:
            words = item_words(item, numbers, units)
            if isinstance(item.record, Reading | Fault | Noise):
                words += f" ({item.record.meter})"
            moment = f"{item.at:%Y-%m-%d %H:%M:%S}Z  {item.kind:10}  "
            yield Paragraph(words, moment, indent=2, hang=2 + len(moment))


def group_words(room: str | None, round_id: int | None) -> str:
    """Name the room and the round that items are of."""
    of = "outside any round" if room is None else room
    return of if round_id is None else f"{of}, round {round_id}"


def trials_blocks(
    trials: Sequence[Kept[Trial]],
    preferences: Sequence[Kept[Preference]],
    room: str,
    units: Units,
    struck: Collection[str] = (),
) -> Iterator[Block]:
    """List the positions of a room that were graded, and which of them were preferred.

    Those whose keys are ``struck`` are shown as struck out.
    """
    if trials:
        yield Heading("Trials in", f" {room}")
    else:
        yield Paragraph(f"No trial was saved in {room} yet.")
    numbers = {trial.key: trial.id for trial in trials}
    for trial in trials:
        yield from _trial(trial, numbers, units, is_struck=trial.key in struck)
    for preference in preferences:
        words = preference_words(preference.record, numbers)
        yield Paragraph(f"{words} ({moment_words(preference.record.at)})", indent=INDENT)


def _trial(
    kept: Kept[Trial], numbers: Mapping[str, int], units: Units, *, is_struck: bool
) -> Iterator[Block]:
    trial = kept.record
    again = "" if trial.repeats is None else f", {trial_number(trial.repeats, numbers)} again"
    yield title(kept, f"{trial.varied} varied{again}{'; struck out' if is_struck else ''}")
    for side in Side:
        yield Paragraph(stood_words(trial, side, units), f"{side:<5}  ", INDENT, INDENT)
    found = "" if trial.measured is None else "as they were measured"
    heard = "; ".join(filter(None, (found, heard_words(trial))))
    yield Paragraph(heard, indent=INDENT, hang=INDENT)


def csv_rows(items: Iterable[Item], numbers: Mapping[str, int]) -> Iterator[str]:
    """Return the header, then a row for each item, each with its line end.

    A text that a spreadsheet would take for a formula gets an apostrophe before it.

    Args:
        items: of the history.
        numbers: the numbers of the trials by their keys.
    """
    buffer = io.StringIO(newline="")
    writer = csv.DictWriter(buffer, COLUMNS)
    writer.writeheader()
    yield buffer.getvalue()
    for item in items:
        buffer.seek(0)
        buffer.truncate()
        cells = {name: _harmless(cell) for name, cell in _cells(item, numbers).items()}
        writer.writerow(cells)
        yield buffer.getvalue()


def _cells(item: Item, numbers: Mapping[str, int]) -> dict[str, CsvCell]:
    record = item.record
    cells: dict[str, CsvCell] = {
        "at_utc": item.at.replace(tzinfo=None).isoformat(" ", "milliseconds"),
        "room": item.room,
        "round": item.round_id,
        "kind": item.kind,
        "number": item.id,
        "words": item_words(item, numbers),
        "key": item.key,
    }
    match record:
        case Reading(distance_mm, _, meter, raw):
            cells |= {"distance_mm": distance_mm, "meter": meter, "raw_hex": raw.hex()}
        case Fault(_, _, meter, raw) | Noise(_, _, meter, raw):
            cells |= {"meter": meter, "raw_hex": raw.hex()}
        case Trial():
            placed = _TARGET if record.measured is None else _MEASURED
            cells |= _standing(placed, record.standing)
            cells["mean_grade"] = record.impression.mean_grade
        case Mark():
            cells |= _standing(_MEASURED, record.poses.placements)
    return cells


def _standing(placed: str, placements: Pair[Placement]) -> dict[str, CsvCell]:
    return {"placed": placed} | {
        f"{side}_{quantity.field}": quantity.of(placements[side])
        for side in Side
        for quantity in OF_CABINET
    }


def _harmless(cell: CsvCell) -> CsvCell:
    if not isinstance(cell, str):
        return cell
    return f"'{visible(cell)}" if cell.startswith(_FORMULA_SIGNS) else visible(cell)
