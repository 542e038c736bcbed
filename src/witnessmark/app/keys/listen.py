"""Keys of the listening screen."""

from __future__ import annotations

from witnessmark.app.keys.command import Command
from witnessmark.app.steps import Step

_LISTEN = frozenset({Step.LISTEN})

LISTEN_COMMANDS = (
    Command(
        "listen.next",
        "ctrl+n",
        "Keep, next",
        "Keep these grades, and make the next position the target.",
        "next",
        _LISTEN,
        typing=True,
    ),
    Command(
        "listen.keep",
        "ctrl+r",
        "Keep, stay",
        "Keep these grades, and stay at this position.",
        "keep",
        _LISTEN,
        typing=True,
    ),
    Command(
        "listen.compare",
        "ctrl+t",
        "Compare",
        "Say which was better, this position or the one before.",
        "compare",
        _LISTEN,
        typing=True,
    ),
    Command(
        "listen.hide",
        "ctrl+e",
        "Hide grades",
        "Hide or show the earlier grades. You grade more freely when you cannot see them.",
        "hide",
        _LISTEN,
        typing=True,
    ),
    Command(
        "listen.dark",
        "enter",
        "Keep, next",
        "When dimmed: keep these grades, and make the next position the target.",
        "next_in_the_dark",
        _LISTEN,
    ),
)
