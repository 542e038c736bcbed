"""Started by the tests: appends readings to a store and prints each one's id after its commit."""

import sys
from datetime import UTC, datetime
from pathlib import Path

from witnessmark.model import Reading
from witnessmark.store.store import Store

AT = datetime(2026, 5, 17, 9, 30, tzinfo=UTC)


def main(path: str, round_id: str, first: str, count: str) -> None:
    """Append ``count`` readings to a round, counting their distances up from ``first``."""
    with Store.open(Path(path)) as store:
        for distance in range(int(first), int(first) + int(count)):
            id_ = store.append(int(round_id), Reading(distance, AT, "sim:"))
            print(id_, distance, flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
