"""The meter, what it is good for, and how close is close enough: the fourth step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.message import Message
from textual.widgets import OptionList, Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.form import FormView
from witnessmark.app.forms.meter import (
    EDGE,
    ERRORS,
    HOLDING,
    NO_PROFILE,
    REACH,
    SPOTS,
    TOLERANCE,
    Holding,
    Reach,
)
from witnessmark.app.screens import make_screen
from witnessmark.app.screens.form import StepScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.plain import Plain, PlainOptions
from witnessmark.app.widgets.shot_advice import ShotAdvice
from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.port import FoundMeter
from witnessmark.meters.profile_folder import load_profile
from witnessmark.model import Meter, Tolerance
from witnessmark.session.draft import Draft
from witnessmark.session.meter_options import profiles_for, with_profile, with_profile_step
from witnessmark.words.cautions import LASER
from witnessmark.words.rooms import not_offered_words, offered_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

    from witnessmark.session.workspace import Workspace


class MeterScreen(StepScreen):
    """Asks for the meter, how it is held, its errors and the tolerance; lists what is in reach."""

    STEP = Step.METER
    FOLDED = "the tolerance, the meter's errors, what it is held by, spot shots"
    BINDINGS = bindings_for(STEP)
    ADVICE = (
        "Choose a meter from the list. For a tape and the keyboard, choose typed:. The other "
        "figures fit a common meter."
    )
    DEFAULT_CSS = """
    MeterScreen #found { height: auto; max-height: 8; }
    MeterScreen #unseen { height: auto; margin-bottom: 1; color: $text-warning; }
    MeterScreen #aside { overflow-y: auto; }
    """

    @dataclass
    class Reached(Message):
        """The search is over; ``unseen`` says where it could not look, and why."""

        found: list[FoundMeter]
        unseen: list[str]

    def __init__(self) -> None:
        super().__init__()
        self.found: list[FoundMeter] = []
        self._unseen: list[str] = []
        self._reach: FormView[Reach]
        self._holding: FormView[Holding]
        self._edge: FormView[Meter]
        self._spots: FormView[Draft]
        self._errors: FormView[Meter]
        self._tolerance: FormView[Tolerance]

    def fields(self) -> ComposeResult:
        here, units = self.session.workspace, self.session.draft.units
        draft = here.draft
        self._reach = FormView(REACH, units, Reach(here.meter_address))
        self._holding = FormView(HOLDING, units, Holding.of(draft))
        self._edge = FormView(EDGE, units, draft.meter)
        self._spots = FormView(SPOTS, units, draft)
        self._errors = FormView(ERRORS, units, draft.meter)
        self._tolerance = FormView(TOLERANCE, units, draft.tolerance)
        yield self._reach
        yield self._holding
        yield self._edge
        yield self._spots
        yield self._errors
        yield self._tolerance
        yield self.more()

    def fold(self) -> None:
        super().fold()
        for form in (self._edge, self._spots, self._errors, self._tolerance):
            form.display = self.is_unfolded

    def changed_in_fold(self) -> Sequence[str]:
        usual = Draft()
        return (
            *self._edge.changes_from(usual.meter),
            *self._spots.changes_from(usual),
            *self._errors.changes_from(usual.meter),
            *self._tolerance.changes_from(usual.tolerance),
        )

    def aside(self) -> ComposeResult:
        yield Plain("Meters found:")
        yield PlainOptions(id="found")
        yield Plain(id="unseen")
        yield ShotAdvice()
        yield Plain(f"! Laser. {LASER}")

    def on_mount(self) -> None:
        self.fold()
        self._offer_options()
        self.query_one(ShotAdvice).ask(self.session.draft.setup)
        self.action_look()

    def apply(self) -> Sequence[str]:
        held, sweeps = self._holding.record.held
        draft = msgspec.structs.replace(
            self._spots.applied_to(self.session.draft),
            meter=self._edge.applied_to(self._errors.record),
            tolerance=self._tolerance.applied_to(self.session.draft.tolerance),
            held=held,
            sweeps=sweeps,
        )
        here = msgspec.structs.replace(self.session.workspace, draft=draft)
        self.session.workspace = here.using(self._address.text)
        self.query_one(ShotAdvice).ask(draft.setup)
        self._tell_unseen()
        return _complaints(self._address)

    @property
    def _address(self) -> Address:
        return Address.parse(self._reach.values["address"] or self.session.workspace.meter_address)

    def _put_address(self, address: str) -> None:
        self._reach.fill(address=address)
        self._offer_options()

    def _offer_options(self) -> None:
        """Offer the profiles and the units that go with the address."""
        address = self._address
        names = profiles_for(address).names
        chosen = address.options.get("profile", NO_PROFILE)
        offered = dict.fromkeys((NO_PROFILE, *names, chosen))
        self._reach.offer("profile", [(name, name or "automatic") for name in offered], chosen)
        self._reach.fill(unit=address.options.get("unit"))

    @on(FormView.Changed)
    def _change_address(self, event: FormView.Changed) -> None:
        match event.name:
            case "address":
                self._offer_options()
            case "profile":
                profile = self._reach.values["profile"]
                self._put_address(with_profile(self._address, profile).text)
                if not self.open_fields:
                    meter = self._edge.applied_to(self._errors.record)
                    self._errors.put(with_profile_step(meter, self._address))
            case "unit":
                unit = self._reach.values["unit"]
                self._put_address(self._address.with_options(unit=unit).text)

    def action_open(self, aside: str) -> None:
        if self.open_fields or self.problem:
            self.notify("First correct what is missing or wrong here.", severity="warning")
            return
        before = self.session.workspace
        self.app.push_screen(make_screen(Aside(aside)), lambda _: self._show_changes(before))

    def _show_changes(self, before: Workspace) -> None:
        meter, was = self.session.draft.meter, before.draft.meter
        if meter != was:
            self._errors.put(meter)
        if self.session.workspace.meter_address != before.meter_address:
            self._put_address(self.session.workspace.meter_address)
        self.take_over()

    def action_look(self) -> None:
        self._list([], "looking ...")
        self._unseen = []
        self._tell_unseen()
        self.run_worker(self._look(), name="look", exclusive=True)

    async def _look(self) -> None:
        unseen: list[str] = []
        found = await self.app.discover(unseen.append)
        self.post_message(self.Reached(found, unseen))

    @on(Reached)
    def _list_found(self, event: Reached) -> None:
        self._list(event.found, "none found; Ctrl+Y looks again")
        self._unseen = event.unseen
        self._tell_unseen()

    def _tell_unseen(self) -> None:
        here = self.session.workspace
        wrong = here.offered_meter and here.offered_address is None
        words = [not_offered_words(here.offered_meter)] if wrong else []
        told = self.query_one("#unseen", Static)
        told.update("\n".join(f"! {one}" for one in (*words, *self._unseen)))
        told.display = bool(words or self._unseen)

    def _list(self, found: list[FoundMeter], otherwise: str) -> None:
        offered = self.session.workspace.offered_address
        own = [FoundMeter(offered.text, offered_words(offered))] if offered else []
        self.found = [*own, *found]
        options = self.query_one("#found", OptionList)
        options.clear_options()
        lines = [f"{one.address}\n  {one.words}" for one in self.found]
        options.add_options([*lines, *([] if found else [otherwise])])
        options.disabled = not self.found
        options.highlighted = 0 if found and not offered else None

    @on(OptionList.OptionSelected, "#found")
    def _choose(self, event: OptionList.OptionSelected) -> None:
        if event.option_index >= len(self.found):  # the line that says that none was found
            return
        found = self.found[event.option_index].address
        if self._address.with_options(profile=None, unit=None).text != found:
            self._put_address(found)  # else it is this meter, with its format and unit
        self.session.workspace = self.session.workspace.without_wrong_offer
        self.take_over()


def _complaints(address: Address) -> list[str]:
    """What is wrong with the profiles from which one may be chosen, and with the one that is."""
    names, complaints = profiles_for(address)
    name = address.options.get("profile")
    if name is not None and name not in names and not complaints:
        try:
            load_profile(name)
        except BadInput as error:
            return [str(error)]
        return [f"profile {name} is not for this kind of meter"]
    return list(complaints)
