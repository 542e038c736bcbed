"""Keys of the screens on which marks, history and rooms are gone through."""

from __future__ import annotations

from witnessmark.app.keys.command import Command

MARKS_COMMANDS: tuple[Command, ...] = ()
