"""Every key of the program in one place: bindings, the key bar and the help screen read from here.

While the cursor is in a field, letters are typed; keys with Ctrl work all the same, and Escape
leaves the field. Function keys are never the only way: some terminals keep them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.binding import Binding, BindingType

from witnessmark.app.keys.around import AROUND_COMMANDS, GOING_COMMANDS
from witnessmark.app.keys.command import Command
from witnessmark.app.keys.forms import FORM_COMMANDS
from witnessmark.app.keys.listen import LISTEN_COMMANDS
from witnessmark.app.keys.live import LIVE_COMMANDS
from witnessmark.app.keys.marks import MARKS_COMMANDS
from witnessmark.app.steps import EVENING, Place, Step

if TYPE_CHECKING:
    from witnessmark.model import Act
    from witnessmark.phone.state import ActWords

COMMANDS = (
    *FORM_COMMANDS,
    *LISTEN_COMMANDS,
    *MARKS_COMMANDS,
    *AROUND_COMMANDS,
    *LIVE_COMMANDS,
    *GOING_COMMANDS,
)
"""In the order of the key bar."""


_AWAY: dict[Place, tuple[str, ...]] = {
    Step.LIVE: ("go.", "history."),
    **dict.fromkeys(EVENING, ("go.",)),
}
"""What leads away from screens whose line has more pressing keys; the step strip does as well."""


def commands_for(place: Place) -> list[Command]:
    """What can be done in a place, in the order of the key bar."""
    return [
        command
        for command in COMMANDS
        if place in command.places and command.action != f"app.go('{place}')"
    ]


def bindings_for(place: Place) -> list[BindingType]:
    """The key bindings of a place's screen."""
    return [
        Binding(
            command.keys,
            command.action,
            "" if command.id.startswith(_AWAY.get(place, ())) else command.label,
            priority=command.typing,
            tooltip=command.explained,
            id=command.id,
        )
        for command in commands_for(place)
    ]


def act_words() -> dict[Act, ActWords]:
    """Each decision by the words of its key."""
    from witnessmark.phone.state import ACTS, ActWords  # noqa: PLC0415

    keys = {command.action: command for command in COMMANDS}
    named = {act: keys[f"decide('{act}')"] for act in ACTS}
    return {act: ActWords(key.label, key.explained) for act, key in named.items()}


_SPOKEN = {
    "question_mark": "?",
    "escape": "Esc",
    "ctrl": "Ctrl",
    "pagedown": "PgDn",
    "pageup": "PgUp",
}


def spoken_keys(keys: str) -> str:
    """Keys as they are printed for a person: ``ctrl+n`` is ``Ctrl+N``."""
    return " or ".join(_spoken_key(key) for key in keys.split(","))


def _spoken_key(key: str) -> str:
    if key in _SPOKEN or "+" not in key:
        return _SPOKEN.get(key, key.upper() if len(key) > 1 else key)
    modifier, letter = key.split("+")
    return f"{_SPOKEN[modifier]}+{letter.upper()}"
