"""Labels that would run into each other are moved apart."""

from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from witnessmark.drawing.canvas import Placed, spread

labels = st.builds(
    Placed,
    st.text("abc-", min_size=1, max_size=9),
    st.integers(-3, 14),
    st.integers(-6, 40),
)


@given(st.lists(labels, max_size=10))
def test_all_lie_within_the_grid_and_none_touches_another(wanted: list[Placed]) -> None:
    placed = spread(wanted, 36, 12)
    assert [label.text for label in placed] == [label.text for label in wanted]
    for label in placed:
        assert 0 <= label.row < 12
        assert 0 <= label.column <= 36 - len(label.text)
    for one, other in itertools.combinations(placed, 2):
        assert not one.touches(other)


@given(labels)
def test_a_label_by_itself_stays_where_it_is_wanted(wanted: Placed) -> None:
    (placed,) = spread([wanted], 60, 20)
    inside = min(wanted.row, wanted.column) >= 0
    assert (placed == wanted) == inside


def test_it_moves_no_farther_than_it_must() -> None:
    first, second = Placed("rear-inner", 4, 10), Placed("plinth", 4, 12)
    assert spread([first, second], 40, 10) == [first, Placed("plinth", 3, 12)]
    beside = Placed("plinth", 4, 19)
    assert spread([first, beside], 40, 10)[1] == Placed("plinth", 4, 21)


def test_where_there_is_no_room_at_all_it_stays() -> None:
    assert spread([Placed("abcd", 0, 0)] * 2, 4, 1) == [Placed("abcd", 0, 0)] * 2
    assert spread([Placed("abcdef", 0, 0)], 4, 1) == [Placed("abcd", 0, 0)]
