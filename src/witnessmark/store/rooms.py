"""Which room is meant: the one that is named, or the one that was saved last."""

from __future__ import annotations

from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.store.store import Store


def room_named(store: Store, name: str | None = None) -> str:
    """The name of a room that there is something of; without one, the latest room's.

    The latest is what was saved last on this computer, or else imported last.

    Raises:
        BadInput: when there is no such room, naming those that there are.
    """
    rooms = [room.name for room in store.rooms()]
    if not rooms:
        raise BadInput(
            "no room was saved yet; the program saves one as it is entered, and witnessmark import "
            "brings one from another computer"
        )
    if name is None:
        latest = store.latest_setup()
        return rooms[0] if latest is None else latest.name
    if name not in rooms:
        there = ", ".join(f'"{room}"' for room in rooms)
        raise BadInput(printable(f'room: there is no "{name}" in the store; there are {there}'))
    return name
