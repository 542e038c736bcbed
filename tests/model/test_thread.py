"""What is no thread of a spike is refused in one sentence."""

from __future__ import annotations

import pytest

from witnessmark.errors import BadInput
from witnessmark.model import Cabinet, pitch_mm


@pytest.mark.parametrize("thread", ["M9", "M8x2", "1/4-21", "", "8", "M"])
def test_other_threads_are_refused(thread: str) -> None:
    with pytest.raises(BadInput, match=r"cabinet\.thread: .* write it as"):
        pitch_mm(thread)
    with pytest.raises(BadInput, match=r"cabinet\.thread"):
        Cabinet(262.0, 391.0, thread=thread)
