"""Started by the tests: a copy of the program that takes a round up, and reads what it is told to.

Prints which round it took, whether that was resumed and whether another copy has the one before,
then the number of each entry after its commit. Each line of standard input is a distance.
"""

import asyncio
import sys
from datetime import UTC, datetime
from pathlib import Path

from witnessmark.model import Reading
from witnessmark.session.resume import resume_or_begin
from witnessmark.store.journal import Journal
from witnessmark.store.store import Store


async def main(path: str, now: str) -> None:
    """Take up a round at ``now`` and journal readings until standard input ends."""
    at = datetime.fromisoformat(now).astimezone(UTC)
    async with Journal(Store.open(Path(path))) as journal:
        saved = await journal.run(Store.latest_setup)
        assert saved is not None
        taken = await resume_or_begin(journal, saved.name, saved.id, saved.setup, at)
        print(taken.round_id, taken.resumed, taken.is_elsewhere, flush=True)
        while line := await asyncio.to_thread(sys.stdin.readline):
            entry = Reading(float(line), at, "typed:")
            print(await journal.append(taken.round_id, entry), flush=True)


if __name__ == "__main__":
    asyncio.run(main(*sys.argv[1:]))
