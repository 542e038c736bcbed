"""Every key of the program in one place: bindings, the key bar and the help screen read from here.

A key means one thing on all screens, and a meaning has one key: the ``label`` says it. While the
cursor is in a field, letters are typed; keys with Ctrl work all the same, and Escape leaves the
field. A letter works with Shift as well. Function keys are never the only way: some terminals keep
them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from textual.binding import Binding, BindingType

from witnessmark.app.steps import ASIDES, EVENING, EVERYWHERE, FORMS, Aside, Place, Step

if TYPE_CHECKING:
    from witnessmark.model import Act, Onward
    from witnessmark.phone.state import ActWords


class Command(NamedTuple):
    """A thing that a key does: ``keys`` separated by commas, ``places`` where it can be done.

    ``label`` is the word in the key bar, ``explained`` the sentence on the help screen. ``typing``
    commands work while the cursor is in a field too.
    """

    id: str
    keys: str
    label: str
    action: str
    places: frozenset[Place] = EVERYWHERE
    typing: bool = False
    explained: str = ""


_ROOM, _CABINETS = frozenset({Step.ROOM}), frozenset({Step.CABINETS})
_METER, _LIVE = frozenset({Step.METER}), frozenset({Step.LIVE})
_LISTEN, _MARKS = frozenset({Step.LISTEN}), frozenset({Step.MARKS})
_SURVEY, _FITTINGS = frozenset({Aside.SURVEY}), frozenset({Aside.FITTINGS})
_LEARN, _CHECK = frozenset({Aside.LEARN}), frozenset({Aside.CHECK})
_CABINET, _POINT = frozenset({Aside.CABINET}), frozenset({Aside.POINT})
_ALIKE = frozenset({Aside.ALIKE})
_FOLDED = frozenset({Step.LAYOUT, Step.METER})
_FORESEEN = frozenset({Step.LAYOUT, Step.LISTEN})
_HISTORY, _ROOMS = frozenset({Aside.HISTORY}), frozenset({Aside.ROOMS})

_SCROLLED = FORMS | EVENING | ASIDES

# a table, two lines a row; in the order of the key bar
# fmt: off
COMMANDS = (
    # Screens with fields, and what is opened from them
    Command("step.next", "ctrl+n", "Next", "next", FORMS, typing=True,
        explained="Go to the next step. Whatever is missing is pointed out."),
    Command("step.back", "ctrl+p", "Back", "back", FORMS - _ROOM, typing=True,
        explained="Go back to the previous step."),
    Command("room.survey", "ctrl+w", "Survey", "open('survey')", _ROOM, typing=True,
        explained="Find the corners from distances, if the room is not square or is open on a "
                  "side."),
    Command("room.fittings", "ctrl+f", "In the room", "open('fittings')", _ROOM, typing=True,
        explained=("Add radiators, skirting boards, hearths, doors, and lines instead of "
                  "walls.")),
    Command("survey.use", "ctrl+s", "Save", "use", _SURVEY, typing=True,
        explained="Use the corners found as the room. The distances are kept."),
    Command("survey.back", "ctrl+u", "Undo", "take_back", _SURVEY, typing=True,
        explained="Undo the last change to the list. Every reading stays in the journal."),
    Command("fittings.take", "ctrl+s", "Save", "take", _FITTINGS, typing=True,
        explained="Save what the fields hold: one more entry, or the chosen one changed."),
    Command("fittings.clear", "ctrl+y", "Start again", "clear", _FITTINGS, typing=True,
        explained="Empty the fields. The chosen entry stays as it is."),
    Command("cabinets.detail", "ctrl+x", "More", "open('cabinet')", _CABINETS, typing=True,
        explained="For cabinets that are not plain boxes: tapers, plinths, feet, spikes, a "
        "straightedge."),
    Command("form.more", "ctrl+x", "More", "more", _FOLDED, typing=True,
        explained="Show all fields, or only those that are needed."),
    Command("meter.look", "ctrl+y", "Start again", "look", _METER, typing=True,
        explained="Look for meters again."),
    Command("meter.learn", "ctrl+e", "Teach", "open('learn')", _METER, typing=True,
        explained="Teach the program to read this meter, from distances that you know."),
    Command("meter.check", "ctrl+t", "Check", "open('check')", _METER, typing=True,
        explained="Check the meter: its maker's figure, its zero error, and how well it repeats."),
    Command("learn.save", "ctrl+s", "Save", "save", _LEARN, typing=True,
        explained="Save what was learnt, and read the meter with it."),
    Command("learn.fail", "ctrl+n", "Next", "fail", _LEARN, typing=True,
        explained="Show a failed shot, so that an error is never read as a distance. Press "
                  "again to go on without."),
    Command("learn.afresh", "ctrl+y", "Start again", "afresh", _LEARN, typing=True,
        explained="Connect to the meter and start the lesson again."),
    Command("check.use", "ctrl+s", "Save", "use", _CHECK, typing=True,
        explained="Use the figures found from now on."),
    Command("check.back", "ctrl+u", "Undo", "take_back", _CHECK, typing=True,
        explained="Undo the last reading. It stays in the journal."),
    Command("cabinet.point", "ctrl+a", "Touch point", "enter('touch point')", _CABINET, typing=True,
        explained="Enter a point that the meter is held to."),
    Command("cabinet.foot", "ctrl+b", "Foot", "enter('foot')", _CABINET, typing=True,
        explained="Enter where a foot or a spike stands."),
    Command("cabinet.undo", "ctrl+u", "Undo", "undo", _CABINET, typing=True,
        explained="Undo the last change to the list."),
    Command("point.keep", "ctrl+s", "Save", "keep", _POINT, typing=True,
        explained="Save the point as it is now."),
    Command("point.back", "ctrl+u", "Undo", "take_back", _POINT, typing=True,
        explained="Undo the last tape reading."),
    # Listening
    Command("listen.next", "ctrl+n", "Next", "next", _LISTEN, typing=True,
        explained="Save these grades, and make the next position the target."),
    Command("listen.keep", "ctrl+s", "Save", "keep", _LISTEN, typing=True,
        explained="Save these grades, and stay at this position."),
    Command("listen.compare", "ctrl+j", "Compare", "compare", _LISTEN, typing=True,
        explained="Choose which was better, this position or the one before."),
    Command("listen.hide", "ctrl+x", "More", "hide", _LISTEN, typing=True,
        explained="Show or hide the earlier grades. You grade more freely when you cannot see "
        "them."),
    Command("listen.dark", "enter", "Next in the dark", "next_in_the_dark", _LISTEN,
        explained="When dimmed: save these grades, and make the next position the target."),
    Command("foresight.open", "equals_sign", "Foresee", "app.open('foresight')", _FORESEEN,
        explained="Show what the room does to the bass at each station, before you try it."),
    # Marks, history and rooms
    Command("marks.keep", "ctrl+s", "Save", "keep", _MARKS, typing=True,
        explained="Save this position as a mark. No earlier mark is overwritten."),
    Command("marks.put_back", "ctrl+g", "Put back", "put_back", _MARKS, typing=True,
        explained="Put both cabinets back at the mark. Enter in the list does the same."),
    Command("marks.check", "ctrl+t", "Check", "check_mark", _MARKS, typing=True,
        explained="Check with three shots a cabinet whether both still stand at the mark."),
    Command("marks.stop", "ctrl+l", "Stop", "stop_restoring", _MARKS, typing=True,
        explained="Stop putting the mark back. The targets stay, with the usual shots."),
    Command("history.open", "y", "History", "app.open('history')", EVENING | _LIVE,
        explained="Show every reading, decision, trial and mark, in order of time."),
    Command("history.newer", "ctrl+n", "Next", "turn(1)", _HISTORY,
        explained="Show the next page, later in time."),
    Command("history.older", "ctrl+p", "Back", "turn(-1)", _HISTORY,
        explained="Show the page before, earlier in time."),
    Command("room.rooms", "ctrl+o", "Rooms", "open('rooms')", _ROOM, typing=True,
        explained="Open another saved room, or begin a new one."),
    Command("rooms.begin", "b", "New", "begin", _ROOMS,
        explained="Begin a new room with the same meter. This room stays saved."),
    Command("alike.open", "ctrl+k", "Alike?", "app.open('alike')", EVERYWHERE, typing=True,
        explained="Are left and right alike as they stand? Needs only the size of a cabinet."),
    Command("alike.go_on", "enter", "", "go_on", _ALIKE, typing=True,
        explained="Go to the next field, or begin once both sizes are there."),
    Command("alike.begin", "ctrl+n", "Next", "begin", _ALIKE, typing=True,
        explained="Compare the pair as they stand: go on to the shots."),
    Command("put_back.open", "ctrl+g", "Put back", "app.put_back", EVERYWHERE - _MARKS, typing=True,
        explained="Put the pair back at a mark. After a check that found movement: at once, with "
        "the shots just taken."),
    # Leaving and scrolling, in many places alike
    Command("aside.leave", "escape", "Leave", "leave", ASIDES, typing=True,
        explained="Go back to where this was opened."),
    Command("field.leave", "escape", "Leave", "leave_field", FORMS | EVENING,
        explained="Leave the field: letters are keys again. Tab goes back to the fields."),
    Command("form.down", "pagedown", "Scroll", "scroll_form(1)", _SCROLLED, typing=True,
        explained="Scroll down."),
    Command("form.up", "pageup", "", "scroll_form(-1)", _SCROLLED, typing=True,
        explained="Scroll up."),
    # The live screen
    Command("meter.ask", "ctrl+r", "Ask", "app.ask", _LIVE | _CHECK, typing=True,
        explained="Ask the meter to measure now, if it measures on request."),
    Command("rehearsal.button", "space", "Shoot", "press_button", _LIVE,
        explained="Demo: take the prompted shot."),
    Command("rehearsal.nudge", "n", "Nudge", "nudge", _LIVE,
        explained="Demo: make the requested nudge. Then push on until it says stop."),
    Command("round.keep", "k", "Keep", "decide('keep')", _LIVE,
        explained="Accept the questioned reading as it is."),
    Command("round.there", "t", "There", "decide('there')", _LIVE,
        explained="Use the questioned reading for the other shot that it fits."),
    Command("round.drop", "x", "Drop", "decide('drop')", _LIVE,
        explained="Throw the questioned reading away."),
    Command("round.undo", "u", "Undo", "decide('undo')", _LIVE,
        explained="Undo the last reading or decision. It stays in the journal."),
    Command("round.skip", "s", "Skip", "decide('skip')", _LIVE,
        explained="Leave the prompted shot out."),
    Command("round.back", "backspace", "Repeat", "decide('back')", _LIVE,
        explained="Repeat the previous shot. Its new reading replaces the old one."),
    Command("round.hold", "h", "Hold", "decide('hold')", _LIVE,
        explained="Stay on the prompted shot while you move the cabinet. Press again to go on."),
    Command("round.sweep", "w", "Sweep", "decide('sweep')", _LIVE,
        explained="Swing the beam past the square to the wall. The shortest of five readings "
        "counts."),
    Command("round.other", "o", "Other", "decide('other')", _LIVE,
        explained="Go to the other cabinet."),
    Command("round.left", "left", "Move left", "match('left')", _LIVE,
        explained="Left and right differ: bring the left cabinet to the right one's mirror image."),
    Command("round.right", "right", "Move right", "match('right')", _LIVE,
        explained="Left and right differ: bring the right cabinet to the left one's mirror image."),
    Command("round.moved", "a", "Moved", "decide('moved')", _LIVE,
        explained="This cabinet was moved: measure it again."),
    Command("round.enough", "d", "Good enough", "decide('enough')", _LIVE,
        explained="Leave this cabinet where it stands, though it is not sure to be in."),
    Command("live.tilt", "i", "Tilt", "app.open('tilt')", _LIVE,
        explained="Measure how far each cabinet leans."),
    Command("live.sound", "number_sign", "Sound", "app.open('sound')", _LIVE,
        explained="Show in figures what the room does to the sound at this position."),
    Command("round.begin", "b", "New", "begin_afresh", _LIVE,
        explained="Begin a new round. The old one stays in the journal."),
    Command("phone", "p", "Phone", "phone", _LIVE,
        explained="Show and control this from a phone in the same network."),
    Command("bell", "z", "", "silence", _LIVE,
        explained="Bell on or off: one for a reading, two for in, three for a question."),
    # Going from step to step
    Command("go.room", "r", "Room", "app.go('room')",
        explained="Enter the room, the seat and the units."),
    Command("go.cabinets", "c", "Cabinets", "app.go('cabinets')",
        explained="Enter the cabinets' sizes."),
    Command("go.layout", "l", "Layout", "app.go('layout')",
        explained="Choose where the pair will stand."),
    Command("go.meter", "m", "Meter", "app.go('meter')",
        explained="Choose the meter and the tolerance."),
    Command("go.live", "g", "Live", "app.go('live')",
        explained="Measure and nudge."),
    Command("go.listen", "e", "Listen", "app.go('listen')",
        explained="Grade this position."),
    Command("go.marks", "v", "Marks", "app.go('marks')",
        explained="Save this position."),
    Command("dim", "ctrl+d", "Dim", "dim", EVENING | _LIVE, typing=True,
        explained="Show only what is needed, large and dim. Press again to show everything."),
    Command("help", "question_mark,f1", "Help", "app.help", EVERYWHERE | ASIDES,
        explained="Open or close this page."),
    Command("quit", "q,ctrl+q", "Quit", "app.quit", EVERYWHERE | ASIDES,
        explained="Leave the program. Everything complete is saved."),
)
# fmt: on

_TO_STEPS = "go."
"""Keys that the step strip prints."""
_SPARE: dict[Place, tuple[str, ...]] = {
    Step.LIVE: ("alike.",),
    **dict.fromkeys(EVENING | FORMS - _ROOM, ("alike.", "put_back.")),
}
"""What leads away from a place, where no third line of the key bar is begun for it."""


def is_spare(place: object, id_: str | None) -> bool:
    """Return whether a place's key bar names a command only where there is room for it."""
    return isinstance(place, Step) and bool(id_) and str(id_).startswith(_SPARE.get(place, ("?",)))


