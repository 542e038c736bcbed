"""Text of strangers on its way out: what would steer the terminal is written out instead."""

from __future__ import annotations

import ast
import csv
import io
import json
import shutil
from collections.abc import AsyncGenerator, Iterator
from datetime import UTC, datetime
from importlib.metadata import EntryPoint
from pathlib import Path

import click
import msgspec
import pytest
from click.testing import CliRunner, Result
from rich.segment import Segment
from strange import EVIL, STEERS
from textual.color import Color

import witnessmark.cli
from witnessmark.app.app import SteeringShown, WitnessmarkApp
from witnessmark.cli import main
from witnessmark.errors import BadInput
from witnessmark.meters import finding
from witnessmark.meters.capture import Question, RawFrame
from witnessmark.meters.finding import GROUP
from witnessmark.meters.json_lines import to_json_line
from witnessmark.meters.port import (
    Driver,
    Fault,
    FoundMeter,
    Link,
    LinkState,
    MeterLost,
    Noise,
    Report,
)
from witnessmark.meters.profile import Serial
from witnessmark.model import (
    AimedAt,
    Held,
    Impression,
    Mark,
    Pair,
    Placement,
    Poses,
    Preference,
    Reading,
    Room,
    Seat,
    Shot,
    ShotKind,
    Side,
    Struck,
    TouchPoint,
    Trial,
    Varied,
)
from witnessmark.sentences import json_as_written, json_visible, visible
from witnessmark.store.store import Store
from witnessmark_simulators.scenario import DEMO_SETUP

SAMPLES = Path(__file__).parents[1] / "samples"
AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
_LEFT = DEMO_SETUP.cabinets.left
NAMED_EVIL = msgspec.structs.replace(
    DEMO_SETUP,
    # small, so that its bass is soon foreseen
    room=Room.rectangular(2600.0, 2700.0, 2000.0),
    seat=Seat(2000.0, 1300.0, 1040.0),
    targets=Pair[Placement | None](None, None),
    cabinets=DEMO_SETUP.cabinets.replacing(
        Side.LEFT,
        msgspec.structs.replace(
            _LEFT,
            points={EVIL: TouchPoint(10.0, 20.0)},
            feet={EVIL: TouchPoint(10.0, 20.0)},
        ),
    ),
)
"""With a text of that kind within the JSON that is stored."""
PLACED = Pair(Placement(1450.4, 1899.7, 8.04), Placement(1449.8, 1901.0, 7.9))
POSES = Poses(PLACED, ((0.0,) * 6,) * 6)


class Stranger(Driver):
    """A driver of somebody else, every text of which steers; it can be taught from."""

    scheme = "stranger"

    @classmethod
    async def discover(cls) -> list[FoundMeter]:
        return [FoundMeter("stranger:here", EVIL), FoundMeter(EVIL, EVIL)]

    async def reports(self) -> AsyncGenerator[Report, None]:
        yield self.opened(EVIL)
        yield Fault(EVIL, AT, self.address.text, EVIL.encode())
        for _ in range(3):
            yield Noise(EVIL, AT, self.address.text, EVIL.encode())
        yield Link(LinkState.LOST, EVIL, AT, self.address.text)
        raise BadInput(EVIL)

    async def raw_frames(self) -> AsyncGenerator[Link | RawFrame, None]:
        yield self.opened(EVIL)
        raise MeterLost(EVIL)

    def ask(self, question: Question) -> None:
        raise BadInput(EVIL)

    def transport(self, channel: str, question: Question | None = None) -> Serial:
        if question is not None:
            raise BadInput(EVIL)
        return Serial()


