"""Fields for words."""

from __future__ import annotations

from witnessmark.app.widgets.field import Field
from witnessmark.meters.address import Address


class TextInput(Field[str]):
    """Any text, as it is typed."""

    def read(self, text: str) -> tuple[str, str | None]:
        """The text itself."""
        return text, None

    def write(self, value: str) -> str:
        """The text itself."""
        return value


class AddressInput(TextInput):
    """A meter's address, such as ``typed:`` or ``serial:PORT``."""

    def read(self, text: str) -> tuple[str, str | None]:
        """The address, if it is one."""
        return Address.parse(text).text, None
