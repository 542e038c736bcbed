"""What the tests of the store keep: trials, preferences and marks, one of each and any of each."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from hypothesis import strategies as st

from witnessmark.meters.port import Fault, Noise
from witnessmark.model import (
    Act,
    AimedAt,
    AngleReading,
    Attribute,
    Cabinet,
    Decision,
    Held,
    Impression,
    Mark,
    Meter,
    Pair,
    Placement,
    PlumbReadings,
    Poses,
    Preference,
    Reading,
    Room,
    Seat,
    Setup,
    SetupChanged,
    Shot,
    ShotKind,
    Side,
    Struck,
    Tilt,
    TiltTaken,
    TouchPoint,
    Trial,
    Varied,
)
from witnessmark.model.pair import Covariance
from witnessmark.store.records import JournalEntry, Record

AT = datetime(2026, 5, 17, 9, 30, tzinfo=UTC)
PLACED = Pair(Placement(1450.4, 1899.7, 8.04), Placement(1449.8, 1901.0, 7.9))
NOTHING = (0.0,) * 6
POSES = Poses(PLACED, (NOTHING,) * 5 + ((0.0,) * 5 + (0.01,),), Pair(Tilt(1.1, 0.05), None))
SHOTS = (Shot(ShotKind(Side.LEFT, "rear-inner", AimedAt.FRONT, Held.CABINET), 1509.0),)


def trial(at: datetime = AT, words: str = "", **grades: int) -> Trial:
    """A position that was listened to and not measured."""
    heard = Impression({Attribute(name): grade for name, grade in grades.items()}, words)
    return Trial(at, Varied.STATION, PLACED, heard)


def mark(setup: Setup, name: str = "before the cleaning", at: datetime = AT) -> Mark:
    """A position that was kept."""
    return Mark(at, name, setup, POSES, SHOTS, Pair({"rear": 2.5}, {}), "spikes on coins")


texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
times = st.datetimes(datetime(2, 1, 1), datetime(9998, 12, 31), timezones=st.just(UTC))  # noqa: DTZ001
numbers = st.floats(1, 15)
"""Within every limit: a room that comes in a file is held to them."""
heights, walls, ceilings = st.floats(50, 3000), st.floats(500, 1e5), st.floats(1000, 1e5)
placements = st.builds(Placement, numbers, numbers, numbers)
sizes = st.floats(20, 3000)
points = st.dictionaries(texts, st.builds(TouchPoint, numbers, numbers), max_size=2)
cabinets = st.builds(Cabinet, sizes, sizes, st.none() | heights, points, points)
targets = st.none() | placements
errors = st.just(0.0) | st.floats(1e-100, 10)
setups = st.builds(
    Setup,
    room=st.builds(
        Room.rectangular, st.floats(500, 1e5), st.floats(500, 1e5), st.none() | ceilings
    ),
    cabinets=st.builds(Pair[Cabinet], cabinets, cabinets),
    seat=st.builds(Seat, numbers, numbers, st.none() | numbers),
    meter=st.builds(Meter, st.floats(0.1, 10), errors, errors),
    targets=st.builds(Pair[Placement | None], targets, targets),
    temperature_c=numbers,
)
choices = st.dictionaries(texts, st.none() | st.booleans() | st.integers(-9, 9) | texts, max_size=3)

distances = st.floats(0, 100_000)
tilts = st.builds(PlumbReadings, distances, distances, st.floats(50, 5000)) | st.builds(
    AngleReading, numbers
)
entries: st.SearchStrategy[JournalEntry] = st.one_of(
    st.builds(Reading, numbers, times, texts, st.binary()),
    st.builds(Fault, texts, times, texts, st.binary()),
    st.builds(Noise, texts, times, texts, st.binary()),
    st.builds(Decision, st.sampled_from(Act), times),
    st.builds(TiltTaken, st.sampled_from(Side), tilts, times),
    st.builds(SetupChanged, setups, times),
)


def covariance(shared: Sequence[float], own: float) -> Covariance:
    """What six quantities have of one error that all share, and each of one of its own."""
    rows = [[one * other for other in shared] for one in shared]
    for place, row in enumerate(rows):
        row[place] += own
    return tuple(map(tuple, rows))  # type: ignore[return-value]


poses = st.builds(
    Poses,
    st.builds(Pair[Placement], placements, placements),
    st.builds(covariance, st.tuples(*[numbers] * 6), numbers),
)
impressions = st.builds(
    Impression,
    st.dictionaries(st.sampled_from(Attribute), st.integers(1, 5)),
    texts,
    st.booleans(),
    texts,
)
kept_trials = st.builds(
    Trial,
    times,
    st.sampled_from(Varied),
    st.builds(Pair[Placement], placements, placements),
    impressions,
    measured=st.none() | poses,
    repeats=st.none() | texts,
)
shots = st.builds(
    Shot,
    st.builds(
        ShotKind, st.sampled_from(Side), texts, st.sampled_from(AimedAt), st.sampled_from(Held)
    ),
    numbers,
    st.none() | numbers,
)
names = st.text("abc äß°=+-@,;\"'", min_size=1, max_size=80).filter(str.strip)
kept_marks = st.builds(Mark, times, names, setups, poses, st.lists(shots, max_size=2).map(tuple))
kept_preferences = st.builds(
    Preference, times, st.just("one"), st.just("other"), st.sampled_from(["one", "other", None])
)
kept_strikes = st.builds(Struck, times, st.just("one"), st.booleans())
records: st.SearchStrategy[Record] = st.one_of(
    kept_trials, kept_preferences, kept_strikes, kept_marks
)