def commands_for(place: Place) -> list[Command]:
    """Return what can be done in a place, in the order of the key bar."""
    return [
        command
        for command in COMMANDS
        if place in command.places and command.action != f"app.go('{place}')"
    ]


def either_case(keys: str) -> str:
    """Return keys with each letter also as it comes with Shift, or with Caps Lock on."""
    cases = ((key, key.upper()) if len(key) == 1 else (key,) for key in keys.split(","))
    return ",".join(dict.fromkeys(key for case in cases for key in case))


def bindings_for(place: Place) -> list[BindingType]:
    """The key bindings of a place's screen. The step strip prints those that go to a step."""
    return [
        Binding(
            either_case(command.keys),
            command.action,
            "" if command.id.startswith(_TO_STEPS) and isinstance(place, Step) else command.label,
            priority=command.typing,
            tooltip=command.explained,
            id=command.id,
        )
        for command in commands_for(place)
    ]


def act_words() -> dict[Act | Onward, ActWords]:
    """Each decision by the words of its key."""
    from witnessmark.model import Onward  # noqa: PLC0415
    from witnessmark.phone.state import ACTS, ActWords  # noqa: PLC0415

    keys = {command.action: command for command in COMMANDS}
    onward = {
        Onward.MOVE_LEFT: "match('left')",
        Onward.MOVE_RIGHT: "match('right')",
        Onward.PUT_BACK: "app.put_back",
    }
    named = {
        act: keys[onward[act] if isinstance(act, Onward) else f"decide('{act}')"] for act in ACTS
    }
    return {act: ActWords(key.label, key.explained) for act, key in named.items()}


_SPOKEN = {
    "number_sign": "#",
    "equals_sign": "=",
    "question_mark": "?",
    "escape": "Esc",
    "ctrl": "Ctrl",
    "enter": "Enter",
    "space": "Space",
    "backspace": "Backspace",
    "pagedown": "PgDn",
    "pageup": "PgUp",
    "left": "←",
    "right": "→",
}


def key_to(step: Step) -> str:
    """Return the letter that goes to a step."""
    return next(one.keys for one in COMMANDS if one.action == f"app.go('{step}')")


def spoken_keys(keys: str) -> str:
    """Keys as they are printed for a person: ``ctrl+n`` is ``Ctrl+N``."""
    return " or ".join(_spoken_key(key) for key in keys.split(","))


def _spoken_key(key: str) -> str:
    if key in _SPOKEN or "+" not in key:
        return _SPOKEN.get(key, key.upper() if len(key) > 1 else key)
    modifier, letter = key.split("+")
    return f"{_SPOKEN[modifier]}+{letter.upper()}"
