"""``witnessmark sheet``: the sheets from the command line, out of a store and of a round file."""

import decimal
import errno
import os
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner, Result
from paper import read_back, size_mm, words

from witnessmark.cli import main
from witnessmark.model import (
    Attribute,
    Cabinet,
    Impression,
    Mark,
    Pair,
    Placement,
    Poses,
    Room,
    Seat,
    Setup,
    Tilt,
    TouchPoint,
    Trial,
    Varied,
)
from witnessmark.store.store import Store

AT = datetime(2026, 5, 17, 19, 30, tzinfo=UTC)
STOOD = Pair(Placement(1450.4, 1899.7, 8.1), Placement(1449.8, 1901.0, 7.9))
PLINTH = Cabinet(262, 391, points={"plinth": TouchPoint(0, 420)})
SETUP = Setup(
    room=Room.rectangular(5360, 7240),
    cabinets=Pair(PLINTH, PLINTH),
    seat=Seat(4400, 2680),
    targets=Pair(STOOD.left, STOOD.right),
)
POSES = msgspec.convert(
    {
        "placements": STOOD,
        "covariance": [[0.16 if row == column else 0.0 for column in range(6)] for row in range(6)],
        "tilts": {"left": Tilt(1.1, 0.05), "right": Tilt(1.0, 0.06)},
    },
    Poses,
)
MARK = Mark(AT, "before the cleaning", SETUP, POSES, (), Pair({"rear": 2.5}, {}), "on coins")
ROUND = """
format = "witnessmark round 1"
room = { width = "5.36 m", length = "7.24 m" }
cabinet = { width = "262 mm", depth = "391 mm" }
target.left = { side = "1.45 m", setback = "1.90 m", toe_in = 8.0 }
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to write to, beside a store with two rooms; the latest is Attic."""
    monkeypatch.setenv("WITNESSMARK_STORE", str(tmp_path / "store.sqlite3"))
    monkeypatch.chdir(tmp_path)
    with Store.open() as store:
        store.save_setup("Barn", SETUP, AT)
        store.save_setup("Attic", SETUP, AT)
        store.keep("Attic", None, MARK)
        old = Trial(AT - timedelta(days=2), Varied.STATION, STOOD, Impression({}, "long ago"))
        store.keep("Attic", None, old)
        heard = Impression({Attribute.TIMBRE: 4}, "full")
        store.keep("Attic", None, Trial(AT, Varied.STATION, STOOD, heard))
    return tmp_path


def run(*arguments: str, takes: str | None = None) -> Result:
    done = CliRunner().invoke(main, ["sheet", *arguments], input=takes)
    assert not isinstance(done.exception, AssertionError | TypeError | KeyError)
    return done


def printed(*arguments: str) -> str:
    done = run(*arguments)
    assert done.exit_code == 0, done.stderr
    return done.stdout


def refused(*arguments: str) -> str:
    done = run(*arguments)
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr.startswith("Error: ")
    assert done.stderr.count("\n") == 1
    return done.stderr


def text_of(file: Path) -> str:
    return words(read_back(file.read_bytes()))


def _as_a_tape_reads(number: str) -> str:
    """A length to the millimetre, halves up; an uncertainty never less than it is."""
    if not number.endswith(" mm"):
        return number
    sign, size = number[: -len(" mm")].rpartition("±")[1:]
    how = decimal.ROUND_CEILING if sign else decimal.ROUND_HALF_UP
    return f"{sign}{decimal.Decimal(size).to_integral_value(how)} mm"


def test_every_number_of_the_card_is_what_marks_prints(folder: Path) -> None:
    assert printed("card", "before the cleaning", "card.pdf") == "1 page written: card.pdf\n"
    told = CliRunner().invoke(main, ["marks", "before the cleaning"]).stdout
    numbers = re.findall(r"±?[0-9.]+(?: mm|°)", told.split("SHOTS", 1)[0].partition("LEFT")[2])
    targets = re.findall(r"target +([0-9.]+(?: mm|°))", told)
    # ten points by two distances, and four quantities of each cabinet with their uncertainties
    assert len(numbers) - len(targets) == 10 * 2 + 2 * 4 * 2
    card = text_of(folder / "card.pdf")
    on_the_card = re.findall(r"±?[0-9.]+(?: mm|°)", card)
    read = {_as_a_tape_reads(number) for number in numbers}
    assert read <= set(on_the_card)
    # besides these only the tolerance
    assert set(on_the_card) - read == {"3 mm", "0.5°"}
    assert "rear spike: 2.5 turns out" in told
    assert "rear spike: 2.5 turns out" in card


