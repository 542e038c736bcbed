"""What can be heard."""

import pytest

from witnessmark.acoustics.hearing import LEAST_ARRIVAL_US, image_shift_deg, woodworth_us


@pytest.mark.parametrize(
    ("azimuth_deg", "difference_us"),
    [(1, 8.905), (15, 132.811), (30, 261.122), (45, 380.741), (60, 488.067), (90, 655.815)],
)
def test_arrival_at_the_two_ears_of_a_sphere(azimuth_deg: float, difference_us: float) -> None:
    # computed from (a / c) (t + sin t), Woodworth, Experimental Psychology (1938, from memory);
    # a = 0.0875 m and c = 343 m/s as in the demonstration of the University of Manchester
    # (personalpages.manchester.ac.uk/staff/richard.baker)
    assert woodworth_us(azimuth_deg) == pytest.approx(difference_us, abs=1e-3)
    assert image_shift_deg(difference_us) == pytest.approx(azimuth_deg, abs=1e-4)
    assert image_shift_deg(-difference_us) == pytest.approx(-azimuth_deg, abs=1e-4)


def test_the_least_that_is_noticed_is_about_a_degree() -> None:
    # 10 us: tutorial of the CIPIC Interface Lab, UC Davis
    assert image_shift_deg(LEAST_ARRIVAL_US) == pytest.approx(1.12, abs=0.01)