@pytest.fixture(scope="module")
def strangers_things(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with files of somebody else; everything in them has such names."""
    folder = tmp_path_factory.mktemp("strange")
    (folder / "readings.txt").write_text(to_json_line(Fault(EVIL, AT, "typed:", b"")) + "\n")
    (folder / "profiles").mkdir()
    (folder / "profiles" / "evil.toml").write_text(f"format = {json.dumps(EVIL)}\n")
    round_file = json.loads((SAMPLES / "rounds" / "skewed.json").read_text("utf-8"))
    (folder / "round.json").write_text(json.dumps(round_file | {EVIL: 1}))
    round_file["cabinet"]["points"] = {EVIL: {"inward": 1, "back": 2}}
    (folder / "points.json").write_text(json.dumps(round_file))
    with Store.open(folder / "store.sqlite3") as store:
        setup_id = store.save_setup(EVIL, NAMED_EVIL, AT, {"meter": EVIL, EVIL: EVIL})
        round_id = store.start_round(setup_id, AT)
        store.append(round_id, Fault(EVIL, AT, EVIL, b""))
        store.append(None, Noise(EVIL, AT, EVIL, b""))
        store.append(round_id, Reading(1512.0, AT, EVIL, b""))
        heard = Impression({}, EVIL, track=EVIL, level=EVIL)
        trial = Trial(AT, Varied.STATION, PLACED, heard, repeats=EVIL)
        first = store.keep(EVIL, round_id, trial, EVIL)
        store.keep(EVIL, round_id, Preference(AT, first.key, "x" + EVIL, first.key))
        store.keep(EVIL, round_id, Struck(AT, EVIL))
        for name in ("one", "other"):
            shot = Shot(ShotKind(Side.LEFT, EVIL, AimedAt.FRONT, Held.CABINET), 1509.0)
            kept = Mark(AT, name, NAMED_EVIL, POSES, (shot,), Pair({EVIL: 2.5}, {}), EVIL, EVIL)
            store.keep(EVIL, round_id, kept)
    return folder


@pytest.fixture
def at_a_strangers(strangers_things: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in which these are, and the store is."""
    folder = tmp_path / "here"
    shutil.copytree(strangers_things, folder)
    monkeypatch.setenv("WITNESSMARK_STORE", str(folder / "store.sqlite3"))
    monkeypatch.setenv("WITNESSMARK_PROFILES", str(folder / "profiles"))
    monkeypatch.chdir(folder)
    entry = EntryPoint("stranger", f"{__name__}:Stranger", GROUP)
    monkeypatch.setattr(EntryPoint, "load", lambda _: Stranger)
    monkeypatch.setattr(finding, "entry_points", lambda **_: [entry])
    return folder


@pytest.fixture
def store_file(at_a_strangers: Path) -> Path:
    return at_a_strangers / "store.sqlite3"


WAYS: dict[str, list[str]] = {
    "demo": [""],
    "layout": [
        "--width 5.36m --length 7.24m",
        "--width {evil}",
        "--width 5.36m --length 7.24m --json",
        "--from {evil}",
    ],
    "foresee": ["", "--json", "--csv", "{evil}", "round.json", "points.json", "--surface {evil}=1"],
    "check": [
        "stranger: --width 262mm --depth 391mm",
        "stranger:{evil} --width 262mm --depth 391mm --json",
    ],
    "solve": ["{evil}", "round.json", "points.json", "points.json --json"],
    "read": [
        "stranger:",
        "stranger:x --json",
        "{evil}:",
        "stranger:?{evil}={evil}",
        "stranger:?profile=evil",
    ],
    "learn": [
        "stranger: --known 1.2m --known 1.9m --save mine",
        "stranger: --known 1.2m --known 1.9m --save mine --request {evil}",
        "stranger: --known 1.2m --known {evil} --save mine",
        "stranger: --known 1.2m --known 1.9m --save {evil}",
    ],
    "meters": ["", "--json", "{evil}"],
    "marks": ["", "--json", "one", "one --json", "{evil}", "--room no{evil}"],
    "trials": ["", "--json", "--room no{evil}"],
    "history": ["", "--all", "--csv", "--json --all", "--kind {evil}", "--since {evil}"],
    "sheet layout": ["- --svg", "out.pdf", "- --from {evil}", "- --from points.json", "{evil}.pdf"],
    "sheet card": ["one - --svg", "one out.pdf", "{evil} out.pdf", "one {evil}.pdf"],
    "sheet template": ["left - --svg", "left out.pdf", "{evil} out.pdf", "left {evil}.pdf"],
    "sheet foresight": ["- --svg", "out.pdf", "{evil}.pdf"],
    "sheet report": ["- --svg", "out.pdf", "{evil}", "{evil}.pdf"],
    "export": ["{evil} -", "{evil} out.room", "{evil} out.room --json", "no{evil} -"],
    "import": ["{evil}", "readings.txt", "readings.txt --json"],
    "simulate": ["serial --count 1 --every 0", "{evil}", "serial --request {evil}"],
    "manual": ["", "{evil}", "phone"],
    "completion": ["bash", "{evil}"],
}
"""By command, what follows it: every way of text to the terminal, the standard error or a file."""


def leaves(group: click.Group, before: str = "") -> Iterator[tuple[str, click.Command]]:
    """Every command that does something, with the words by which it is called."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        if isinstance(command, click.Group):
            yield from leaves(command, f"{before}{name} ")
        else:
            yield f"{before}{name}", command


def run(command: str, rest: str) -> Result:
    words = [*command.split(), *(word.replace("{evil}", EVIL) for word in rest.split())]
    return CliRunner().invoke(main, words, input="", color=True)


def test_every_command_of_the_table_and_each_of_its_outputs_has_a_way() -> None:
    found = dict(leaves(main))
    assert set(WAYS) == set(found)
    outputs = {"--json", "--csv", "--svg"}
    for name, command in found.items():
        given = {flag for one in command.params for flag in one.opts} & outputs
        assert given <= {word for way in WAYS[name] for word in way.split()}, name


@pytest.mark.parametrize("command", WAYS)
def test_nothing_that_steers_the_terminal_is_printed(command: str, at_a_strangers: Path) -> None:
    for rest in (*WAYS[command], "{evil} {evil} {evil} {evil}", "--{evil}"):
        done = run(command, rest)
        assert done.exception is None or isinstance(done.exception, SystemExit), rest
        assert STEERS.isdisjoint(done.output), rest
        assert "Traceback" not in done.output
    for file in at_a_strangers.glob("out.*"):
        written = file.read_bytes()
        assert STEERS.isdisjoint(written.decode("latin-1")) or file.suffix == ".pdf"


def test_the_strangers_things_are_told_all_the_same(at_a_strangers: Path) -> None:
    shown = visible(EVIL)[:9]  # in a list it may be cut short
    ways = (
        ("read", "stranger:"),
        ("check", "stranger: --width 262mm --depth 391mm"),
        ("learn", "stranger: --known 1.2m --known 1.9m --save mine"),
        ("meters", ""),
        ("marks", ""),
        ("trials", ""),
        ("history", "--all"),
        ("sheet card", "one - --svg"),
        ("sheet report", "- --svg"),
        ("foresee", "--{evil}"),
        ("solve", "points.json"),
    )
    for command, rest in ways:
        assert shown in run(command, rest).output, command


NUMBERS = ["nan", "inf", "-inf", "1e300", "-1", "0", "9" * 30]


@pytest.mark.parametrize("command", WAYS)
@pytest.mark.usefixtures("at_a_strangers")
def test_every_number_of_a_command_is_checked(command: str) -> None:
    (found,) = (one for name, one in leaves(main) if name == command)
    for option in found.params:
        is_number = isinstance(option.type, click.types.IntParamType | click.types.FloatParamType)
        # so many presses of a simulated button would be waited for
        if not is_number or (command, option.name) == ("simulate", "count"):
            continue
        for number in NUMBERS:
            done = run(command, f"{WAYS[command][0]} {option.opts[0]} {number}")
            assert done.exception is None or isinstance(done.exception, SystemExit), number
            assert done.exit_code or number in {"0", "9" * 30}, f"{option.opts} {number}"


WRITTEN_AS_JSON = {
    "history": "--json",
    "read": "stranger: --json",
    "export": "{evil} -",
    "marks": "--json",
    "trials": "--json",
    "meters": "--json",
}


@pytest.mark.parametrize("command", WRITTEN_AS_JSON)
@pytest.mark.usefixtures("at_a_strangers")
def test_json_says_the_same_in_its_own_escapes(command: str) -> None:
    printed = run(command, WRITTEN_AS_JSON[command]).stdout
    assert STEERS.isdisjoint(printed)
    is_one = printed.splitlines()[0] in {"[", "{"}
    read = [json.loads(text) for text in ([printed] if is_one else printed.splitlines())]
    assert EVIL in texts_within(read)


def texts_within(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for one in value:
            yield from texts_within(one)
    elif isinstance(value, str):
        yield value


@pytest.mark.usefixtures("store_file")
def test_a_spreadsheet_shows_them() -> None:
    done = CliRunner().invoke(main, ["history", "--csv"])
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert {row["room"] for row in rows} == {visible(EVIL)}


def test_they_are_written_out_and_spaces_and_letters_stay() -> None:
    assert visible(EVIL) == r"a\x1b[2J\x9b2J\x07\x7f\u202eb"
    assert visible("Größe 3 m²\xa0½ 部屋 🎵") == "Größe 3 m²\xa0½ 部屋 🎵"


def test_json_reads_back_the_same_and_only_what_steers_is_escaped() -> None:
    # controls, bidirectional and invisible signs, line and paragraph separators, none of any
    # meaning: the categories Cc, Cf, Zl, Zp, Co and Cn of the Unicode Character Database
    steering = (
        "\x1b\x85\x9b\x7f\u061c\u200f\u202e\u2028\u2029\u2066\ufeff\ue000\U000e0041\U0010ffff"
    )
    text = f"Größe ½ 部屋 🎵 \\ {steering}"
    written = json_visible(json.dumps({text: [text]}, ensure_ascii=False) + "\n")
    assert json.loads(written) == {text: [text]}
    assert set(steering).isdisjoint(written)
    assert "Größe ½ 部屋 🎵" in written
    assert written.endswith("]}\n")


@pytest.mark.parametrize(
    "text",
    [EVIL, "\\u202e", "\\\\\x7f", "\U000e0041", "Größe 🎵", '"\x85', "\\\u2028", "\ue000\ue001"],
)
def test_what_was_escaped_is_known_again_sign_for_sign(text: str) -> None:
    written = msgspec.json.encode([text, {text: 1}]).decode()
    assert json_as_written(json_visible(written)) == written


def test_other_escapes_stay_as_they_are() -> None:
    for text in (r'"\u00e9 \u0041 \n \u001b"', r'"\ud800"', r'"\\u007f"', r'"\u12zz"', "[\t1]\r\n"):
        assert json_as_written(text) == text
        assert json_visible(text) == text


@pytest.mark.usefixtures("store_file")
def test_an_exported_room_with_such_text_is_imported_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    printed = CliRunner().invoke(main, ["export", EVIL, "-"]).stdout_bytes
    file = tmp_path / "room.jsonl"
    assert CliRunner().invoke(main, ["export", EVIL, str(file)]).exit_code == 0
    assert file.read_bytes() == printed
    monkeypatch.setenv("WITNESSMARK_STORE", str(tmp_path / "other.sqlite3"))
    for words in ("added", "already in the store"):
        done = CliRunner().invoke(main, ["import", str(file)])
        assert done.exit_code == 0
        assert words in done.output
    with Store.open(tmp_path / "other.sqlite3") as store:
        assert [room.name for room in store.rooms()] == [EVIL]


def test_no_command_prints_by_another_way() -> None:
    folder = Path(witnessmark.cli.__file__).parent
    others = [
        file.name
        for file in folder.glob("*.py")
        for node in ast.walk(ast.parse(file.read_text("utf-8")))
        if isinstance(node, ast.Call) and ast.unparse(node.func) in {"click.echo", "print"}
    ]
    assert set(others) == {"echo.py"}


async def test_the_app_paints_every_line_through_the_same(store_file: Path) -> None:
    assert "get_line_filters" in vars(WitnessmarkApp)
    line = [Segment("Room "), Segment(EVIL), Segment(" " * 40)]
    painted = SteeringShown().apply(line, Color(0, 0, 0))
    text = "".join(one.text for one in painted)
    assert visible(EVIL) in text
    assert Segment.get_line_length(painted) == Segment.get_line_length(line)
