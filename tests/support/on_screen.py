"""How a test gets a page onto a phone's screen, and what it waits for there."""

from __future__ import annotations

import json

from browser import Phone
from served import Served

FRESH = "!document.body.classList.contains('stale')"


def shows(name: str, text: str) -> str:
    """Return an expression that is true once an element shows just that."""
    return f"document.getElementById('{name}').textContent === {json.dumps(text)}"


async def scan(phone: Phone, served: Served) -> None:
    """Go where the code on the computer's screen leads."""
    await phone.open(served.server.url)
    await phone.until(FRESH)
