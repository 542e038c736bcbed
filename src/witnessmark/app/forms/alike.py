"""The form of the shortest start: a cabinet's size, and the room's width where it is known."""

from __future__ import annotations

from witnessmark.app.forms.form import Form
from witnessmark.app.forms.row_kinds import LengthRow
from witnessmark.session.alike import PairSize


def pair_size(*, room_is_known: bool) -> Form[PairSize]:
    """Return the form; a room that was measured is not asked for."""
    return Form(
        PairSize,
        LengthRow("width_mm", "Cabinet width", hint="Across the baffle's lower front edge."),
        LengthRow("depth_mm", "Cabinet depth", hint="From the baffle to the rear face."),
        LengthRow(
            "room_width_mm",
            "Room width",
            optional=True,
            hint="Along the front wall. Without it: which differs from which, not from the middle.",
            shown_if=not room_is_known,
        ),
    )
