"""One evening in one room, of which every sheet is made."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec

from witnessmark.model import (
    AimedAt,
    Attribute,
    Cabinet,
    Held,
    Impression,
    Mark,
    Pair,
    Placement,
    Poses,
    Preference,
    Room,
    Seat,
    Setup,
    Shot,
    ShotKind,
    Side,
    Tilt,
    TouchPoint,
    Trial,
    Varied,
)
from witnessmark.report.evening import KeptEvening
from witnessmark.store.records import K, Kept

AT = datetime(2026, 5, 17, 19, 30, tzinfo=UTC)
FEET = {"inner": TouchPoint(100, 30), "outer": TouchPoint(-100, 30)}
CABINET = Cabinet(262, 391, 940, feet=FEET | {"rear": TouchPoint(0, 360)})
TARGET = Placement(1450.0, 1900.0, 8.0)
SETUP = Setup(
    room=Room.rectangular(5360, 7240),
    cabinets=Pair(CABINET, CABINET),
    seat=Seat(4400, 2680, 1000),
    targets=Pair(TARGET, TARGET),
)
VARIANCES = (0.16, 0.25, 0.01, 0.16, 0.25, 0.01)
POSES = msgspec.convert(
    {
        "placements": Pair(Placement(1450.4, 1899.7, 8.1), Placement(1449.8, 1901.0, 7.9)),
        "covariance": [
            [variance if row == column else 0.0 for column in range(6)]
            for row, variance in enumerate(VARIANCES)
        ],
        "tilts": {"left": Tilt(1.1, 0.05), "right": Tilt(1.3, 0.05)},
    },
    Poses,
)
SHOT = Shot(ShotKind(Side.LEFT, "rear-inner", AimedAt.FRONT, Held.CABINET), 1508.7)
TURNS = Pair({"rear": 2.5}, {"rear": 2.25})
MARK = Mark(AT + timedelta(hours=1), "the good one", SETUP, POSES, (SHOT,), TURNS, "on coins")


def minutes(count: float) -> datetime:
    return AT + timedelta(minutes=count)


def kept(number: int, record: K) -> Kept[K]:
    return Kept(number, f"key {number}", "Attic", None, record)


def heard(number: int, setback_mm: float, grade: int, **more: object) -> Kept[Trial]:
    placement = Placement(1450, setback_mm, 8.0)
    impression = msgspec.convert({"grades": {Attribute.TIMBRE: grade}, **more}, Impression)
    pair = Pair(placement, placement)
    return kept(number, Trial(minutes(10 * number), Varied.STATION, pair, impression))


EVENING = KeptEvening(
    "Attic",
    SETUP,
    [
        heard(1, 2400, 2, words="a bit thick"),
        heard(2, 2100, 4, words="voices stand in the room", blind=True),
        heard(3, 1900, 5, best=True, track="the cellos"),
    ],
    [kept(1, Preference(minutes(40), "key 1", "key 3", "key 3"))],
    [kept(1, MARK)],
)
