"""Waiting for a thing to happen, however long a busy machine takes."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Final

HUNG_S: Final = 60.0
"""No test that goes well waits so long for one thing: it only ends a test that hangs."""


async def until(happened: Callable[[], object]) -> None:
    """Let the loop turn until something has happened."""
    async with asyncio.timeout(HUNG_S):
        while not happened():
            await asyncio.sleep(0.002)
