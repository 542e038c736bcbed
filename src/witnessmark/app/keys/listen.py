"""Keys of the screen on which a position is listened to."""

from __future__ import annotations

from witnessmark.app.keys.command import Command
from witnessmark.app.steps import Step

_LISTEN = frozenset({Step.LISTEN})

LISTEN_COMMANDS = (
    Command(
        "listen.next",
        "ctrl+n",
        "Keep, next",
        "Keep what was said of this position, and take the next one as the target.",
        "next",
        _LISTEN,
        typing=True,
    ),
    Command(
        "listen.keep",
        "ctrl+r",
        "Keep, stay",
        "Keep what was said of this position, and stay at it.",
        "keep",
        _LISTEN,
        typing=True,
    ),
    Command(
        "listen.compare",
        "ctrl+t",
        "Compare",
        "Tell which was better, this position or the one before.",
        "compare",
        _LISTEN,
        typing=True,
    ),
    Command(
        "listen.hide",
        "ctrl+e",
        "Hide grades",
        "Hide all that was said earlier, or show it: who cannot see it is not led by it.",
        "hide",
        _LISTEN,
        typing=True,
    ),
    Command(
        "listen.dark",
        "enter",
        "Keep, next",
        "Dimmed: keep what was said, and take the next position as the target.",
        "next_in_the_dark",
        _LISTEN,
    ),
)
