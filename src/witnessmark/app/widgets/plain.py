"""Text to the letter: the framework would read brackets in it as colours, links and actions.

What stands on the screen comes from others too: the name of a meter, a mark from another computer,
an error of the system. All text of the app is shown by these, or is ``Content`` from the start.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.widgets import OptionList, Static

if TYPE_CHECKING:
    from textual.visual import VisualType


class Plain(Static):
    """Words that stand there until they are updated."""

    def __init__(
        self, content: VisualType = "", *, id: str | None = None, classes: str | None = None
    ) -> None:
        super().__init__(content, id=id, classes=classes, markup=False)


class PlainOptions(OptionList):
    """Options in words, of which one is chosen."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id, compact=True, markup=False)
