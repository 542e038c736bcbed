"""The forms of a cabinet: its size, what goes beyond the plain box, and where it is to stand."""

from __future__ import annotations

from witnessmark.app.forms.form import Form
from witnessmark.app.forms.row_kinds import LengthRow, NumberRow, TextRow
from witnessmark.app.forms.texts import ThreadInput
from witnessmark.model import Cabinet, Placement, Side


def sizes(side: Side) -> Form[Cabinet]:
    """Return the form for a cabinet's size; the left one's is that of both while they are alike."""

    def called(words: str) -> str:
        return words.capitalize() if side is Side.LEFT else f"Right {words}"

    return Form(
        Cabinet,
        LengthRow("width_mm", called("width"), hint="Across the baffle's lower front edge."),
        LengthRow(
            "depth_mm", called("depth"), hint="From the baffle to the rear face, without plugs."
        ),
        LengthRow(
            "acoustic_height_mm",
            called("acoustic height"),
            optional=True,
            hint="Floor to the point that your ears should be level with, often the tweeter.",
        ),
    )


DETAILS = Form(
    Cabinet,
    LengthRow(
        "straightedge_mm",
        "Straightedge",
        optional=True,
        hint="Its length. Held across the baffle, it lengthens the base for toe-in.",
    ),
    TextRow(
        "thread",
        "Thread of spikes",
        reads=ThreadInput,
        optional=True,
        hint="M8, M8x1, 1/4-20: how far one turn of a spike goes.",
    ),
)


def placement(side: Side) -> Form[Placement]:
    """Return the form for where a cabinet is to stand."""
    name = side.capitalize()
    return Form(
        Placement,
        LengthRow(
            "side_mm",
            f"{name}, side wall",
            hint="To the middle of the baffle's lower front edge, square to the wall.",
        ),
        LengthRow(
            "setback_mm",
            f"{name}, front wall",
            hint="To the middle of the baffle's lower front edge.",
        ),
        NumberRow(
            "toe_in_deg",
            f"{name}, toe-in",
            hint="Positive turns the baffle toward the other cabinet; 0 faces straight ahead.",
        ),
    )
