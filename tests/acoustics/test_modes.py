"""Eigenfrequencies of a constructed room."""

import pytest

from witnessmark.acoustics.modes import room_modes


def test_the_lowest_modes_of_a_constructed_room() -> None:
    # constructed: 5.6 x 4.2 x 2.5 m, c = 343.2 m/s; computed outside of the program from
    # f = c/2 sqrt(sum (n/L)^2), Rayleigh, Theory of Sound, section 267 (from memory)
    expected = [
        *(30.6429, 40.8571, 51.0714, 61.2857, 68.6400),
        *(73.6563, 75.1694, 79.8796, 81.7143, 85.5555),
    ]
    modes = room_modes((5600, 4200, 2500), 86, 343.2)
    assert [mode.frequency_hz for mode in modes] == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(
    ("most_hz", "counted"),
    [(100, 13), (200, 74), (300, 225)],
)
def test_how_many_modes_there_are(most_hz: float, counted: int) -> None:
    # counted outside of the program by the formula above
    sizes = (5600.0, 4200.0, 2500.0)
    assert len(room_modes(sizes, most_hz, 343.2)) == counted
