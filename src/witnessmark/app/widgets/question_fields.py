"""How a meter is asked that waits for it: the request, and over Bluetooth where it is written."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from textual.containers import Vertical

from witnessmark.app.forms.texts import RequestInput, UuidInput
from witnessmark.errors import BadInput
from witnessmark.meters.capture import Question

if TYPE_CHECKING:
    from textual.app import ComposeResult

_REQUEST: Final = r'For a meter that is asked, as in a profile: take\r\n or bytes = "10 01".'
_WRITTEN_TO: Final = "Where it is written, if several characteristics can be: a UUID."


class QuestionFields(Vertical):
    """Both fields, which may stay empty."""

    DEFAULT_CSS = "QuestionFields { height: auto; }"

    def __init__(self, *, over_bluetooth: bool, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self._over_bluetooth = over_bluetooth

    def compose(self) -> ComposeResult:
        """The request, and the characteristic where there are such."""
        yield RequestInput("Request", hint=_REQUEST, optional=True, id="request")
        if self._over_bluetooth:
            yield UuidInput("Written to", hint=_WRITTEN_TO, optional=True, id="characteristic")

    @property
    def is_empty(self) -> bool:
        """Whether the meter is not asked at all."""
        request = self.query_one(RequestInput)
        return request.value is None and request.problem is None

    @property
    def question(self) -> Question | None:
        """By what the meter is asked; None: by nothing.

        Raises:
            BadInput: when a field is wrong.
        """
        fields = [self.query_one(RequestInput), *self.query(UuidInput)]
        if wrong := next((field.problem for field in fields if field.problem), None):
            raise BadInput(wrong)
        request, uuid = fields[0].value, fields[1].value if self._over_bluetooth else None
        return None if request is None else Question(request, uuid)
