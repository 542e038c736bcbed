"""How honest the answers to rounds are, regime by regime.

Run with ``python tests/benchmarks/bench_honest_answers.py --rounds 2000 --jobs 2``; with ``--only
WORD`` just the regimes whose name holds the word. Rounds are for each regime; that of a blunder in
twelve shots gets ten times as many. 2000 take about half an hour on two free cores. The same rounds
are drawn in every run, whatever the number of processes.

asked: share of rounds that were answered with an error, so with what is missing. The rest is of the
answers, in %. side to p.path: intervals that held the truth, of cabinets and (p.) of the pair as
mirror images; >3U: cabinets' quantities off by more than three times what was told; in, false:
quantities called in, and the share of them that are not; named: answers in which the wrong shots,
and no others, were suspect; accused: answers that suspect a good shot; unseen: answers with a wrong
shot that suspect none; imposs.: answers with cabinets out of the room, turned by more than 90°, or
in each other. Under a regime with slips of many sizes stand its rows by the size of the largest.
"""

from __future__ import annotations

import argparse
import time
from functools import partial

from answer_regimes import REGIMES
from honest_answers import HEADINGS, bands, failures, outcome_of, row
from in_processes import in_processes

_ROUNDS = 2000
_NAME = 52


def line(name: str, cells: list[str]) -> str:
    """A row of the table."""
    return f"{name:{_NAME}}" + " ".join(
        f"{cell:>{max(6, len(heading))}}" for cell, heading in zip(cells, HEADINGS, strict=True)
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=_ROUNDS, help="for each regime")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--only", default="", help="a word of the regimes' names")
    asked = parser.parse_args()
    begin = time.perf_counter()
    print(line("regime", list(HEADINGS)))
    for name, regime in REGIMES.items():
        if asked.only not in name:
            continue
        found = in_processes(partial(outcome_of, name), asked.rounds * regime.weight, asked.jobs)
        print(line(name, row(found)), flush=True)
        for band, some in bands(found).items():
            print(line(f"    {band}", row(some)), flush=True)
        for error, count in failures(found).items():
            print(f"    {count} asked back: {error}", flush=True)
    print(f"{time.perf_counter() - begin:.0f} s")


if __name__ == "__main__":
    main()
