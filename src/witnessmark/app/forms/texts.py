"""Fields for words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from witnessmark.app.forms.field import Field
from witnessmark.layout.start import read_seat, write_seat
from witnessmark.meters.address import Address
from witnessmark.meters.port import MeterUnreachable
from witnessmark.model import Seat, pitch_mm
from witnessmark.model.limits import LONGEST_NAME
from witnessmark.session.cabinet_details import point_name, read_turns, turns_words

if TYPE_CHECKING:
    from witnessmark.lengths import Units
    from witnessmark.meters.profile import Request
    from witnessmark.meters.profile_values import Uuid


class TextInput(Field[str]):
    """Any text, as it is typed."""

    def read(self, text: str) -> tuple[str, str | None]:
        return text, None

    def write(self, value: str) -> str:
        return value


class RoomNameInput(TextInput):
    """The name of a room, with a note where it is that of one of the ``others``."""

    longest = LONGEST_NAME
    others: frozenset[str] = frozenset()

    def read(self, text: str) -> tuple[str, str | None]:
        there = "a room of this name exists: what is measured here is saved in it"
        return text, there if text in self.others else None


class AddressInput(TextInput):
    """A meter's address, such as ``typed:`` or ``serial:PORT``, checked by its driver."""

    def read(self, text: str) -> tuple[str, str | None]:
        from witnessmark.meters.finding import open_driver  # noqa: PLC0415

        address = Address.parse(text)
        try:
            # whether the profile fits is said where profiles are chosen
            open_driver(address.with_options(profile=None).text)
        except MeterUnreachable as unreachable:
            return address.text, str(unreachable)
        return address.text, None


class ProfileNameInput(TextInput):
    """The name under which a profile is to be kept."""

    def read(self, text: str) -> tuple[str, str | None]:
        from witnessmark.meters.profile_folder import (  # noqa: PLC0415
            check_profile_name,
            known_profiles,
        )

        check_profile_name(text)
        there = text in known_profiles()
        return text, f"it replaces the existing {text}" if there else None


class PointNameInput(TextInput):
    """The name of a touch point or of a foot."""

    def read(self, text: str) -> tuple[str, str | None]:
        return point_name(text), None


class ThreadInput(TextInput):
    """The thread of a cabinet's spikes."""

    def read(self, text: str) -> tuple[str, str | None]:
        pitch_mm(text)
        return text, None


class RequestInput(Field["Request"]):
    """What makes a meter measure that waits to be asked, written as in a profile."""

    def read(self, text: str) -> tuple[Request, str | None]:
        from witnessmark.meters.request_line import doubt_about, read_request  # noqa: PLC0415

        request = read_request(text)
        return request, doubt_about(request)

    def write(self, value: Request) -> str:
        from witnessmark.meters.request_line import write_request  # noqa: PLC0415

        return write_request(value)


class UuidInput(Field["Uuid"]):
    """The UUID of a Bluetooth characteristic."""

    def read(self, text: str) -> tuple[Uuid, str | None]:
        from witnessmark.meters.profile_values import Uuid  # noqa: PLC0415

        return Uuid.read(text), None

    def write(self, value: Uuid) -> str:
        return str(value)


class SeatsInput(Field[tuple[Seat, ...]]):
    """Seats beside the one that counts, such as ``4.4m,1.9m,1.0m; 4.4m,3.1m,1.0m``."""

    def __init__(
        self,
        label: str,
        value: tuple[Seat, ...] | None = None,
        *,
        units: Units,
        hint: str = "",
        id: str | None = None,
    ) -> None:
        """``units`` are those in which they are shown."""
        self.units = units
        super().__init__(label, value, hint=hint, optional=True, id=id)

    def read(self, text: str) -> tuple[tuple[Seat, ...], str | None]:
        return tuple(read_seat(one.strip()) for one in text.split(";") if one.strip()), None

    def write(self, value: tuple[Seat, ...]) -> str:
        return "; ".join(write_seat(one, self.units) for one in value)


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
        id: str | None = None,
    ) -> None:
        """``feet`` are those that the cabinet has, by name."""
        self.feet = feet
        super().__init__(label, value, hint=hint, optional=optional, id=id)

    def read(self, text: str) -> tuple[dict[str, float], str | None]:
        return read_turns(text, self.feet), None

    def write(self, value: dict[str, float]) -> str:
        return turns_words(value)
