"""Started by the tests: a copy of the program without a screen, which reads what it is told to.

Prints which round it has, whether that was resumed and whether another copy has the one before,
then how many distances it has journaled. Each line of standard input is a distance.
"""

import asyncio
import sys
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from witnessmark.model import Reading
from witnessmark.session.events import Part, RoundBegun, SessionEvent
from witnessmark.session.session import Session
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store


async def main(path: str, now: str) -> None:
    """Go on with the round of the room that was saved last, or begin one, at ``now``."""
    at = datetime.fromisoformat(now).astimezone(UTC)
    store = Store.open(Path(path))
    workspace = msgspec.structs.replace(Workspace.saved_in(store), meter_address="typed:")
    session = Session(store, workspace, act_words=dict, clock=lambda: at)
    sent: list[SessionEvent] = []
    session.subscribe(Part.ROUND, sent.append)
    await session.resume()
    begun = next(event for event in sent if isinstance(event, RoundBegun))
    print(session.round_id, begun.resumed, begun.is_elsewhere, flush=True)
    count = 0
    while line := await asyncio.to_thread(sys.stdin.readline):
        await session.record(Reading(float(line), at, "typed:"))
        count += 1
        print(count, flush=True)
    await session.aclose()


if __name__ == "__main__":
    asyncio.run(main(*sys.argv[1:]))
