"""A form: rows bound to the fields of a record, and the widget in which a person fills them in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, TypeVar

import msgspec
from textual import on
from textual.containers import Vertical
from textual.message import Message

from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field
from witnessmark.app.forms.numbers import LengthInput
from witnessmark.app.forms.row_kinds import ChoiceRow, LengthRow, Options, Row, Values, given
from witnessmark.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Iterator

    from textual.app import ComposeResult

    from witnessmark.lengths import Units
    from witnessmark.model.limits import Limit

R = TypeVar("R", bound=msgspec.Struct)


class Form(Generic[R]):
    """Rows for fields of one kind of record; the other fields are none of its business."""

    def __init__(self, record: type[R], *rows: Row) -> None:
        """Each row is named as a field of the record."""
        self.record = record
        self.rows = {row.name: row for row in rows}

    def values(self, record: R | None) -> dict[str, Any]:
        """Return what the rows hold for a record; without one, what a new one begins with."""
        if record is not None:
            return {name: row.shown(getattr(record, name)) for name, row in self.rows.items()}
        begins = {one.name: one.default for one in msgspec.structs.fields(self.record)}
        return {
            name: row.begins if begins[name] is msgspec.NODEFAULT else row.shown(begins[name])
            for name, row in self.rows.items()
        }

    def limit(self, name: str) -> Limit | None:
        """Return the permitted range of a field, where the record has one."""
        limits: dict[str, Limit] = getattr(self.record, "LIMITS", {})
        return limits.get(name)


class FormView(Vertical, Generic[R]):
    """A form on the screen. A row appears, and is called, as what the others hold asks for it."""

    DEFAULT_CSS = """
    FormView { height: auto; }
    """

    @dataclass
    class Changed(Message):
        """A person changed the row of this ``name``."""

        form: FormView[Any]
        name: str

        @property
        def control(self) -> FormView[Any]:
            return self.form

    def __init__(
        self,
        form: Form[R],
        units: Units,
        record: R | None = None,
        *,
        prefix: str = "",
        id: str | None = None,
    ) -> None:
        """``prefix`` stands before the ids of the fields where a screen has such a form twice."""
        super().__init__(id=id)
        self.form, self.units = form, units
        self._base = record
        values = form.values(record)
        self._widgets = {
            name: row.widget(values, f"{prefix}{row.key}", units, form.limit(name))
            for name, row in form.rows.items()
        }
        self._show_rows(values)

    def compose(self) -> ComposeResult:
        yield from self._widgets.values()

    # --- what it holds

    @property
    def values(self) -> dict[str, Any]:
        """What each row holds; None where it is empty or wrong."""
        return {name: widget.value for name, widget in self._widgets.items()}

    def changes_from(self, usual: R) -> list[str]:
        """Return in words what each row holds that is not what it holds for a usual record."""
        values = self.form.values(usual)
        return [
            f"{widget.label.strip().lower()} {widget.in_words}"
            for name, widget in self._widgets.items()
            if widget.value not in (None, values[name])
        ]

    @property
    def record(self) -> R:
        """The record that was put, or a new one, with what the rows hold.

        Raises:
            BadInput: as ``applied_to`` does.
        """
        return self.applied_to(self._base)

    def applied_to(self, record: R | None) -> R:
        """Return a record with what the rows hold; without one, a new one.

        What is put away and holds nothing stays as it is there.

        Raises:
            BadInput: naming the row that is empty or wrong, or saying what does not fit together.
        """
        values: dict[str, Any] = {}
        for name, widget in self._widgets.items():
            if isinstance(widget, Field) and widget.value is None:
                if not widget.display:
                    continue
                if not widget.is_settled:
                    why = widget.problem or widget.empty_problem
                    raise BadInput(f"{widget.label.strip()}: {why}")
            values[name] = self.form.rows[name].held(widget.value)
        if record is None:
            return self.form.record(**values)
        return msgspec.structs.replace(record, **values)

    def put(self, record: R | None) -> None:
        """Show a record without posting ``Changed``; ``record`` is a change of it from now on."""
        self._base = record
        self.fill(**self.form.values(record))

    def fill(self, **values: object) -> None:
        """Show values of single rows without posting ``Changed``."""
        for name, value in values.items():
            widget, shown = self._widgets[name], self.form.rows[name].shown(value)
            if isinstance(widget, Field):
                widget.put(shown)
            else:
                widget.value = shown
        self._arrange()

    def offer(self, name: str, options: Options, value: object) -> None:
        """Exchange the options of a choice that follow from elsewhere than the form."""
        self._choice(name).offer(options, value)
        self._arrange()

    def clear(self) -> None:
        """Empty all fields; choices stay as they are."""
        self._base = None
        self.fill(**{name: None for name, one in self._widgets.items() if isinstance(one, Field)})

    def show_in(self, units: Units) -> None:
        """Show the same lengths in other units."""
        self.units = units
        for name, row in self.form.rows.items():
            widget = self._widgets[name]
            if isinstance(row, LengthRow) and isinstance(widget, LengthInput):
                widget.show_in(row.units(units))

    # --- where somebody is in it

    @property
    def open_fields(self) -> list[Field[Any]]:
        """The fields on the screen that need something."""
        return [field for field in self._fields() if field.is_shown and not field.is_settled]

    @property
    def current(self) -> Row | None:
        """The row that has the cursor."""
        here = (name for name, widget in self._widgets.items() if widget.has_focus_within)
        return self.form.rows.get(next(here, ""))

    def go_to(self, name: str | None = None) -> None:
        """Put the cursor into a row, or into the first one."""
        self._widgets[name or next(iter(self._widgets))].focus()

    def go_to_field(self) -> None:
        """Put the cursor into the first row in which something is typed."""
        next(self._fields()).focus()

    def field(self, name: str) -> Field[Any]:
        """Return the field of a row, for what no form foresees.

        Raises:
            TypeError: when the row is a choice.
        """
        widget = self._widgets[name]
        if not isinstance(widget, Field):
            raise TypeError(f"{name} is no field")
        return widget

    # --- how it is kept up

    def on_mount(self) -> None:
        self._arrange()

    @on(Field.Changed)
    @on(Choice.Changed)
    def _hand_on(self, event: Field.Changed | Choice.Changed) -> None:
        event.stop()
        name = next(name for name, widget in self._widgets.items() if widget is event.control)
        self._arrange()
        self.post_message(self.Changed(self, name))

    def _arrange(self) -> None:
        """Have every row offer, say and show what follows from what the form holds."""
        for name, row in self.form.rows.items():
            if isinstance(row, ChoiceRow) and callable(row.options):
                choice, options = self._choice(name), tuple(row.options(self.values))
                offered = [value for value, _ in options]
                if offered and choice.value not in offered:
                    choice.value = offered[0]
                if options != choice.options:
                    choice.offer(options, choice.value)
        values = self.values
        for name, row in self.form.rows.items():
            self._widgets[name].ask_for(given(row.label, values), given(row.hint, values))
        self._show_rows(values)

    def _show_rows(self, values: Values) -> None:
        for name, row in self.form.rows.items():
            widget = self._widgets[name]
            is_single = isinstance(widget, Choice) and len(widget.options) < 2
            hidden = is_single and isinstance(row, ChoiceRow) and row.hides_single
            widget.display = not hidden and given(row.shown_if, values)

    def _fields(self) -> Iterator[Field[Any]]:
        return (widget for widget in self._widgets.values() if isinstance(widget, Field))

    def _choice(self, name: str) -> Choice[Any]:
        widget = self._widgets[name]
        if not isinstance(widget, Choice):
            raise TypeError(f"{name} is no choice")
        return widget
