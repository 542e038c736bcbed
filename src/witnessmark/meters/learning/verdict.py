"""What has been learnt: one decoding, several that want one more reading, or none."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import msgspec

from witnessmark.meters.capture import RawFrame
from witnessmark.meters.learning.fitting import Candidate, Known
from witnessmark.meters.learning.lines import line_candidates
from witnessmark.meters.learning.numbers import USEFUL_MM, frame_candidates
from witnessmark.meters.learning.samples import (
    LEAST_KNOWN,
    Sample,
    check_known,
    distances_mm,
    tolerance_mm,
)
from witnessmark.meters.profile import Profile
from witnessmark.meters.profile_words import in_words


def all_candidates(samples: Sequence[Sample], known: Known) -> list[Candidate]:
    """Return the decodings that explain every reading: of text, else of binary frames."""
    return line_candidates(samples, known) or frame_candidates(samples, known)


def why_none(samples: Sequence[Sample]) -> str:
    """Return a sentence that nothing was learnt, with a hint at the reason where there is one."""
    return "no decoding explains every reading" + (
        _one_wrong(samples) or _another_edge(samples) or "; nothing was saved"
    )


def _one_wrong(samples: Sequence[Sample]) -> str | None:
    """Return a hint where all readings but one agree."""
    if len(samples) < 3:
        return None
    for left_out in samples:
        rest = [sample for sample in samples if sample is not left_out]
        if all_candidates(rest, Known([sample.known_mm for sample in rest])):
            return (
                f", but one explains all except that at {left_out.known_mm:g} mm; measure that "
                "distance again"
            )
    return None


def _another_edge(samples: Sequence[Sample]) -> str | None:
    """Return a hint where all readings are off by the same length."""
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
        f", but one would if each distance were {abs(off):.0f} mm {longer}; hold the edge from "
        "which the meter measures"
    )


_LOOSER: Final = 3.0
_LOOSER_MM: Final = 3.0
_COPIES_DIFFER_MM: Final = 0.5
_COARSEST_MM: Final = 25.4

_RARE: Final = (
    "the decoding found is so unusual that it may be chance; measure one more known distance"
)
_COPIES: Final = "the distance is in the meter's bytes more than once; one place is read"


class Learnt(msgspec.Struct, frozen=True):
    """The one decoding that explains every reading, as a profile without its transport."""

    profile: Profile
    channel: str
    notes: tuple[str, ...] = ()
    step_mm: float = 0.0
    """What one in the last place of the meter's number is worth, mm; 0: it has no such place."""


class OneMore(msgspec.Struct, frozen=True):
    """One more reading is needed; ``why`` says at which further distance.

    It has to be over ``beyond_mm`` and under ``below_mm``, where they are given. ``otherwise`` is
    what has been learnt so far, where that is right as far as it goes.
    """

    why: str
    beyond_mm: float = 0.0
    otherwise: Learnt | None = None
    below_mm: float | None = None


class Refused(msgspec.Struct, frozen=True):
    """No decoding explains every reading; ``why`` says so, and what may be the matter."""

    why: str


def learn(samples: Sequence[Sample], failed: Sequence[RawFrame] = ()) -> Learnt | OneMore | Refused:
    """Work out how a meter's bytes are distances.

    ``failed`` is what came when the meter could not measure, if that was shown; it tells the
    meter's status from bytes that merely did not change.

    Raises:
        BadInput: when the known distances cannot teach anything.
    """
    known_mm = [sample.known_mm for sample in samples]
    check_known(known_mm)
    if silent := next((sample for sample in samples if not sample.frames), None):
        return Refused(f"nothing came from the meter at {silent.known_mm:g} mm")
    candidates = all_candidates(samples, Known(known_mm))
    if not candidates:
        return Refused(why_none(samples))
    return _decided(candidates, samples, failed)


