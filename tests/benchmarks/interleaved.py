"""Timing two or more ways of doing the same thing in one run, turn by turn."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Mapping


def medians_us(
    ways: Mapping[str, Callable[[], object]],
    *,
    turns: int = 200,
    calls: int = 20,
    clock: Callable[[], int] = time.perf_counter_ns,
) -> dict[str, float]:
    """Median time of one call of each way, microseconds.

    The ways take turns of a few calls each, so that whatever else the machine does meanwhile falls
    on all of them. The first tenth of the turns only warms up. With ``time.thread_time_ns`` as
    ``clock`` what the machine gives to others in the middle of a turn does not count.
    """
    spent: dict[str, list[float]] = {name: [] for name in ways}
    for turn in range(turns + turns // 10):
        for name, way in ways.items():
            begin = clock()
            for _ in range(calls):
                way()
            if turn >= turns // 10:
                spent[name].append((clock() - begin) / calls)
    return {name: statistics.median(times) / 1e3 for name, times in spent.items()}
