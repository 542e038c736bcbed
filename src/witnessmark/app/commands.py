"""Every key of the program in one place: bindings, the key bar and the help screen read from here.

While the cursor is in a field, letters are typed; keys with Ctrl work all the same, and Escape
leaves the field. Function keys are never the only way: some terminals keep them.
"""

from __future__ import annotations

from typing import NamedTuple

from textual.binding import Binding, BindingType

from witnessmark.app.steps import ASIDES, EVERYWHERE, FORMS, Aside, Place, Step


class Command(NamedTuple):
    """A thing that a key does: ``keys`` separated by commas, ``places`` where it can be done.

    ``label`` is the word in the key bar, ``explained`` the sentence on the help screen. ``typing``
    commands work while the cursor is in a field too.
    """

    id: str
    keys: str
    label: str
    explained: str
    action: str
    places: frozenset[Place] = EVERYWHERE
    typing: bool = False


_LIVE = frozenset({Step.LIVE})
_ROOM = frozenset({Step.ROOM})
_SURVEY, _FITTINGS = frozenset({Aside.SURVEY}), frozenset({Aside.FITTINGS})
_LEARN, _CHECK = frozenset({Aside.LEARN}), frozenset({Aside.CHECK})
_CABINET, _POINT = frozenset({Aside.CABINET}), frozenset({Aside.POINT})

COMMANDS = (
    Command(
        "step.next",
        "ctrl+n",
        "Next",
        "Go on to the next step; what is missing is pointed out.",
        "next",
        FORMS,
        typing=True,
    ),
    Command(
        "step.back",
        "ctrl+p",
        "Back",
        "Go back to the step before.",
        "back",
        FORMS - {Step.ROOM},
        typing=True,
    ),
    Command(
        "room.survey",
        "ctrl+e",
        "Survey",
        "Find the corners of a room that is not square, or open on a side, from distances.",
        "open('survey')",
        _ROOM,
        typing=True,
    ),
    Command(
        "room.fittings",
        "ctrl+f",
        "In the room",
        "Tell what is in it: lines in place of walls, radiators and skirting, hearths and doors.",
        "open('fittings')",
        _ROOM,
        typing=True,
    ),
    Command(
        "survey.use",
        "ctrl+n",
        "Use",
        "Make the room of the corners that were found; the distances are kept.",
        "use",
        _SURVEY,
        typing=True,
    ),
    Command(
        "survey.back",
        "ctrl+t",
        "Take back",
        "Undo what changed the list last; every reading stays in the journal.",
        "take_back",
        _SURVEY,
        typing=True,
    ),
    Command(
        "fittings.take",
        "ctrl+n",
        "Add",
        "Add what the fields hold, or change the entry that was taken up.",
        "take",
        _FITTINGS,
        typing=True,
    ),
    Command(
        "fittings.clear",
        "ctrl+r",
        "Clear",
        "Empty the fields; an entry that was taken up stays as it is.",
        "clear",
        _FITTINGS,
        typing=True,
    ),
    Command(
        "cabinets.detail",
        "ctrl+d",
        "Details",
        "Tell what is no plain box: tapering, a plinth, feet and spikes, a straightedge.",
        "open('cabinet')",
        frozenset({Step.CABINETS}),
        typing=True,
    ),
    Command(
        "meter.look",
        "ctrl+r",
        "Look again",
        "Look once more for meters that can be reached.",
        "look",
        frozenset({Step.METER}),
        typing=True,
    ),
    Command(
        "meter.learn",
        "ctrl+l",
        "Teach",
        "Teach the program to read this meter, from distances that you know.",
        "open('learn')",
        frozenset({Step.METER}),
        typing=True,
    ),
    Command(
        "meter.check",
        "ctrl+t",
        "Check",
        "Check the meter: its maker's figure, its zero error, how well it repeats.",
        "open('check')",
        frozenset({Step.METER}),
        typing=True,
    ),
    Command(
        "learn.save",
        "ctrl+n",
        "Save",
        "Keep what was learnt under its name, and read the meter by it.",
        "save",
        _LEARN,
        typing=True,
    ),
    Command(
        "learn.fail",
        "ctrl+f",
        "Failed shot",
        "Show a shot that fails, so that none is ever taken for a distance; or go on without.",
        "fail",
        _LEARN,
        typing=True,
    ),
    Command(
        "learn.afresh",
        "ctrl+r",
        "Afresh",
        "Connect to the meter and begin the lesson once more.",
        "afresh",
        _LEARN,
        typing=True,
    ),
    Command(
        "check.use",
        "ctrl+n",
        "Use",
        "Use what was found from now on.",
        "use",
        _CHECK,
        typing=True,
    ),
    Command(
        "check.back",
        "ctrl+t",
        "Take back",
        "Leave the last reading out; it stays in the journal.",
        "take_back",
        _CHECK,
        typing=True,
    ),
    Command(
        "cabinet.point",
        "ctrl+t",
        "Touch point",
        "Enter where a point is that the meter is held to.",
        "enter('touch point')",
        _CABINET,
        typing=True,
    ),
    Command(
        "cabinet.foot",
        "ctrl+f",
        "Foot",
        "Enter where a foot or a spike stands.",
        "enter('foot')",
        _CABINET,
        typing=True,
    ),
    Command(
        "cabinet.undo",
        "ctrl+r",
        "Undo",
        "Take back the last change of the list.",
        "undo",
        _CABINET,
        typing=True,
    ),
    Command(
        "point.keep",
        "ctrl+n",
        "Keep",
        "Keep the point where it is now.",
        "keep",
        _POINT,
        typing=True,
    ),
    Command(
        "point.back",
        "ctrl+t",
        "Take back",
        "Leave the last reading of the tape out.",
        "take_back",
        _POINT,
        typing=True,
    ),
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
        "aside.leave",
        "escape,ctrl+p",
        "Back",
        "Go back to where this was opened.",
        "leave",
        ASIDES,
        typing=True,
    ),
    Command(
        "field.leave",
        "escape",
        "Leave field",
        "Leave the field, so that letters are keys and not text; Tab goes back to the fields.",
        "leave_field",
        FORMS,
    ),
    Command(
        "form.down",
        "pagedown",
        "More",
        "Scroll the form on.",
        "scroll_form(1)",
        FORMS | ASIDES,
        typing=True,
    ),
    Command(
        "form.up",
        "pageup",
        "",
        "Scroll the form back.",
        "scroll_form(-1)",
        FORMS | ASIDES,
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
    Command("go.room", "r", "Room", "The room, the seat and the units.", "app.go('room')"),
    Command("go.cabinets", "c", "Cabinets", "The cabinets' sizes.", "app.go('cabinets')"),
    Command("go.layout", "l", "Layout", "Where the pair is to stand.", "app.go('layout')"),
    Command("go.meter", "m", "Meter", "The meter and the tolerance.", "app.go('meter')"),
    Command("go.live", "g", "Live", "Measure and nudge.", "app.go('live')", FORMS),
    Command(
        "help",
        "question_mark,f1",
        "Help",
        "Show or close this page.",
        "app.help",
        EVERYWHERE | ASIDES,
    ),
    Command(
        "quit",
        "q,ctrl+q",
        "Quit",
        "Leave the program; all that is complete is saved.",
        "app.quit",
        EVERYWHERE | ASIDES,
    ),
)


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
            # the step strip leads away from the live screen, whose line has more pressing keys
            "" if place is Step.LIVE and command.id.startswith("go.") else command.label,
            priority=command.typing,
            tooltip=command.explained,
            id=command.id,
        )
        for command in commands_for(place)
    ]


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