def test_the_layout_is_of_the_latest_room_or_of_the_one_that_is_named(folder: Path) -> None:
    printed("layout", "plan.pdf")
    printed("layout", "barn.pdf", "--room", "Barn", "--scale", "1:20", "--paper", "Letter")
    plan, barn = (read_back((folder / name).read_bytes()) for name in ("plan.pdf", "barn.pdf"))
    assert "Marking out: Attic" in words(plan)
    assert size_mm(plan.pages[0]) == pytest.approx((210, 297), abs=0.01)
    assert "Marking out: Barn" in words(barn)
    assert "part 4" in words(barn)
    assert size_mm(barn.pages[0]) == pytest.approx((215.9, 279.4), abs=0.01)


def test_the_layout_and_the_template_are_of_a_round_file_where_one_is_named(folder: Path) -> None:
    (folder / "evening.toml").write_text(ROUND)
    printed("layout", "plan.pdf", "--from", "evening.toml")
    text = text_of(folder / "plan.pdf")
    assert "Marking out: evening" in text
    assert "L1 front-inner 1580 mm 1882 mm" in text
    assert "It has no target yet." in text
    done = run("template", "right", "feet.pdf", "--from", "-", takes=ROUND)
    assert done.stdout == "5 pages written: feet.pdf\n"
    assert "Template: right cabinet, this room" in text_of(folder / "feet.pdf")


def test_the_report_is_of_the_latest_evening_or_of_the_time_that_is_named(folder: Path) -> None:
    printed("report", "latest.pdf")
    printed("report", "old.pdf", "--until", "2026-05-16")
    latest, old = text_of(folder / "latest.pdf"), text_of(folder / "old.pdf")
    assert "1 trial, 0 comparisons, 1 mark." in latest
    assert "full" in latest
    assert "long ago" not in latest
    assert "long ago" in old
    assert "before the cleaning" not in old


def test_the_ending_or_an_option_chooses_svg_a_file_a_page(folder: Path) -> None:
    assert printed("card", "before the cleaning", "card.svg") == "1 page written: card.svg\n"
    assert (folder / "card.svg").read_text("utf-8").startswith("<svg ")
    told = printed("template", "left", "feet.svg")
    assert told.startswith("7 pages written: feet-1.svg feet-2.svg")
    assert {file.name for file in folder.glob("feet*")} == {
        f"feet-{page}.svg" for page in range(1, 8)
    }
    done = run("card", "before the cleaning", "-", "--svg")
    assert done.stdout == (folder / "card.svg").read_text("utf-8")
    done = run("card", "before the cleaning", "-")
    assert done.stdout_bytes.startswith(b"%PDF-")


def test_nothing_is_overwritten(folder: Path) -> None:
    for name in ("plan.pdf", "feet-3.svg"):
        (folder / name).write_text("mine")
    assert refused("layout", "plan.pdf") == "Error: plan.pdf is there already; name a new file\n"
    words = refused("layout", "x" * 300 + ".pdf")
    assert words.endswith(": file name too long; name a file that can be made\n")
    assert "feet-3.svg is there already" in refused("template", "left", "feet.svg")
    assert not (folder / "feet-1.svg").exists()
    assert (folder / "plan.pdf").read_text() == (folder / "feet-3.svg").read_text() == "mine"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["layout", "a.pdf", "--paper", "A3"], '--paper: "A3" is not one of A4, letter'),
        (["layout", "a.pdf", "--scale", "big"], 'scale: "big" is not one; write 1:20'),
        (["layout", "a.pdf", "--scale", "1:1"], "would take 1190 pages, more than"),
        (["layout", "a.pdf", "--room", "Cellar"], 'there is no "Cellar" in the store'),
        (["layout", "a.pdf", "--room", "Barn", "--from", "x.toml"], "give one of them"),
        (["layout", "a.pdf", "--from", "x.toml"], "x.toml: no such file or directory"),
        (["layout", "a.png"], "a.png: a sheet is PDF or SVG; name it .pdf or .svg"),
        (["layout", "nowhere/a.pdf"], "nowhere/a.pdf: no such file or directory"),
        (["card", "morning", "a.pdf"], 'there is no "morning" in Attic; there are "before'),
        (["template", "left", "-", "--svg"], "this sheet has 7 pages, and SVG is a file a page"),
    ],
)
def test_what_cannot_be_printed_is_refused_in_one_sentence(
    folder: Path, arguments: list[str], told: str
) -> None:
    assert told in refused(*arguments)
    assert not (folder / "a.pdf").exists()


def test_the_help_tells_every_sheet(folder: Path) -> None:
    told = printed("--help")
    for name in ("layout", "card", "template", "report"):
        assert re.search(rf"^  {name} ", told, re.MULTILINE)


def test_a_sheet_that_cannot_be_written_leaves_no_cut_file(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full_disk(_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    before = set(folder.iterdir())
    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full_disk)
        done = CliRunner().invoke(main, ["sheet", "layout", str(folder / "plan.pdf")])
    assert done.exit_code == 2
    assert "no space left on device" in done.output
    assert set(folder.iterdir()) == before
