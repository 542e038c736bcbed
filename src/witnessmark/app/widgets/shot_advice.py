"""Which shots are needed: worked out beside the typing, the latest question first."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual import on
from textual.content import Content
from textual.message import Message

from witnessmark.app.widgets.plain import Plain
from witnessmark.sentences import sentence

if TYPE_CHECKING:
    from witnessmark.model import Setup


class ShotAdvice(Plain):
    """How many shots settle each cabinet and to what, or why none can and what would help.

    Of what is asked while one answer is being worked out only the latest is answered.
    """

    DEFAULT_CSS = """
    ShotAdvice { height: auto; margin-bottom: 1; }
    """

    @dataclass
    class Planned(Message):
        """What is to be said of the setup that was asked about last."""

        words: tuple[str, ...]

    def __init__(self) -> None:
        super().__init__()
        self._asked: Setup | None = None
        self._waiting: Setup | None = None
        self._at_work = False

    def ask(self, setup: Setup | None) -> None:
        """Tell about this setup as soon as it is worked out; None while it is not whole."""
        if setup == self._asked:
            return
        self._asked = self._waiting = setup
        if setup is None:
            self._show(())
        elif not self._at_work:
            self._at_work = True
            self.run_worker(self._answer(), name="plan shots", group="plan")

    async def _answer(self) -> None:
        while (setup := self._waiting) is not None:
            self._waiting = None
            words = await asyncio.to_thread(_needed, setup)
            if setup == self._asked:
                self.post_message(self.Planned(words))
        self._at_work = False

    @on(Planned)
    def _take(self, event: Planned) -> None:
        event.stop()
        self._show(event.words)

    def _show(self, words: tuple[str, ...]) -> None:
        sentences = [f"\n{sentence(one)}" for one in words]
        heading = ("Which shots are needed", "$text-muted") if words else ""
        self.update(Content.assemble(heading, *sentences))


def _needed(setup: Setup) -> tuple[str, ...]:
    from witnessmark.words.shots_needed import shots_needed  # noqa: PLC0415

    return shots_needed(setup)
