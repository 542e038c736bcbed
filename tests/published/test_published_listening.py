import pytest

from witnessmark.layout import Free, Layout, Practice, Triangle, lay_out
from witnessmark.model import Room, Seat
from witnessmark.sound import arrival_us, level_db, path_mm

ROOM = Room.rectangular(6000, 8000)
SEAT = Seat(from_front_mm=5000, from_left_mm=3000)


def test_left_and_right_stand_at_30_degrees_from_the_seat() -> None:
    # Rec. ITU-R BS.775-3, figure 1 and its table, p. 4: L and R at 30 degrees, 60 between them
    assert Practice().triangle_deg == 60
    layout = lay_out(ROOM, seat=SEAT, start=Triangle(2500))
    assert layout.angle_deg == pytest.approx(60, abs=1e-9)
    assert layout.placements.left.toe_in_deg == pytest.approx(30, abs=1e-9)
    assert layout.placements.right.toe_in_deg == pytest.approx(30, abs=1e-9)


@pytest.mark.parametrize(
    ("base_mm", "depth_mm"), [(2000, 1732.051), (2500, 2165.064), (3000, 2598.076)]
)
def test_equilateral_triangle(base_mm: float, depth_mm: float) -> None:
    # geometry: depth = base * sqrt(3) / 2, legs as long as the base; within 1e-6 m
    by_base = lay_out(ROOM, seat=SEAT, start=Triangle(base_mm))
    assert 5000 - by_base.placements.left.setback_mm == pytest.approx(depth_mm, abs=1e-3)
    by_setback = lay_out(ROOM, seat=SEAT, start=Triangle(setback_mm=5000 - depth_mm))
    assert by_setback.base_mm == pytest.approx(base_mm, abs=1.2e-3)
    for layout in (by_base, by_setback):
        assert layout.stands.left.to_seat_mm == pytest.approx(base_mm, abs=1.2e-3)
        assert layout.stands.right.to_seat_mm == pytest.approx(base_mm, abs=1.2e-3)


def _bbc(toe_in_deg: float | None = None) -> Layout:
    return lay_out(ROOM, seat=SEAT, start=Free(3000 - 1050, 5000 - 1820, toe_in_deg))


def test_an_open_stereo_layout_faces_its_seat() -> None:
    # BBC R&D, SBSBRIR data set, loudspeaker_setups/sbsbrir-speakers-stereo.asd: loudspeakers at
    # (1.82, +-1.05) m from the seat, each turned to it; nominally 30 degrees and 2.1 m
    layout = _bbc()
    assert layout.angle_deg / 2 == pytest.approx(29.98, abs=0.05)
    assert layout.stands.left.to_seat_mm == pytest.approx(2101.2, abs=2)
    assert layout.placements.left.toe_in_deg == pytest.approx(29.98, abs=0.05)
    # its nominal triangle is ours
    nominal = lay_out(ROOM, seat=SEAT, start=Triangle(setback_mm=5000 - 1820))
    assert nominal.base_mm == pytest.approx(2100, abs=2)


def _legs(seat_off_centre_mm: float = 0, left_back_mm: float = 0) -> tuple[float, float]:
    """Paths in mm; base 2.5 m, depth 2.165064 m; the left box moved toward the front wall."""
    seat = Seat(2165.064 + 1000, 3000 + seat_off_centre_mm)
    left = path_mm((3000 - 1250, 1000 - left_back_mm), None, seat)
    return left, path_mm((3000 + 1250, 1000), None, seat)


@pytest.mark.parametrize(
    ("off_centre_mm", "difference_mm", "difference_us", "difference_db"),
    [(10, 9.99994, 29.1374, -0.0347), (50, 49.9925, 145.666, -0.1737)],
)
def test_a_seat_to_the_right_hears_left_later_and_softer(
    off_centre_mm: float, difference_mm: float, difference_us: float, difference_db: float
) -> None:
    # constructed: base 2.5 m, depth 2.165064 m, speed of sound 343.2 m/s
    left, right = _legs(seat_off_centre_mm=off_centre_mm)
    assert left - right == pytest.approx(difference_mm, abs=1e-4)
    assert arrival_us(left - right, 20) == pytest.approx(difference_us, abs=1e-3)
    assert level_db(left, right) == pytest.approx(difference_db, abs=1e-4)


def test_the_legs_to_a_seat_10_mm_off_centre() -> None:
    # constructed, as above
    left, right = _legs(seat_off_centre_mm=10)
    assert left == pytest.approx(2505.015, abs=1e-3)
    assert right == pytest.approx(2495.015, abs=1e-3)


def test_the_left_box_10_mm_back_is_heard_later() -> None:
    # constructed, as above
    left, right = _legs(left_back_mm=10)
    assert left - right == pytest.approx(8.66524, abs=1e-4)
    assert arrival_us(left - right, 20) == pytest.approx(25.2484, abs=1e-3)


def test_ten_microseconds_are_3_432_mm_of_path() -> None:
    # derived: 343.2 m/s times 10 us
    assert arrival_us(3.432, 20) == pytest.approx(10, abs=1e-9)
    assert arrival_us(-3.432, 20) == pytest.approx(-10, abs=1e-9)
