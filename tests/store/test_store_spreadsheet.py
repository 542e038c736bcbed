"""The history as CSV: a row an item, plain columns, and nothing that becomes a formula."""

import csv
import io
from datetime import timedelta

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from room_records import AT, POSES, mark, texts, trial

from witnessmark.meters.port import Fault
from witnessmark.model import Act, Decision, Reading, Setup
from witnessmark.report.history import COLUMNS, csv_rows
from witnessmark.sentences import visible
from witnessmark.store.history import Item, history
from witnessmark.store.store import Store


def rows_of(items: list[Item]) -> list[dict[str, str]]:
    text = "".join(csv_rows(items, {}))
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_each_item_is_a_row_under_one_header(store: Store, setup: Setup) -> None:
    round_id = store.start_round(store.save_setup("Attic", setup, AT), AT)
    later = AT + timedelta(minutes=1, milliseconds=250)
    store.append(round_id, Reading(1512.5, later, "sim:", b"1.5\r\n"))
    store.append(None, Decision(Act.UNDO, later))
    setup_row, round_row, reading, command = rows_of(list(history(store)))
    assert tuple(setup_row) == COLUMNS
    assert (setup_row["kind"], setup_row["room"], setup_row["round"]) == ("setup", "Attic", "")
    assert (round_row["kind"], round_row["round"]) == ("round", str(round_id))
    assert reading["at_utc"] == "2026-05-17 09:31:00.250"
    assert (reading["distance_mm"], reading["meter"]) == ("1512.5", "sim:")
    assert reading["raw_hex"] == "312e350d0a"
    assert (command["room"], command["distance_mm"]) == ("", "")


def test_what_is_kept_has_its_numbers_in_columns(store: Store, setup: Setup) -> None:
    store.keep("Attic", None, trial(stereo=5, balance=4))
    store.keep("Attic", None, mark(setup))
    for row in rows_of(list(history(store))):
        assert float(row["left_side_mm"]) == 1450.4
        assert float(row["left_setback_mm"]) == 1899.7
        assert float(row["right_toe_in_deg"]) == 7.9
    heard, marked = rows_of(list(history(store)))
    assert (heard["placed"], marked["placed"]) == ("target", "measured")
    assert (heard["mean_grade"], marked["mean_grade"]) == ("4.5", "")


def test_a_row_says_whether_its_placements_were_measured_or_meant(store: Store) -> None:
    store.keep("Attic", None, trial(bass=4))
    store.keep("Attic", None, msgspec.structs.replace(trial(bass=4), measured=POSES))
    store.append(None, Reading(1512.5, AT, "sim:"))
    reading, meant, measured = rows_of(list(history(store)))
    assert [row["placed"] for row in (meant, measured, reading)] == ["target", "measured", ""]
    assert meant["words"].startswith("target, not measured: left side 1450 mm, setback 1900 mm")
    assert measured["words"].startswith("left side 1450.4 mm, setback 1899.7 mm")


def test_a_negative_number_stays_a_number(store: Store) -> None:
    store.append(None, Reading(-12.5, AT, "sim:"))
    (row,) = rows_of(list(history(store)))
    assert row["distance_mm"] == "-12.5"


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
def test_a_text_that_a_spreadsheet_would_reckon_gets_an_apostrophe(store: Store, sign: str) -> None:
    store.append(None, Fault("x", AT, f'{sign}HYPERLINK("x")'))
    store.keep(f"{sign}1+1", None, trial())
    fault, kept = rows_of(list(history(store)))
    assert fault["meter"] == f'\'{visible(sign)}HYPERLINK("x")'
    assert kept["room"] == f"'{visible(sign)}1+1"


def item(room: str, meter: str, words: str) -> Item:
    return Item(AT, "fault", room, 1, 1, "k", Fault(words, AT, meter))


@given(room=texts, meter=texts, words=texts)
def test_whatever_is_written_reads_back_and_is_no_formula(
    room: str, meter: str, words: str
) -> None:
    (row,) = rows_of([item(room, meter, words)])
    assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in row.values())
    assert row["room"].removeprefix("'") == visible(room).removeprefix("'")
    assert row["meter"].removeprefix("'") == visible(meter).removeprefix("'")
    assert row["words"] == visible(f"the meter says: {words}")


@given(st.lists(texts, max_size=5))
def test_rows_are_as_many_as_items(rooms: list[str]) -> None:
    assert len(rows_of([item(room, "", "") for room in rooms])) == len(rooms)
