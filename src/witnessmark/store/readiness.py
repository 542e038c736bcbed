"""Whether a store can take what an evening brings, asked before the evening and not during it."""

from __future__ import annotations

import shutil

from witnessmark.store.store import Store
from witnessmark.store.store_errors import ELSEWHERE, explained

LEAST_FREE_BYTES = 50_000_000
"""With less on its disk a store is not trusted to last; an evening of readings takes far less."""


def readiness(store: Store) -> str | None:
    """Make sure that the store can be written, and say so where its disk is nearly full.

    Raises:
        StoreError: when it cannot be written; one sentence that says what to do.
    """
    store.write_nothing()
    with explained(store.path):
        free = shutil.disk_usage(store.path.parent).free
    if free >= LEAST_FREE_BYTES:
        return None
    return (
        f"{store.path}: only {free / 1e6:.0f} MB are left on this disk; free some space before the "
        f"evening, or {ELSEWHERE}"
    )
