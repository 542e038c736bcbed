"""Words that do something when they are clicked."""

from textual.content import Content
from textual.style import Style


def clickable(words: Content, action: str) -> Content:
    """``words`` that run an action of their widget, or of ``app.`` or ``screen.``, when clicked."""
    return words.stylize(Style.from_meta({"@click": action}))