def _decided(
    candidates: Sequence[Candidate], samples: Sequence[Sample], failed: Sequence[RawFrame]
) -> Learnt | OneMore | Refused:
    """Return what there is to say of candidates, of which there is one at least."""
    known_mm = [sample.known_mm for sample in samples]
    best, *others = _tight(candidates)
    others = [other for other in others if not _straddles(other, candidates)]
    if _straddles(best, candidates):
        best, *others = others
    rivals = [other for other in others if _contradict(best, other)]
    if rivals and (more := _told_by_short(best, rivals, others, samples, failed)):
        return more
    if rivals:
        return _told_apart(best, rivals[0], known_mm)
    if others and not _turned(known_mm):
        return _other_way(best, others[0], known_mm)
    if len(samples) <= LEAST_KNOWN and (best.is_rare or _is_all_else_different(best)):
        return OneMore(_RARE + _beyond(best), best.unsure_beyond_mm or 0.0)
    return _finished(best, samples, failed, copies=bool(others))


def _is_all_else_different(best: Candidate) -> bool:
    """Return whether nothing but the number itself was alike in both frames, and it may be chance.

    One of them may have been damaged, and another number have its first byte where the distance's
    stands. Floats that are distances by chance are too few to count.
    """
    frame = best.profile(()).frame
    return (
        frame is not None
        and not frame.distance.type.is_float
        and not (frame.header or frame.fixed or frame.checksum)
    )


def _beyond(best: Candidate) -> str:
    mm = best.unsure_beyond_mm
    return f", over {mm / 1000:.2f} m" if mm else ""


def _told_by_short(
    best: Candidate,
    rivals: Sequence[Candidate],
    others: Sequence[Candidate],
    samples: Sequence[Sample],
    failed: Sequence[RawFrame],
) -> OneMore | None:
    """Ask for a short distance where only that tells, and all say the same at longer ones.

    Without it nothing has been learnt yet where a number elsewhere may be the longest so far.
    """
    below = next((one.tells_below_mm for one in (best, *rivals) if one.tells_below_mm), None)
    if below is None or any(rival.found_mm != best.found_mm for rival in rivals):
        return None
    plain = next(one for one in (best, *rivals) if one.tells_below_mm is None)
    has_copy = any(not other.place & plain.place for other in (best, *others))
    is_told = not has_copy or _turned([sample.known_mm for sample in samples])
    finished = _finished(plain, samples, failed, copies=False) if is_told else None
    return OneMore(
        "the sign in the meter's number may part thousands or decimals; measure one more known "
        f"distance, shorter than {below / 1000:g} m",
        otherwise=finished if isinstance(finished, Learnt) else None,
        below_mm=below,
    )


def _turned(known_mm: Sequence[float]) -> bool:
    """Whether a shorter distance came after a longer one, and a longer one after a shorter one.

    Only then is the longest so far, or the shortest, told from the distance itself.
    """
    steps = [later - one for one, later in pairwise(known_mm)]
    return min(steps) < 0 < max(steps)


def _other_way(best: Candidate, other: Candidate, known_mm: Sequence[float]) -> OneMore:
    """Ask for a distance that tells two numbers apart that were alike so far."""
    first, second = _in_words(best, other)
    alike = f"two numbers were alike so far ({first}; or: {second}), and one may be the "
    if known_mm[-1] > known_mm[0]:
        longest = max(known_mm)
        return OneMore(
            f"{alike}longest measured; measure one more known distance, shorter than "
            f"{longest / 1000:.2f} m",
            below_mm=longest,
        )
    shortest = min(known_mm)
    return OneMore(
        f"{alike}shortest measured; measure one more known distance, longer than "
        f"{shortest / 1000:.2f} m",
        beyond_mm=shortest,
    )


def _straddles(one: Candidate, candidates: Sequence[Candidate]) -> bool:
    """Whether a candidate is but the end of one copy of the distance and the start of the next."""
    twins = [
        other
        for other in candidates
        if other is not one
        and (other.channel, other.shape, other.found_mm) == (one.channel, one.shape, one.found_mm)
        and other.place & one.place
    ]
    return any(
        not mine.place & its.place
        and one.place <= mine.place | its.place
        and min(mine.place) < min(one.place) < min(its.place)
        for mine, its in itertools.permutations(twins, 2)
    )


