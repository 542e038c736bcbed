"""Keys of the live screen."""

from __future__ import annotations

from witnessmark.app.keys.command import Command
from witnessmark.app.steps import Aside, Step

_LIVE = frozenset({Step.LIVE})
_CHECK = frozenset({Aside.CHECK})

LIVE_COMMANDS = (
    Command(
        "meter.ask",
        "ctrl+f",
        "Ask",
        "Ask a meter that waits for it to measure now.",
        "app.ask",
        _LIVE | _CHECK,
        typing=True,
    ),
    Command(
        "rehearsal.button",
        "space",
        "Shoot",
        "Demo: the simulated person shoots the prompted shot.",
        "press_button",
        _LIVE,
    ),
    Command(
        "rehearsal.nudge",
        "n",
        "Nudge",
        "Demo: simulated hands make the nudge that is asked for.",
        "nudge",
        _LIVE,
    ),
    Command(
        "round.keep",
        "k",
        "Keep",
        "Take the questioned reading as it is.",
        "decide('keep')",
        _LIVE,
    ),
    Command(
        "round.there",
        "t",
        "There",
        "Take the questioned reading for the other shot that it fits.",
        "decide('there')",
        _LIVE,
    ),
    Command(
        "round.drop",
        "x",
        "Drop",
        "Throw the questioned reading away.",
        "decide('drop')",
        _LIVE,
    ),
    Command(
        "round.undo",
        "u",
        "Undo",
        "Take back the last reading or decision; it stays in the journal.",
        "decide('undo')",
        _LIVE,
    ),
    Command("round.skip", "s", "Skip", "Leave the prompted shot out.", "decide('skip')", _LIVE),
    Command(
        "round.back",
        "backspace",
        "Back",
        "Take the shot before once more; its new reading replaces the old one.",
        "decide('back')",
        _LIVE,
    ),
    Command(
        "round.hold",
        "h",
        "Hold",
        "Stay on the prompted shot while the cabinet is moved, and go on again.",
        "decide('hold')",
        _LIVE,
    ),
    Command(
        "round.sweep",
        "w",
        "Sweep",
        "Take the shortest of five readings, while the beam passes the square to the wall.",
        "decide('sweep')",
        _LIVE,
    ),
    Command("round.other", "o", "Other", "Go to the other cabinet.", "decide('other')", _LIVE),
    Command(
        "round.moved",
        "a",
        "Moved",
        "This cabinet was moved: measure it afresh.",
        "decide('moved')",
        _LIVE,
    ),
    Command("live.tilt", "i", "Tilt", "How far each cabinet leans.", "open('tilt')", _LIVE),
    Command(
        "live.sound",
        "f",
        "Sound",
        "What the room does to the sound of the pair as it stands, in figures.",
        "open('sound')",
        _LIVE,
    ),
    Command(
        "round.begin",
        "b",
        "",
        "Begin a new round; the old one stays in the journal.",
        "begin_afresh",
        _LIVE,
    ),
    Command(
        "phone",
        "p",
        "Phone",
        "Show this on a phone in the same network, and let it decide.",
        "phone",
        _LIVE,
    ),
    Command(
        "bell",
        "z",
        "",
        "Ring at readings or be silent: once for one taken, twice for in, thrice for a question.",
        "silence",
        _LIVE,
    ),
)
