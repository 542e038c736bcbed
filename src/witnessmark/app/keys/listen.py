"""Keys of the screen on which a position is listened to."""

from __future__ import annotations

from witnessmark.app.keys.command import Command

LISTEN_COMMANDS: tuple[Command, ...] = ()