def _finished(
    best: Candidate, samples: Sequence[Sample], failed: Sequence[RawFrame], *, copies: bool
) -> Learnt | OneMore | Refused:
    profile = best.profile([frame.data for frame in failed if frame.channel == best.channel])
    if not _reads_back(profile, best.channel, samples):
        return Refused("the decoding found does not read the meter's own frames back")
    if distances_mm(profile, best.channel, failed):
        return Refused("the failed shot looks like a good one, so neither can be trusted")
    unsure_mm = best.unsure_beyond_mm
    notes = (_COPIES,) if copies else ()
    if unsure_mm is None:
        return Learnt(profile, best.channel, notes, best.step_mm)
    beyond = f"{unsure_mm / 1000:.2f} m"
    limit = f"distances over {beyond} are refused, because none that long was shown"
    limited = Learnt(profile, best.channel, (*notes, limit), best.step_mm)
    return OneMore(
        f"it is certain only up to {beyond}; measure one more known distance beyond that",
        unsure_mm,
        limited if unsure_mm >= USEFUL_MM else None,
    )


def _tight(candidates: Sequence[Candidate]) -> list[Candidate]:
    """Return those left when a loose fit gives way to a tight one, the best first.

    Two readings are too few for that: a wrong decoding may well fit two better than the tape.
    """
    tightest = min(candidate.misfit_mm for candidate in candidates)
    few = len(candidates[0].found_mm) <= LEAST_KNOWN
    limit = math.inf if few else _LOOSER * tightest + _LOOSER_MM
    kept = [candidate for candidate in candidates if candidate.misfit_mm <= limit]
    return sorted(kept, key=lambda one: (one.step_mm, one.channel, sorted(one.place)))


def _contradict(one: Candidate, other: Candidate) -> bool:
    """Return whether two decodings would differ on other distances.

    They do where they look at the same bytes in different ways. Where they look at different
    bytes, one may be a copy of the other, and is when they agreed at every distance.
    """
    same_frames = (one.channel, one.shape) == (other.channel, other.shape)
    if same_frames and one.place & other.place:
        return True
    allowed = (one.step_mm + other.step_mm) / 2 + _COPIES_DIFFER_MM
    pairs = zip(one.found_mm, other.found_mm, strict=True)
    return any(abs(mine - its) > allowed for mine, its in pairs)


def _told_apart(one: Candidate, other: Candidate, known_mm: Sequence[float]) -> OneMore:
    """Ask for a distance at which two decodings will differ that agreed so far.

    Where one may be the longest or shortest measured so far, only one the other way tells.
    """
    first, second = _in_words(one, other)
    why = f"more than one decoding explains all readings ({first}; or: {second}); "
    if _turned(known_mm):
        return OneMore(f"{why}give one more known distance")
    if known_mm[-1] > known_mm[0]:
        below = max(known_mm)
        return OneMore(
            f"{why}give one more known distance, shorter than {below / 1000:.2f} m", below_mm=below
        )
    beyond = min(known_mm)
    return OneMore(f"{why}give one more known distance, longer than {beyond / 1000:.2f} m", beyond)


def _in_words(one: Candidate, other: Candidate) -> tuple[str, str]:
    first, second = (each.words or in_words(each.profile(()))[-1] for each in (one, other))
    return first, second


def _reads_back(profile: Profile, channel: str, samples: Sequence[Sample]) -> bool:
    """Whether the finished profile gives the known distances, and nothing else, from the bytes."""
    return all(_reads_sample(profile, channel, sample) for sample in samples)


def _reads_sample(profile: Profile, channel: str, sample: Sample) -> bool:
    found_mm = distances_mm(profile, channel, sample.frames)
    allowed = tolerance_mm(sample.known_mm, _COARSEST_MM)
    return bool(found_mm) and all(abs(mm - sample.known_mm) <= allowed for mm in found_mm)
