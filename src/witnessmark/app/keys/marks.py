"""Keys of the screens on which marks, history and rooms are gone through."""

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
        "Keep where the pair stands now as a mark; nothing that was kept is overwritten.",
        "keep",
        _MARKS,
        typing=True,
    ),
    Command(
        "marks.put_back",
        "ctrl+r",
        "Put back",
        "Bring both cabinets back to where the mark has them; Enter in the list does the same.",
        "put_back",
        _MARKS,
        typing=True,
    ),
    Command(
        "marks.look_after",
        "ctrl+t",
        "Still there?",
        "Look with three shots a cabinet whether both still stand where the mark has them.",
        "look_after",
        _MARKS,
        typing=True,
    ),
    Command(
        "marks.let_go",
        "ctrl+l",
        "Let go",
        "Put no mark back any more; the targets stay as they are, with the usual shots.",
        "let_go",
        _MARKS,
        typing=True,
    ),
    Command(
        "history.open",
        "y",
        "History",
        "Every reading, decision, trial and mark in the order in which they came.",
        "open('history')",
        EVENING | {Step.LIVE},
    ),
    Command(
        "history.newer",
        "n",
        "Newer",
        "The page of what happened after this.",
        "turn(1)",
        _HISTORY,
    ),
    Command(
        "history.older",
        "o",
        "Older",
        "The page of what happened before this.",
        "turn(-1)",
        _HISTORY,
    ),
    Command(
        "room.rooms",
        "ctrl+o",
        "Rooms",
        "Go to another room that was saved, or begin a new one.",
        "open('rooms')",
        frozenset({Step.ROOM}),
        typing=True,
    ),
    Command(
        "rooms.begin",
        "ctrl+n",
        "New room",
        "Begin a new room, with the meter that there is; this one stays as it was saved.",
        "begin",
        _ROOMS,
        typing=True,
    ),
)
