"""The manual on the command line, and that its pages name keys and cautions as the program does."""

from __future__ import annotations

import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

import witnessmark.manual
from witnessmark.app.commands import COMMANDS, spoken_keys
from witnessmark.app.screens.help import TOPIC_OF
from witnessmark.app.screens.phone import PhoneScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.cli import main
from witnessmark.manual import TOPICS, manual_page, manual_pages
from witnessmark.words import cautions

PAGES = {page.topic: page for page in manual_pages()}
README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")


def run(*arguments: str) -> tuple[int, str, str]:
    done = CliRunner().invoke(main, ["manual", *arguments])
    return done.exit_code, done.stdout, done.stderr


def test_without_a_topic_every_page_is_listed() -> None:
    code, told, _ = run()
    assert code == 0
    for page in PAGES.values():
        assert re.search(rf"^  {page.topic} +{re.escape(page.heading)}$", told, re.MULTILINE)


@pytest.mark.parametrize("topic", TOPICS)
def test_a_page_goes_to_a_pipe_as_it_is_written(topic: str) -> None:
    assert run(topic) == (0, PAGES[topic].text, "")
    assert "\x1b" not in PAGES[topic].text


def test_an_unknown_topic_is_told_with_those_there_are() -> None:
    code, told, wrong = run("spaghetti")
    assert (code, told) == (2, "")
    assert 'no page "spaghetti"' in wrong
    assert "teaching" in wrong


@pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals")
def test_a_terminal_gets_no_marks_of_markdown() -> None:
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "witnessmark", "manual", "marks"]
    with subprocess.Popen(command, stdout=theirs, env={**os.environ, "TERM": "xterm"}) as done:
        os.close(theirs)
        told = b""
        try:
            while more := os.read(ours, 4096):
                told += more
        except OSError:  # how Linux says that the other end is closed
            pass
    os.close(ours)
    assert done.returncode == 0
    assert b"Put back" in told
    assert b"**" not in told
    assert b"## " not in told


def test_no_page_lies_about_that_is_not_listed() -> None:
    folder = Path(witnessmark.manual.__file__).parent
    assert {path.stem for path in folder.glob("*.md")} == {*TOPICS}


def test_every_place_has_its_page() -> None:
    assert TOPIC_OF.keys() == {*Step, *Aside}
    assert {*TOPIC_OF.values()} <= {*TOPICS}


@pytest.mark.parametrize("topic", TOPICS)
def test_links_lead_to_pages(topic: str) -> None:
    links = re.findall(r"\]\(([^)]*)\)", PAGES[topic].text)
    assert all(link.removesuffix(".md") in TOPICS for link in links)
    for line in PAGES[topic].text.splitlines():
        assert len(line) <= 100


def _as_printed() -> set[tuple[str, str]]:
    """Each key of the program with its word in the key bar."""
    found = [(command.keys, command.label) for command in COMMANDS]
    found += [(keys, label) for keys, _, label in PhoneScreen.BINDINGS]  # type: ignore[misc]
    return {(_plain(spoken_keys(key)), label) for keys, label in found for key in keys.split(",")}


def _plain(key: str) -> str:
    """A key by its name however that is written; a letter stays as it is."""
    return key if len(key) == 1 else key.casefold()


def _keys_in(text: str) -> list[tuple[str, str]]:
    """What stands in bold, which is a key and, where it has one, its word in the key bar."""
    bold = [" ".join(one.split()) for one in re.findall(r"\*\*(.+?)\*\*", text, re.DOTALL)]
    return [(_plain(one.partition(" ")[0]), one.partition(" ")[2]) for one in bold]


@pytest.mark.parametrize("topic", [*TOPICS, "README"])
def test_every_key_in_a_page_is_one_of_the_program(topic: str) -> None:
    text = README if topic == "README" else PAGES[topic].text
    assert [key for key in _keys_in(text) if key not in _as_printed()] == []


def test_every_key_of_the_program_is_in_the_manual() -> None:
    told = {key for page in PAGES.values() for key in _keys_in(page.text)}
    for command in COMMANDS:
        ways = {(_plain(spoken_keys(key)), command.label) for key in command.keys.split(",")}
        assert ways & told, command.id


def test_every_caution_is_on_the_page_of_cautions() -> None:
    page = " ".join(manual_page("care").text.split())
    told = [words for name, words in vars(cautions).items() if name.isupper()]
    assert len(told) >= 7
    for words in told:
        assert words.removesuffix(".") in page
