"""How honest the live round is with a person whose room, cabinets and readings are a little off.

Run with ``python tests/benchmarks/bench_live_honesty.py --rounds 20000 --jobs 2`` (about an hour on
two cores); without arguments 300 rounds are done. The rounds are shared out over the regimes, those
with all of the trouble get four times as many. The same rounds are drawn in every run.

All but the last seven figures are in %. never: not finished after 80 readings; in: both cabinets
called in; false: those of them in which a quantity of either is truly beyond tolerance, then by
which quantity; edge: the same as false, but side counted at the outer edge of the box, where it is
measured, so that a wrong width does not move it; cab.in, false: the same of cabinets one by one.

worst: the largest true errors of what was called in; >90°: rounds that asked for a turn of more
than 90 degrees; turn: the largest asked for; nudges and readings: median and 90th percentile of
both cabinets together; asked: questions in a round.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from functools import partial

import numpy as np
from honesty import NAMES
from in_processes import in_processes, shared_out
from live_honesty import LIVE_REGIMES, LiveEnd, live_end_of

_ROUNDS = 300
_NAME = 42
_HEADINGS = (
    "rounds",
    "never",
    "in",
    "false",
    "side",
    "setb",
    "toe",
    "edge",
    "cab.in",
    "false",
    "worst mm",
    "worst °",
    ">90°",
    "turn °",
    "nudges",
    "readings",
    "asked",
)


def row(ends: Sequence[LiveEnd]) -> list[str]:
    """The figures of some rounds, under the headings."""
    called = [end for end in ends if end.called_in]
    settled = [
        off
        for end in ends
        for off, is_settled in zip(end.truly_off, end.settled, strict=True)
        if is_settled
    ]
    nudges, readings = ([getattr(end, name) for end in ends] for name in ("nudges", "readings"))
    return [
        str(len(ends)),
        _share([not end.finished for end in ends]),
        _share([end.called_in for end in ends]),
        _share([end.is_false for end in called]),
        *(_share([any(name in off for off in end.truly_off) for end in called]) for name in NAMES),
        _share([end.is_false_by_its_edge for end in called]),
        _share([is_settled for end in ends for is_settled in end.settled]),
        _share([bool(off) for off in settled]),
        f"{max(max(end.worst[name] for name in NAMES[:2]) for end in ends):.1f}",
        f"{max(end.worst['toe_in_deg'] for end in ends):.2f}",
        str(sum(end.largest_turn_deg > 90.0 for end in ends)),
        f"{max(end.largest_turn_deg for end in ends):.1f}",
        f"{np.median(nudges):g}/{np.quantile(nudges, 0.9):g}",
        f"{np.median(readings):g}/{np.quantile(readings, 0.9):g}",
        f"{np.mean([end.questions for end in ends]):.2f}",
    ]


def _share(of: Sequence[bool]) -> str:
    return f"{100 * sum(of) / len(of):.2f}" if of else "-"


def line(name: str, cells: Sequence[str]) -> str:
    """A row of the table."""
    return f"{name:{_NAME}}" + " ".join(
        f"{cell:>{max(6, len(heading))}}" for cell, heading in zip(cells, _HEADINGS, strict=True)
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=_ROUNDS, help="for all regimes together")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--only", default="", help="a word of the regimes' names")
    asked = parser.parse_args()
    begin = time.perf_counter()
    print(line("regime", _HEADINGS))
    regimes = [regime for name, regime in LIVE_REGIMES.items() if asked.only in name]
    every: list[LiveEnd] = []
    shares = shared_out(asked.rounds, [regime.weight for regime in regimes])
    for regime, rounds in zip(regimes, shares, strict=True):
        ends = in_processes(partial(live_end_of, regime.name), rounds, asked.jobs)
        print(line(regime.name, row(ends)), flush=True)
        every += ends
    print(line("all", row(every)))
    print(f"{time.perf_counter() - begin:.0f} s")


if __name__ == "__main__":
    main()
