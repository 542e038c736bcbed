import pytest

from witnessmark.layout.plan import Layout, lay_out
from witnessmark.layout.practice import Practice
from witnessmark.layout.start import Free, Triangle
from witnessmark.model import Room, Seat

ROOM = Room.rectangular(6000, 8000)
SEAT = Seat(from_front_mm=5000, from_left_mm=3000)


def test_left_and_right_stand_at_30_degrees_from_the_seat() -> None:
    # Rec. ITU-R BS.775-3, figure 1 and its table, p. 4: L and R at 30 degrees, 60 between them
    assert Practice().triangle_deg == 60
    layout = lay_out(ROOM, seat=SEAT, start=Triangle(2500))
    assert layout.angle_deg == pytest.approx(60, abs=1e-9)
    assert layout.placements.left.toe_in_deg == pytest.approx(30, abs=1e-9)
    assert layout.placements.right.toe_in_deg == pytest.approx(30, abs=1e-9)


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
