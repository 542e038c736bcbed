"""Takes the pictures of the README anew: ``python tests/pictures/take_pictures.py``; look at them.

Everything is the demo's: its room, its meter, its clumsy hands. The live screen and the card are
drawn as SVG, the page for a phone is what a real browser of a phone's size shows.
"""

from __future__ import annotations

import asyncio
import re
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "app"))
sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
sys.path.insert(0, str(Path(__file__).parents[1] / "placing"))

from browser import Phone
from rehearsed import rehearse
from rounds import AT, Working
from served import Served

from witnessmark.placing.marks import mark_of
from witnessmark.report.floor_sheets import put_back_card
from witnessmark.report.page import Paper
from witnessmark.report.svg import svg

HERE = Path(__file__).parent
_OUTSIDE = re.compile(r"@font-face\s*{[^}]*}\s*|<!--.*?-->\s*", re.DOTALL)
"""Faces that a viewer would fetch from elsewhere, and addresses."""
_WINDOW = re.compile(r'(?<=</defs>).*?(?=<g transform="translate\(9, 41\)")', re.DOTALL)
"""What is drawn around the screen, which itself is drawn at (9, 41)."""
_FACE = re.compile(r"font-family: [^;]*")
_VIEW = re.compile(r'viewBox="[^"]*"')
_SCREEN = re.compile(r'clip-terminal">\s*<rect x="0" y="0" width="([^"]*)" height="([^"]*)"')


async def live(folder: Path) -> str:
    """The live screen with the first nudge that it asks for."""
    async with rehearse(folder / "live.sqlite3", size=(104, 34)) as person:
        await person.walk()
        return bare(person.app.export_screenshot())


def bare(picture: str) -> str:
    """The screen alone: without a window's frame, title and buttons, in whatever face there is."""
    picture = _FACE.sub("font-family: monospace", _WINDOW.sub("", _OUTSIDE.sub("", picture)))
    (size,) = _SCREEN.findall(picture)
    return _VIEW.sub('viewBox="9 41 {} {}"'.format(*size), picture, count=1)


def card() -> str:
    """The card of a mark of the pair once both stand in."""
    working = Working()
    working.finish()
    mark = mark_of(working.guidance, AT, "before the cleaning")
    return svg(put_back_card(mark, "Demo room", Paper.A4)[0])


async def phone(folder: Path, picture: Path) -> None:
    """The page as a phone shows it, with a nudge to make."""
    served = Served(None)
    await served.start()
    browser = Phone(folder / "phone")
    try:
        served.working.shoot(4)
        served.show()
        await browser.open(served.server.url)
        browser.picture(picture)
    finally:
        browser.close()
        await served.server.stop("The picture is taken.")


async def main() -> None:
    """Take all three."""
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder)
        (HERE / "live.svg").write_text(await live(there), encoding="utf-8")
        (HERE / "card.svg").write_text(card(), encoding="utf-8")
        await phone(there, HERE / "phone.png")


if __name__ == "__main__":
    asyncio.run(main())
