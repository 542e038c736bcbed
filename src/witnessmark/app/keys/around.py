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
        "Leave the field: letters are keys again. Tab goes back to the fields.",
        "leave_field",
        FORMS | EVENING,
    ),
    Command(
        "form.down",
        "pagedown",
        "More",
        "Scroll down.",
        "scroll_form(1)",
        FORMS | EVENING | ASIDES,
        typing=True,
    ),
    Command(
        "form.up",
        "pageup",
        "",
        "Scroll up.",
        "scroll_form(-1)",
        FORMS | EVENING | ASIDES,
        typing=True,
    ),
)

GOING_COMMANDS = (
    Command("go.room", "r", "Room", "Enter the room, the seat and the units.", "app.go('room')"),
    Command("go.cabinets", "c", "Cabinets", "Enter the cabinets' sizes.", "app.go('cabinets')"),
    Command("go.layout", "l", "Layout", "Choose where the pair is to stand.", "app.go('layout')"),
    Command("go.meter", "m", "Meter", "Choose the meter and the tolerance.", "app.go('meter')"),
    Command("go.live", "g", "Live", "Measure and nudge.", "app.go('live')"),
    Command("go.listen", "e", "Listen", "Grade this position.", "app.go('listen')"),
    Command("go.marks", "v", "Marks", "Save this position.", "app.go('marks')"),
    Command(
        "dim",
        "ctrl+d",
        "Dim",
        "Show only what is needed, large and dim. Press again to show everything.",
        "dim",
        EVENING | {Step.LIVE},
        typing=True,
    ),
    Command(
        "help",
        "question_mark,f1",
        "Help",
        "Open or close this page.",
        "app.help",
        EVERYWHERE | ASIDES,
    ),
    Command(
        "quit",
        "q,ctrl+q",
        "Quit",
        "Leave the program. All that is complete is saved.",
        "app.quit",
        EVERYWHERE | ASIDES,
    ),
)
