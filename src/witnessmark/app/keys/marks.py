"""Keys of the screens for marks, history and rooms."""

from __future__ import annotations

from witnessmark.app.keys.command import Command
from witnessmark.app.steps import EVENING, Aside, Step

_MARKS = frozenset({Step.MARKS})
_HISTORY, _ROOMS = frozenset({Aside.HISTORY}), frozenset({Aside.ROOMS})

MARKS_COMMANDS = (
    Command(
        "marks.keep",
        "ctrl+n",
        "Keep",
        "Save this position as a mark. No earlier mark is overwritten.",
        "keep",
        _MARKS,
        typing=True,
    ),
    Command(
        "marks.put_back",
        "ctrl+r",
        "Put back",
        "Bring both cabinets back to the mark. Enter in the list does the same.",
        "put_back",
        _MARKS,
        typing=True,
    ),
    Command(
        "marks.look_after",
        "ctrl+t",
        "Still there?",
        "Check with three shots a cabinet whether both still stand at the mark.",
        "look_after",
        _MARKS,
        typing=True,
    ),
    Command(
        "marks.let_go",
        "ctrl+l",
        "Let go",
        "Stop putting the mark back. The targets stay, with the usual shots.",
        "let_go",
        _MARKS,
        typing=True,
    ),
    Command(
        "history.open",
        "y",
        "History",
        "Show every reading, decision, trial and mark, in order of time.",
        "open('history')",
        EVENING | {Step.LIVE},
    ),
    Command(
        "history.newer",
        "n",
        "Newer",
        "Show the next page, later in time.",
        "turn(1)",
        _HISTORY,
    ),
    Command(
        "history.older",
        "o",
        "Older",
        "Show the previous page, earlier in time.",
        "turn(-1)",
        _HISTORY,
    ),
    Command(
        "room.rooms",
        "ctrl+o",
        "Rooms",
        "Open another saved room, or begin a new one.",
        "open('rooms')",
        frozenset({Step.ROOM}),
        typing=True,
    ),
    Command(
        "rooms.begin",
        "ctrl+n",
        "New room",
        "Begin a new room with the same meter. This room stays as it was saved.",
        "begin",
        _ROOMS,
        typing=True,
    ),
)
