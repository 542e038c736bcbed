"""The kinds of row that a form may have, as data: each names a field of the form's record."""

from __future__ import annotations

import abc
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias, TypeVar

from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field
from witnessmark.app.forms.numbers import LengthInput, NumberInput
from witnessmark.app.forms.texts import TextInput
from witnessmark.lengths import Units
from witnessmark.model.limits import LENGTH, Limit, without_unit

Values = Mapping[str, Any]
"""What the rows of a form hold, by their names; None where one holds nothing."""
Options = Sequence[tuple[Any, str]]
"""What one may choose from: (value, words) each."""

V = TypeVar("V")
Given: TypeAlias = V | Callable[[Values], V]
"""What is always the same of a row, or follows from what the form holds."""


def given(what: Given[V], values: Values) -> V:
    """Return what it is while the form holds these values."""
    return what(values) if callable(what) else what


def when(name: str, *chosen: object) -> Callable[[Values], bool]:
    """Return whether another row holds one of these values, for ``shown_if``."""
    return lambda values: values[name] in chosen


@dataclass(frozen=True)
class Row(abc.ABC):
    """One line of a form: the field of the record that it is bound to, and what it is called.

    It holds what it ``begins`` with where a new record does not say that. ``hint`` is shown
    underneath while the person is there. The row is put away unless ``shown_if``.
    """

    name: str
    label: Given[str]
    hint: Given[str] = field(default="", kw_only=True)
    shown_if: Given[bool] = field(default=True, kw_only=True)
    begins: object = field(default=None, kw_only=True)

    def shown(self, value: object) -> object:
        """Return what the row holds for a value of the record."""
        return value

    def held(self, value: object) -> object:
        """Return the value of the record for what the row holds."""
        return value

    @property
    def key(self) -> str:
        """The id of its widget: its name without the unit, ``toe-in`` for ``toe_in_deg``."""
        return without_unit(self.name).replace("_", "-")

    @abc.abstractmethod
    def widget(
        self, values: Values, key: str, units: Units, limit: Limit | None
    ) -> Field[Any] | Choice[Any]:
        """Return a widget that holds what the values say.

        ``limit`` is that of the record's field, where it has one; lengths are shown in ``units``.
        """


@dataclass(frozen=True)
class FieldRow(Row):
    """A row in which something is typed; one that is ``optional`` may stay empty.

    The record holds ``empty`` then.
    """

    optional: bool = field(default=False, kw_only=True)
    empty: object = field(default=None, kw_only=True)

    def shown(self, value: object) -> object:
        """Return None for what the record holds of an empty row."""
        return None if value == self.empty else value

    def held(self, value: object) -> object:
        """Return what the record holds of an empty row for None."""
        return self.empty if value is None else value


@dataclass(frozen=True)
class LengthRow(FieldRow):
    """A length; ``is_fine`` where it is small or measured, and shown in a finer step.

    A figure of a meter ``is_figure``: tenths of a millimetre, or thousandths of an inch.
    """

    limit: Limit | None = field(default=None, kw_only=True)
    is_fine: bool = field(default=False, kw_only=True)
    is_figure: bool = field(default=False, kw_only=True)

    def units(self, shown_in: Units) -> Units:
        """Return the units of the row where lengths in general are ``shown_in`` some."""
        return shown_in.finer if self.is_fine or self.is_figure else shown_in

    def widget(self, values: Values, key: str, units: Units, limit: Limit | None) -> LengthInput:
        return LengthInput(
            given(self.label, values),
            values[self.name],
            units=self.units(units),
            limit=self.limit or limit or LENGTH,
            hint=given(self.hint, values),
            optional=self.optional,
            is_figure=self.is_figure,
            id=key,
        )


@dataclass(frozen=True)
class NumberRow(FieldRow):
    """A number, which is in the unit of its limit."""

    limit: Limit | None = field(default=None, kw_only=True)

    def widget(self, values: Values, key: str, units: Units, limit: Limit | None) -> NumberInput:
        """Return a field for a number.

        Raises:
            TypeError: when there is no limit, and so no unit.
        """
        limit = self.limit or limit
        if limit is None:
            raise TypeError(f"{self.name}: a number needs a limit, which has its unit")
        return NumberInput(
            given(self.label, values),
            values[self.name],
            limit=limit,
            hint=given(self.hint, values),
            optional=self.optional,
            id=key,
        )


@dataclass(frozen=True)
class TextRow(FieldRow):
    """A text, or what a kind of field ``reads`` from one: a thread, an address, a name."""

    reads: Callable[..., Field[Any]] = field(default=TextInput, kw_only=True)

    def widget(self, values: Values, key: str, units: Units, limit: Limit | None) -> Field[Any]:
        return self.reads(
            given(self.label, values),
            values[self.name],
            hint=given(self.hint, values),
            optional=self.optional,
            id=key,
        )


@dataclass(frozen=True)
class ChoiceRow(Row):
    """One of a few; with ``hides_single`` it is put away while there is only one to choose."""

    options: Given[Options] = ()
    hides_single: bool = field(default=False, kw_only=True)

    def widget(self, values: Values, key: str, units: Units, limit: Limit | None) -> Choice[Any]:
        return Choice(
            given(self.label, values),
            given(self.options, values),
            values[self.name],
            hint=given(self.hint, values),
            id=key,
        )
