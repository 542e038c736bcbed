"""What happens in the session, as a message to a screen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.message import Message

if TYPE_CHECKING:
    from textual.widget import Widget

    from witnessmark.session.events import Part, SessionEvent
    from witnessmark.session.session import Session


@dataclass
class Happened(Message):
    """Something happened in the session."""

    what: SessionEvent


def follow(session: Session, part: Part, line: Widget) -> Callable[[], None]:
    """Have a screen follow a part of the session; return what ends that.

    What happens is posted to the screen's line about the meter, whose digits are painted the
    soonest, and bubbles from there, so that nothing overtakes what came before it.
    """
    return session.subscribe(part, lambda event: line.post_message(Happened(event)))
