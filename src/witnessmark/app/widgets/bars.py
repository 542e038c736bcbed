"""The lines at the top and at the bottom of a screen: its steps, and its keys."""

from __future__ import annotations

from functools import lru_cache

from textual.content import Content
from textual.screen import Screen
from textual.style import Style
from textual.widgets import Input

from witnessmark.app.commands import is_spare, key_to, spoken_keys
from witnessmark.app.steps import Step
from witnessmark.app.widgets.plain import Plain


def clickable(words: Content, action: str) -> Content:
    """``words`` that run an action of their widget, or of ``app.`` or ``screen.``, when clicked."""
    return words.stylize(Style.from_meta({"@click": action}))


class StepStrip(Plain):
    """Marks this step with arrowheads, and names the key of each other; a click goes there too.

    While the cursor is in a field, where letters are typed, it says so.
    """

    DEFAULT_CSS = """
    StepStrip {
        height: 1; background: $panel; color: $text-muted; padding: 0 1; link-style: none;
        link-style-hover: underline;
    }
    """

    def __init__(self, current: Step) -> None:
        """``current`` is the step whose screen this is."""
        super().__init__()
        self._current = current
        self._is_typing: bool | None = None

    def on_mount(self) -> None:
        self._show(self.screen)
        self.screen.bindings_updated_signal.subscribe(self, self._show)

    def _show(self, screen: Screen[object]) -> None:
        is_typing = isinstance(screen.focused, Input)
        if is_typing is self._is_typing:
            return
        self._is_typing = is_typing
        start = "Esc, then:  " if is_typing else "witnessmark "
        entries = [_step_entry(step, self._current) for step in Step]
        self.update(Content.assemble((start, "bold $accent"), *entries), layout=False)


def _step_entry(step: Step, current: Step) -> Content:
    if step is current:
        return Content.styled(f" ▸{step.heading}◂ ", "bold reverse")
    words = Content.assemble(" ", (key_to(step), "bold $accent"), f" {step.heading} ")
    return clickable(words, f"app.go({step.value!r})")


_GAP = 2


class KeyBar(Plain):
    """Shows the bindings that work where the cursor is, in one widget; a click presses the key."""

    DEFAULT_CSS = """
    KeyBar {
        dock: bottom;
        height: auto;
        background: $panel;
        padding: 0 1;
        link-style: none;
        link-style-hover: underline;
    }
    """

    def on_mount(self) -> None:
        self.screen.bindings_updated_signal.subscribe(self, self._show)

    def on_resize(self) -> None:
        self._show(self.screen)

    def _show(self, screen: Screen[object]) -> None:
        shown: dict[str, Content] = {}
        spare: dict[str, Content] = {}
        place = getattr(screen, "STEP", None)
        for key, active in screen.active_bindings.items():
            binding = active.binding
            if binding.show and active.enabled and binding.description:
                entry = _key_entry(key, binding.key_display, binding.description)
                entries = spare if is_spare(place, binding.id) else shown
                entries.setdefault(binding.action, entry)
        words = _broken(list(shown.values()), list(spare.values()), self.size.width)
        self.update(words, layout=words.plain.count("\n") + 1 != self.size.height)


@lru_cache(maxsize=1024)
def _key_entry(key: str, display: str | None, description: str) -> Content:
    words = Content.assemble((display or spoken_keys(key), "bold $accent"), f" {description}")
    return clickable(words, f"app.simulate_key({key!r})")


def _broken(entries: list[Content], spare: list[Content], width: int) -> Content:
    """Return the entries in lines of at most ``width`` cells, each entry whole.

    Those that are ``spare`` begin no third line, nor any after that.
    """
    lines: list[list[Content]] = [[]]
    used = 0
    for entry in entries:
        if lines[-1] and used + entry.cell_length > width:
            lines.append([])
            used = 0
        lines[-1].append(entry)
        used += entry.cell_length + _GAP
    for entry in spare:
        if used + entry.cell_length > width:
            if len(lines) > 1:
                break
            lines.append([])
            used = 0
        lines[-1].append(entry)
        used += entry.cell_length + _GAP
    gap = Content(" " * _GAP)
    return Content("\n").join(gap.join(line) for line in lines)
