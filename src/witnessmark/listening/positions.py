"""Which trials are of one position, the first one and its repeats, and which is flagged."""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.model import Trial


def positions(trials: Mapping[str, Trial]) -> dict[str, str]:
    """The position of every trial: the key of the first trial of it, by the trial's own key.

    In the order in which they were tried. A position is the same only where the person said so
    (``Trial.repeats``), not where two happen to stand alike.
    """
    first: dict[str, str] = {}
    for key in sorted(trials, key=lambda key: trials[key].at):
        earlier = trials[key].repeats
        first[key] = key if earlier is None else first.get(earlier, key)
    return first


def repeats(trials: Mapping[str, Trial]) -> dict[str, tuple[str, ...]]:
    """The trials of each position, by the key of the first, in the order of trying."""
    found: dict[str, tuple[str, ...]] = {}
    for key, position in positions(trials).items():
        found[position] = (*found.get(position, ()), key)
    return found


def latest_flagged(trials: Mapping[str, Trial]) -> str | None:
    """The key of the latest trial that is flagged as the best so far."""
    flagged = [key for key, trial in trials.items() if trial.impression.best]
    return max(flagged, key=lambda key: trials[key].at, default=None)
