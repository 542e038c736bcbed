"""Many rounds in a few processes, each known by its number alone."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from typing import TypeVar

_CHUNK = 50
"""Rounds that one process takes at a time."""

T = TypeVar("T")


def in_processes(one: Callable[[int], T], rounds: int, jobs: int) -> list[T]:
    """Return what ``one`` makes of each number below ``rounds``, in order.

    Args:
        one: can be pickled, and draws all of its chance from the number, so that the outcomes are
            the same whatever the number of processes.
        rounds: how many.
        jobs: processes; with 1 all is done in this one.
    """
    if jobs == 1:
        return [one(number) for number in range(rounds)]
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(one, range(rounds), chunksize=_CHUNK))


def shared_out(total: int, weights: list[int]) -> list[int]:
    """Return whole shares of a total in proportion to weights; they add up to it."""
    ends = [total * part // sum(weights) for part in itertools.accumulate(weights)]
    return [end - start for start, end in itertools.pairwise([0, *ends])]
