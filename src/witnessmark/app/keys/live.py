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
        "Ask the meter to measure now, if it waits to be asked.",
        "app.ask",
        _LIVE | _CHECK,
        typing=True,
    ),
    Command(
        "rehearsal.button",
        "space",
        "Shoot",
        "Demo: take the prompted shot.",
        "press_button",
        _LIVE,
    ),
    Command(
        "rehearsal.nudge",
        "n",
        "Nudge",
        "Demo: make the nudge that is asked for.",
        "nudge",
        _LIVE,
    ),
    Command(
        "round.keep",
        "k",
        "Keep",
        "Accept the questioned reading as it is.",
        "decide('keep')",
        _LIVE,
    ),
    Command(
        "round.there",
        "t",
        "There",
        "Use the questioned reading for the other shot that it fits.",
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
        "Undo the last reading or decision. It stays in the journal.",
        "decide('undo')",
        _LIVE,
    ),
    Command("round.skip", "s", "Skip", "Leave the prompted shot out.", "decide('skip')", _LIVE),
    Command(
        "round.back",
        "backspace",
        "Back",
        "Repeat the previous shot. Its new reading replaces the old one.",
        "decide('back')",
        _LIVE,
    ),
    Command(
        "round.hold",
        "h",
        "Hold",
        "Stay on the prompted shot while you move the cabinet. Press again to go on.",
        "decide('hold')",
        _LIVE,
    ),
    Command(
        "round.sweep",
        "w",
        "Sweep",
        "Swing the beam past the square to the wall. The shortest of five readings counts.",
        "decide('sweep')",
        _LIVE,
    ),
    Command("round.other", "o", "Other", "Go to the other cabinet.", "decide('other')", _LIVE),
    Command(
        "round.moved",
        "a",
        "Moved",
        "This cabinet was moved: measure it again.",
        "decide('moved')",
        _LIVE,
    ),
    Command("live.tilt", "i", "Tilt", "Measure how far each cabinet leans.", "open('tilt')", _LIVE),
    Command(
        "live.sound",
        "f",
        "Sound",
        "Show in figures what the room does to the sound at this position.",
        "open('sound')",
        _LIVE,
    ),
    Command(
        "round.begin",
        "b",
        "",
        "Begin a new round. The old one stays in the journal.",
        "begin_afresh",
        _LIVE,
    ),
    Command(
        "phone",
        "p",
        "Phone",
        "Show and control this from a phone in the same network.",
        "phone",
        _LIVE,
    ),
    Command(
        "bell",
        "z",
        "",
        "Bell on or off: one for a reading, two for in, three for a question.",
        "silence",
        _LIVE,
    ),
)
