"""Keys that are alike in many places: leaving, scrolling, going from step to step."""

from __future__ import annotations

from witnessmark.app.keys.command import Command
from witnessmark.app.steps import ASIDES, EVENING, EVERYWHERE, FORMS, Step

AROUND_COMMANDS = (
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
        FORMS | EVENING,
    ),
    Command(
        "form.down",
        "pagedown",
        "More",
        "Scroll the form on.",
        "scroll_form(1)",
        FORMS | EVENING | ASIDES,
        typing=True,
    ),
    Command(
        "form.up",
        "pageup",
        "",
        "Scroll the form back.",
        "scroll_form(-1)",
        FORMS | EVENING | ASIDES,
        typing=True,
    ),
)

GOING_COMMANDS = (
    Command("go.room", "r", "Room", "The room, the seat and the units.", "app.go('room')"),
    Command("go.cabinets", "c", "Cabinets", "The cabinets' sizes.", "app.go('cabinets')"),
    Command("go.layout", "l", "Layout", "Where the pair is to stand.", "app.go('layout')"),
    Command("go.meter", "m", "Meter", "The meter and the tolerance.", "app.go('meter')"),
    Command("go.live", "g", "Live", "Measure and nudge.", "app.go('live')"),
    Command("go.listen", "e", "Listen", "Tell what is heard, and go on.", "app.go('listen')"),
    Command("go.marks", "v", "Marks", "Keep where the pair stands.", "app.go('marks')"),
    Command(
        "dim",
        "ctrl+d",
        "Dim",
        "Dimmed: only what is needed, large and dim; or all of it again.",
        "dim",
        EVENING | {Step.LIVE},
        typing=True,
    ),
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
