"""Stopping workers, and waiting until what they had open is closed."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from textual.worker import WorkerError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from textual.app import App
    from textual.dom import DOMNode
    from textual.worker import Worker


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
