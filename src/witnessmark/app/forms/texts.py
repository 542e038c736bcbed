"""Fields for words."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from witnessmark.app.forms.field import Field
from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.model import pitch_mm
from witnessmark.sentences import listed
from witnessmark.session.cabinet_details import point_name
from witnessmark.words.marks import turns_words

if TYPE_CHECKING:
    from witnessmark.meters.profile import Request
    from witnessmark.meters.profile_values import Uuid

_ONE = re.compile(r"(?P<foot>.+?)[\s:=]+(?P<turns>[-+]?[\d.]+)")
MOST_TURNS = 200
"""More than any spike has thread."""


class TextInput(Field[str]):
    """Any text, as it is typed."""

    def read(self, text: str) -> tuple[str, str | None]:
        """Return the text itself."""
        return text, None

    def write(self, value: str) -> str:
        """Return the text itself."""
        return value


class RoomNameInput(TextInput):
    """The name of a room, with a note where it is that of one of the ``others``."""

    others: frozenset[str] = frozenset()

    def read(self, text: str) -> tuple[str, str | None]:
        """Return the name itself, and a note on it."""
        there = "there is a room of this name: what is measured and kept here goes to that"
        return text, there if text in self.others else None


class AddressInput(TextInput):
    """A meter's address, such as ``typed:`` or ``serial:PORT``."""

    def read(self, text: str) -> tuple[str, str | None]:
        """Return the address, if it is one."""
        return Address.parse(text).text, None


class ProfileNameInput(TextInput):
    """The name under which a profile is to be kept."""

    def read(self, text: str) -> tuple[str, str | None]:
        """Return the name, if it can be one, and a note where there is one of that name."""
        from witnessmark.meters.profile_folder import (  # noqa: PLC0415
            check_profile_name,
            known_profiles,
        )

        check_profile_name(text)
        there = text in known_profiles()
        return text, f"it takes the place of the {text} that there is" if there else None


class PointNameInput(TextInput):
    """The name of a touch point or of a foot."""

    def read(self, text: str) -> tuple[str, str | None]:
        """Return the name, if it can be one, as it is written everywhere."""
        return point_name(text), None


class ThreadInput(TextInput):
    """The thread of a cabinet's spikes."""

    def read(self, text: str) -> tuple[str, str | None]:
        """Return the thread, if it is one that is known."""
        pitch_mm(text)
        return text, None


class RequestInput(Field["Request"]):
    """What makes a meter measure that waits to be asked, written as in a profile."""

    def read(self, text: str) -> tuple[Request, str | None]:
        """Return the request, and a note where it may have been meant otherwise."""
        from witnessmark.meters.request_line import doubt_about, read_request  # noqa: PLC0415

        request = read_request(text)
        return request, doubt_about(request)

    def write(self, value: Request) -> str:
        """Return the request in one line."""
        from witnessmark.meters.request_line import write_request  # noqa: PLC0415

        return write_request(value)


class UuidInput(Field["Uuid"]):
    """The UUID of a Bluetooth characteristic."""

    def read(self, text: str) -> tuple[Uuid, str | None]:
        """Return the UUID, in its long form."""
        from witnessmark.meters.profile_values import Uuid  # noqa: PLC0415

        return Uuid.read(text), None

    def write(self, value: Uuid) -> str:
        """Return the long form."""
        return str(value)


class SpikeTurnsInput(Field[dict[str, float]]):
    """Feet with their turns, such as ``front 3, rear 2.5``."""

    def __init__(
        self,
        label: str,
        value: dict[str, float] | None = None,
        *,
        feet: Sequence[str],
        hint: str = "",
        optional: bool = False,
        id: str | None = None,  # noqa: A002
    ) -> None:
        """``feet`` are those that the cabinet has, by name."""
        self.feet = feet
        super().__init__(label, value, hint=hint, optional=optional, id=id)

    def read(self, text: str) -> tuple[dict[str, float], str | None]:
        """Return the turns by foot."""
        return read_turns(text, self.feet), None

    def write(self, value: dict[str, float]) -> str:
        """Return the turns as they are typed."""
        return turns_words(value)


def read_turns(text: str, feet: Sequence[str]) -> dict[str, float]:
    """How many turns each spike is out, by the names of the cabinet's feet.

    Raises:
        BadInput: when a part is no foot with a number, there is no such foot, or one stands twice.
    """
    turns: dict[str, float] = {}
    for part in filter(None, (each.strip() for each in text.split(","))):
        foot, count = _one(part)
        if foot not in feet:
            raise BadInput(f'there is no foot "{foot}"; there are {listed(feet)}')
        if foot in turns:
            raise BadInput(f'"{foot}" stands there twice; tell each foot once')
        turns[foot] = count
    return turns


def _one(part: str) -> tuple[str, float]:
    match = _ONE.fullmatch(part)
    try:
        count = float(match["turns"]) if match else math.nan
    except ValueError:
        count = math.nan
    if match is None or not 0 <= count <= MOST_TURNS:
        raise BadInput(f'"{part}" is no foot with its turns; write it as front 2.5')
    return match["foot"], count
