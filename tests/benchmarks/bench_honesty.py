"""How honest the verdicts are, over twenty thousand simulated rounds with three meters.

Run with ``python tests/benchmarks/bench_honesty.py``, or with another number of rounds as argument;
it takes a quarter of an hour. Prints, for each meter, the share of rounds in which each interval
held the truth (aim: 94.5 to 96.5 %), of quantities called in that were not (aim: 2.5 % at most), of
clean rounds in which a shot was suspected (1 % at most), and of planted blunders of 15 mm that were
laid to their shot and to no other (90 % at least).
"""

from __future__ import annotations

import sys

import numpy as np
from honesty import METERS, Outcome, outcomes

ROUNDS = 20_000


def told(name: str, found: list[Outcome]) -> str:
    """The shares as text."""
    called, wrong = (sum(getattr(one, key) for one in found) for key in ("called_in", "wrongly_in"))
    head = (
        f"{name}, {len(found)} rounds: {wrong / max(called, 1):.2%} of {called} called in are not; "
        f"{np.mean([one.accused for one in found]):.2%} of clean rounds accused; "
        f"{np.mean([one.named for one in found]):.1%} of blunders named"
    )
    lines = [head]
    for quantity in found[0].held:
        share = np.mean([one.held[quantity] for one in found])
        lines.append(f"  {quantity:26} held in {share:.2%}")
    return "\n".join(lines)


def main() -> None:
    """Print the shares for each meter."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    for seed, (name, meter) in enumerate(METERS.items()):
        print(told(name, list(outcomes(-(-rounds // len(METERS)), seed, meter))), flush=True)


if __name__ == "__main__":
    main()
