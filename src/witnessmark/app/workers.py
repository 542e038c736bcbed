"""Stopping workers, and waiting until what they had open is closed."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from textual.worker import WorkerError

if TYPE_CHECKING:
    from textual.dom import DOMNode


async def stop_group(node: DOMNode, group: str) -> None:
    """Cancel a node's workers of one group and wait for their end."""
    for worker in node.workers.cancel_group(node, group):
        with contextlib.suppress(WorkerError):
            await worker.wait()
