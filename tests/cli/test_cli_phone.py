"""``--phone``: the app, or the demo, begins with the page's code."""

from __future__ import annotations

import asyncio

import pytest
from click.testing import CliRunner

import witnessmark.app
import witnessmark.cli
from witnessmark.app.app import WitnessmarkApp


@pytest.mark.parametrize("phone", [False, True])
def test_the_program_begins_with_the_code_when_asked_to(
    monkeypatch: pytest.MonkeyPatch, phone: bool
) -> None:
    asked: list[bool] = []
    monkeypatch.setattr(witnessmark.app, "run_app", lambda *, phone: asked.append(phone))
    done = CliRunner().invoke(witnessmark.cli.main, ["--phone"] if phone else [])
    assert done.exit_code == 0
    assert asked == [phone]


@pytest.mark.parametrize("phone", [False, True])
def test_so_does_the_demo(monkeypatch: pytest.MonkeyPatch, phone: bool) -> None:
    begun: list[bool] = []

    def run(app: WitnessmarkApp) -> None:
        begun.append(app.phone)
        asyncio.run(app.session.journal.aclose())

    monkeypatch.setattr(witnessmark.app, "check_terminal", lambda: None)
    monkeypatch.setattr(witnessmark.app, "run_to_its_end", run)
    done = CliRunner().invoke(witnessmark.cli.main, ["demo", *(["--phone"] if phone else [])])
    assert done.exit_code == 0, done.output
    assert begun == [phone]


def test_before_another_command_it_is_refused_and_the_right_place_named() -> None:
    done = CliRunner().invoke(witnessmark.cli.main, ["--phone", "meters"])
    assert done.exit_code == 2
    assert "--phone works only with the app itself, or after demo" in done.output
