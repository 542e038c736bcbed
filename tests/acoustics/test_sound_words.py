"""The sentences say what was computed, in the person's units, and what they leave out."""

from __future__ import annotations

import math

import msgspec
import pytest

from witnessmark.acoustics.figures import room_sound
from witnessmark.acoustics.scene import Scene
from witnessmark.lengths import Units
from witnessmark.locate.symmetry import symmetry
from witnessmark.model import Cabinet, Pair, Placement, Poses, Room, Setup, Side, Wall
from witnessmark.words.sound import CAVEAT, sound_words


def told(scene: Scene, units: Units = Units.MM) -> dict[str, tuple[str, ...]]:
    passages = sound_words(scene, room_sound(scene), units)
    return {passage.heading: passage.sentences for passage in passages}


def whole(scene: Scene) -> str:
    return " ".join(sentence for sentences in told(scene).values() for sentence in sentences)


def off(scene: Scene, by_mm: float) -> Scene:
    """The left cabinet so much farther from the front wall, which is nearer to the seat."""
    left = Placement(1100.0, 900.0 + by_mm, 0.0)
    return msgspec.structs.replace(scene, placements=scene.placements.replacing(Side.LEFT, left))


def test_a_pair_of_mirror_images_sounds_at_the_same_time_and_as_loud(scene: Scene) -> None:
    arrival, level = told(scene)["At the seat"]
    assert "arrives at the same time as from the right one" in arrival
    assert arrival.endswith("this is less.")
    assert "it is as loud as the right one" in level


def test_the_nearer_cabinet_is_earlier_and_louder_and_that_can_be_noticed(scene: Scene) -> None:
    arrival, level = told(off(scene, 10.0))["At the seat"]
    assert "µs earlier than" in arrival
    assert "8.9 mm shorter" in arrival
    assert arrival.endswith("this is more.")
    assert "dB louder than" in level
    arrival, level = told(off(scene, -10.0))["At the seat"]
    assert "µs later than" in arrival
    assert "dB softer than" in level


@pytest.mark.parametrize(
    ("sigma_mm", "ending"),
    [(0.1, "this is more."), (5.0, "whether this is less or more is not known well enough.")],
)
def test_how_well_the_arrival_is_known_decides_what_may_be_said(
    scene: Scene, sigma_mm: float, ending: str
) -> None:
    moved = off(scene, 10.0)
    cabinet = Cabinet(260, 390, 1000)
    setup = Setup(moved.room, Pair(cabinet, cabinet), moved.seat)
    row = [tuple(sigma_mm**2 * (a == b) for b in range(6)) for a in range(6)]
    poses = Poses(Pair(*moved.standing.values()), tuple(row))  # type: ignore[arg-type]
    pair = symmetry(setup, poses)
    at_seat, *_ = sound_words(moved, room_sound(moved, pair), Units.MM)
    assert f"known to ±{pair.expanded.arrival_us:.1f} µs" in at_seat.sentences[0]
    assert at_seat.sentences[0].endswith(ending)


def test_lengths_are_told_in_the_units_of_the_person(scene: Scene) -> None:
    left = told(scene, Units.INCH_16)["Left cabinet, on its target"]
    assert left[1].startswith("Via the left wall the path is 5' 0 1/2\" longer")
    assert not any(" mm" in sentence for sentence in left)


def test_each_cabinet_has_the_notches_of_the_front_wall_both_side_walls_and_the_floor(
    scene: Scene,
) -> None:
    # the far wall's mirror image is at 2 * 4200 - 1100, so its path is (5200, 2000, 100) mm long
    far_mm = math.dist((7300, 900, 1000), (2100, 2900, 1100))
    extra_mm = far_mm - math.dist((1100, 900, 1000), (2100, 2900, 1100))
    for side in Side:
        front, own, far, floor, ceiling, boundary = told(scene)[
            f"{side.capitalize()} cabinet, on its target"
        ]
        assert front.startswith("Via the front wall the path is 1692 mm longer")
        assert front.endswith("first notch at 101 Hz.")
        assert own.startswith(f"Via the {side} wall the path is 1537 mm longer")
        assert own.endswith("first notch at 112 Hz.")
        assert far.startswith(f"Via the {side.other} wall the path is {extra_mm:.0f} mm longer")
        assert far.endswith(f"first notch at {343.2e3 / 2 / extra_mm:.1f} Hz.")
        assert "829 mm" in floor
        assert "ceiling" in ceiling
        assert boundary.startswith(f"Front wall, {side} wall and floor together reduce power most")


def test_the_side_walls_tell_when_from_where_and_at_which_place(scene: Scene) -> None:
    sentences = told(scene)["First reflections on the side walls"]
    assert len(sentences) == 4
    assert sentences[0] == (
        "Left wall, left cabinet: 4.48 ms after the direct sound, from 58° to the left of straight "
        "ahead. It meets the wall 1588 mm from the front corner and 1034 mm above the floor."
    )
    assert "to the right of straight ahead" in sentences[3]


def test_modes_say_which_way_their_nulls_are(scene: Scene) -> None:
    modes = told(scene)["Axial modes of the room"]
    assert modes[0] == "Length, 5600 mm: the lowest are at 30.6 Hz, 61.3 Hz, 91.9 Hz and 123 Hz."
    assert modes[1] == "30.6 Hz: the seat has a null 100 mm toward the front wall."
    assert "40.9 Hz: the seat is at a null." in modes


def test_a_missing_wall_is_named_and_nothing_comes_from_it(scene: Scene) -> None:
    bare = msgspec.structs.replace(
        scene, room=msgspec.structs.replace(scene.room, datum=(Wall.LEFT,))
    )
    walls = told(bare)["First reflections on the side walls"]
    assert walls[0] == "There is no left wall, only a datum line: it reflects nothing."
    assert len(walls) == 3
    assert "The left side is a datum line, not a wall" in told(bare)["What this leaves out"][0]
    assert not any("Width" in sentence for sentence in told(bare)["Axial modes of the room"])


def test_what_is_not_known_of_the_room_is_said(scene: Scene) -> None:
    assert told(scene)["What this leaves out"] == (CAVEAT,)
    skew = Room((0, 0), (4200, 0), (4260, 5600), (-10, 5590), height_mm=2500.0)
    assert "The room is not a rectangle" in whole(msgspec.structs.replace(scene, room=skew))
    wedge = Room((0, 0), (3200, 0), (4700, 5600), (-600, 5400))
    assert "too far from a rectangle" in whole(msgspec.structs.replace(scene, room=wedge))
    flat = msgspec.structs.replace(scene, acoustic_heights_mm=Pair(None, None))
    assert "enter the cabinets' acoustic height and the ear height to include them" in whole(flat)
    low = msgspec.structs.replace(scene, room=Room.rectangular(4200.0, 5600.0))
    assert "enter the room's height to include them" in whole(low)


def test_a_cabinet_without_a_place_is_named(scene: Scene) -> None:
    alone = msgspec.structs.replace(scene, placements=scene.placements.replacing(Side.RIGHT, None))
    (sentence,) = told(alone)["At the seat"]
    assert "the right one has not been measured" in sentence


def test_nothing_is_called_good_or_bad(scene: Scene) -> None:
    words = whole(off(scene, 10.0)).replace(CAVEAT, "").lower()
    assert not any(word in words for word in ("good", "bad", "best place", "better", "worse"))
