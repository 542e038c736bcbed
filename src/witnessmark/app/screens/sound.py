"""What the room does to the sound of the pair as it stands: sentences, and the plan beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content
from textual.widgets import Static

from witnessmark.acoustics.figures import room_sound
from witnessmark.acoustics.scene import Scene
from witnessmark.app.commands import bindings_for
from witnessmark.app.screens.form import FollowingScreen
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.plain import Plain
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.drawing.standing import standing_plan
from witnessmark.errors import BadInput
from witnessmark.sentences import refusal
from witnessmark.words.sound import Passage, sound_words

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from witnessmark.placing.guidance import Guidance


class SoundScreen(FollowingScreen):
    """Figures in sentences of the pair as it is measured; they scroll."""

    STEP = Aside.SOUND
    ADVICE = "Calculated for the pair as it stands now. Your ears decide what is good."
    BINDINGS = bindings_for(STEP)
    DEFAULT_CSS = """
    SoundScreen #form { width: 80; max-width: 100%; }
    """

    def fields(self) -> ComposeResult:
        yield Plain(id="sentences")

    def aside(self) -> ComposeResult:
        yield PlanView(id="plan")

    def on_mount(self) -> None:
        """Tell what there is to tell of the round; the arrow keys scroll it."""
        form = self.query_one("#form")
        form.can_focus = True
        form.focus()
        if self.session.guidance is None:
            self.tell("The round has not begun yet.")
        else:
            self.show_standing(self.session.guidance)

    def show_standing(self, guidance: Guidance) -> None:
        self.query_one(PlanView).show(*standing_plan(guidance.setup, guidance.cabinets))
        try:
            self.query_one("#sentences", Static).update(_sentences(guidance))
        except BadInput as error:
            self.tell(refusal(error), wrong=True)
        else:
            self.tell("")


def _sentences(guidance: Guidance) -> Content:
    scene = Scene.of(guidance.setup, guidance.measured)
    sound = room_sound(scene, guidance.symmetry)
    passages = sound_words(scene, sound, guidance.setup.units)
    return Content("\n\n").join([_passage(one) for one in passages if one.sentences])


def _passage(passage: Passage) -> Content:
    heading = Content.assemble((passage.heading, "bold $accent"))
    sentences = [Content(f"· {sentence}") for sentence in passage.sentences]
    return Content("\n").join([heading, *sentences])
