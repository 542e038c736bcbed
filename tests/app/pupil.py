"""The learn screen in tests, and somebody who holds the meter."""

from __future__ import annotations

from collections.abc import Callable

from sitting import Sitting
from textual.widgets import Static

from witnessmark.app.screens.learn import LearnScreen


class Pupil:
    """The learn screen, and somebody who holds the meter."""

    def __init__(self, sitting: Sitting, send: Callable[[bytes], object]) -> None:
        self.sitting, self.send = sitting, send

    @property
    def screen(self) -> LearnScreen:
        screen = self.sitting.app.screen
        assert isinstance(screen, LearnScreen)
        return screen

    def says(self, selector: str) -> str:
        return str(self.screen.query_one(selector, Static).content)

    async def until(self, selector: str, words: str) -> None:
        await self.sitting.until(lambda: words in self.says(selector))

    async def know(self, length: str) -> None:
        """Say how long the next distance is."""
        await self.until("#ask", "distance")
        await self.sitting.fill(known=length)
        await self.sitting.press("enter")

    async def show(self, length: str, raw: bytes) -> None:
        """Say how long it is, and measure it."""
        shown = len(self.screen.lesson.samples)
        await self.know(length)
        assert "press the meter's button" in self.says("#ask")
        self.send(raw)
        await self.have_shown(shown + 1)

    async def ask(self, length: str) -> None:
        """Say how long it is, where the meter is held, on which it is asked."""
        shown = len(self.screen.lesson.samples)
        await self.know(length)
        await self.have_shown(shown + 1)

    async def have_shown(self, count: int) -> None:
        await self.sitting.until(lambda: len(self.screen.lesson.samples) >= count)


async def begun(sitting: Sitting, send: Callable[[bytes], object]) -> Pupil:
    await sitting.press("m", "ctrl+e")
    pupil = Pupil(sitting, send)
    await pupil.until("#ask", "Type the first distance")
    return pupil
