"""What moved between two marks, and what was entered otherwise since."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from witnessmark.locate.compare_setups import entered_otherwise
from witnessmark.model import Mark, Setup
from witnessmark.placing.marks import in_order, moved_between
from witnessmark.sentences import sentence
from witnessmark.words.comparison import comparison_words


def moved_words(mark: Mark, other: Mark) -> Iterator[str]:
    """Yield what moved between two marks, and what was entered otherwise, a sentence each."""
    then, now = in_order(mark, other)
    yield from comparison_words(now.setup, moved_between(then, now))
    yield from entered_otherwise(then.setup, now.setup)


def since_words(mark: Mark, setup: Setup) -> tuple[str, ...]:
    """Return what of room, meter and cabinets was entered otherwise since a mark was made."""
    return entered_otherwise(mark.setup, setup)


def points(sentences: Sequence[str]) -> str:
    """Return sentences as a list of points, one below the other."""
    return "\n".join(f"· {sentence(one)}" for one in sentences)
