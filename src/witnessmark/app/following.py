"""How a screen follows the session, and waits until what listens has ended."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.message import Message
from textual.worker import WorkerError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from textual.app import App
    from textual.dom import DOMNode
    from textual.widget import Widget
    from textual.worker import Worker

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


def is_going(screen: DOMNode) -> bool:
    """Return whether a screen is being taken down: what happens cannot be shown on it any more.

    As the app ends, one that is not on top loses its parts before it is told.
    """
    return not screen.display or not screen.app.is_running


async def stop_group(node: DOMNode, group: str) -> None:
    """Cancel a node's workers of one group and wait for their end."""
    await _ended(node.workers.cancel_group(node, group))


async def stop_everywhere(app: App[None], group: str) -> None:
    """Cancel the workers of one group on every screen and wait for their end."""
    workers = [worker for worker in app.workers if worker.group == group]
    for worker in workers:
        worker.cancel()
    await _ended(workers)


async def _ended(workers: Iterable[Worker[object]]) -> None:
    for worker in workers:
        with contextlib.suppress(WorkerError):
            await worker.wait()
