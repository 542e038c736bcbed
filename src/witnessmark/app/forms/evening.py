"""The forms of the evening: what is heard of a position, and what is kept with a mark."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import msgspec

from witnessmark.app.forms.form import Form
from witnessmark.app.forms.row_kinds import ChoiceRow, FieldRow, TextRow
from witnessmark.app.forms.texts import SpikeTurnsInput
from witnessmark.model import Cabinet, Impression, Mark, Pair, Side

HEARD = Form(
    Impression,
    TextRow("words", "In words", optional=True, empty=""),
    TextRow("track", "Track", optional=True, empty=""),
    TextRow(
        "level",
        "Level",
        optional=True,
        empty="",
        hint="The same all evening: the volume setting, or dB(A) at the seat.",
    ),
    ChoiceRow("best", "Best so far", options=[(False, "no"), (True, "yes")]),
)


class MarkAnswers(msgspec.Struct, frozen=True):
    """What a person says of a mark that is made."""

    name: str
    notes: str = ""
    left_spikes: dict[str, float] = {}
    right_spikes: dict[str, float] = {}
    supersedes: str | None = None

    def on(self, mark: Mark) -> Mark:
        """Return a mark of this name with what was said of it.

        Raises:
            BadInput: when it cannot be said of it.
        """
        return msgspec.structs.replace(
            mark,
            notes=self.notes.strip(),
            spike_turns=Pair(self.left_spikes, self.right_spikes),
            supersedes=self.supersedes,
        )


def mark_form(cabinets: Pair[Cabinet]) -> Form[MarkAnswers]:
    """Return the form for a mark of these cabinets; spikes are asked for where there are any."""
    return Form(
        MarkAnswers,
        TextRow("name", "Name", hint="Your own name for it, such as before the cleaning."),
        TextRow(
            "notes", "Notes", optional=True, empty="", hint=("Anything that helps another day.")
        ),
        *_spikes(cabinets),
        ChoiceRow(
            "supersedes",
            "Replaces",
            options=[(None, "none")],
            hint="The old mark is kept; the new one is noted as replacing it.",
        ),
    )


def _spikes(cabinets: Pair[Cabinet]) -> Iterator[FieldRow]:
    for side in Side:
        if cabinets[side].thread is not None:
            feet = list(cabinets[side].standing_points)
            yield TextRow(
                f"{side}_spikes",
                f"{side.capitalize()} spikes",
                reads=partial(SpikeTurnsInput, feet=feet),
                optional=True,
                empty={},
                hint=f"Turns out of each, such as {feet[0]} 3. Feet: {', '.join(feet)}.",
            )
