"""The history as CSV for a spreadsheet (RFC 4180): a header, a row an item, plain columns."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping

from witnessmark.meters.port import Fault, Noise
from witnessmark.model import OF_CABINET, Mark, Pair, Placement, Reading, Side, Trial
from witnessmark.store.history import Item
from witnessmark.store.history_words import item_words

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

Cell = str | float | None


def csv_rows(items: Iterable[Item], numbers: Mapping[str, int]) -> Iterator[str]:
    """The header, then a row for each item, each with its line end.

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


def _cells(item: Item, numbers: Mapping[str, int]) -> dict[str, Cell]:
    record = item.record
    cells: dict[str, Cell] = {
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


def _standing(placed: str, placements: Pair[Placement]) -> dict[str, Cell]:
    return {"placed": placed} | {
        f"{side}_{quantity.field}": quantity.of(placements[side])
        for side in Side
        for quantity in OF_CABINET
    }


def _harmless(cell: Cell) -> Cell:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA_SIGNS) else cell
