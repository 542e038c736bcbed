"""Are left and right alike? The shortest start: two sizes, then the shots."""

from __future__ import annotations

from typing import TYPE_CHECKING

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.form import FormView
from witnessmark.app.forms.room import pair_size
from witnessmark.app.screens.form import AsideScreen
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.plain import Plain
from witnessmark.errors import BadInput
from witnessmark.sentences import refusal
from witnessmark.session.room_answers import PairSize

if TYPE_CHECKING:
    from textual.app import ComposeResult

_ABOUT = (
    "Four shots a cabinet, to its own side wall and to the front wall, tell how left and right "
    "differ. Nothing is to be moved before you have seen that; then you choose which one.\n"
    "Your targets, if you have any, are left aside; marks stay."
)


class AlikeScreen(AsideScreen):
    """Takes the sizes, and goes to the live screen, which compares the pair as they stand."""

    STEP = Aside.ALIKE
    BINDINGS = bindings_for(STEP)
    ADVICE = "Type the size of one cabinet, each with Enter. Then shoot."

    def __init__(self) -> None:
        super().__init__()
        self._form: FormView[PairSize]

    def fields(self) -> ComposeResult:
        """Width and depth of a cabinet, and the width of a room that was not measured."""
        draft = self.session.draft
        form = pair_size(room_is_known=draft.known_room is not None)
        self._form = FormView(form, draft.units, PairSize.of(draft))
        yield self._form

    def aside(self) -> ComposeResult:
        """Yield what comes of it."""
        yield Plain(_ABOUT)

    def on_mount(self) -> None:
        """Begin with the width."""
        self._form.go_to()

    def action_go_on(self) -> None:
        """Go to the next field while one is missing, else begin."""
        if self._form.open_fields:
            self.focus_next()
        else:
            self.action_begin()

    def action_begin(self) -> None:
        """Compare the pair as they stand, or point out what is missing."""
        missing = self._form.open_fields
        for field in missing:
            field.complain()
        if missing:
            missing[0].focus()
            self.app.bell()
            return
        try:
            draft = self._form.record.compared_as_they_stand(self.session.draft)
        except BadInput as error:
            self.tell(refusal(error), wrong=True)
            return
        self.dismiss()
        self.app.measure_for(draft)
