"""What the tests of the phone share: a server that is stopped in the end."""

from __future__ import annotations

from collections.abc import AsyncGenerator

import pytest
from served import Serve, Served

from witnessmark.phone.server import Limits


@pytest.fixture
async def serve() -> AsyncGenerator[Serve, None]:
    """Starts a server: ``served = await serve(Limits(phones=2))``."""
    started: list[Served] = []

    async def start(limits: Limits | None = None) -> Served:
        served = Served(limits)
        await served.start()
        started.append(served)
        return served

    yield start
    for served in started:
        await served.server.stop("The test is over.")
