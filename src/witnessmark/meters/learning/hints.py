"""Every decoding that is tried, and what may be the matter where none explains every reading."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.meters.learning.fitting import Candidate, Known
from witnessmark.meters.learning.lines import line_candidates
from witnessmark.meters.learning.numbers import frame_candidates
from witnessmark.meters.learning.samples import Sample


def all_candidates(samples: Sequence[Sample], known: Known) -> list[Candidate]:
    """The decodings that explain every reading, of text if there are any, else of binary frames."""
    return line_candidates(samples, known) or frame_candidates(samples, known)


def why_none(samples: Sequence[Sample]) -> str:
    """A sentence saying that nothing was learnt, with a hint at the reason where there is one."""
    return "no decoding explains every reading" + (
        _one_wrong(samples) or _another_edge(samples) or "; nothing was saved"
    )


def _one_wrong(samples: Sequence[Sample]) -> str | None:
    """A hint where all readings but one agree."""
    if len(samples) < 3:
        return None
    for left_out in samples:
        rest = [sample for sample in samples if sample is not left_out]
        if all_candidates(rest, Known([sample.known_mm for sample in rest])):
            return (
                f", but one explains all save that at {left_out.known_mm:g} mm; "
                "measure that distance again"
            )
    return None


def _another_edge(samples: Sequence[Sample]) -> str | None:
    """A hint where all readings are off by the same length."""
    known_mm = [sample.known_mm for sample in samples]
    found = all_candidates(samples, Known(known_mm, shifted=True))
    if len(found) != 1:
        return None
    offs = [mm - known for mm, known in zip(found[0].found_mm, known_mm, strict=True)]
    off = sum(offs) / len(offs)
    if abs(off) > 300:
        return None
    longer = "more" if off > 0 else "less"
    return (
        f", but one would if each distance were {abs(off):.0f} mm {longer}; "
        "measure from the edge of the meter from which it measures itself"
    )
