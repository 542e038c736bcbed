"""What the tests of the phone share: a browser, and a server that is stopped in the end."""

from __future__ import annotations

from collections.abc import AsyncGenerator, Generator
from contextlib import closing
from typing import TYPE_CHECKING

import pytest
from served import Serve, Served

from witnessmark.phone.admission import Limits

if TYPE_CHECKING:
    from browser import Phone


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Generator[Phone, None, None]:
    """One browser for all, as it takes a while to start."""
    from browser import Phone  # noqa: PLC0415

    with closing(Phone(tmp_path_factory.mktemp("profile"))) as phone:
        yield phone


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
