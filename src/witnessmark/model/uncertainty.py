"""How uncertainty is stated."""

from typing import Final

COVERAGE_FACTOR: Final = 2.0
"""k of every expanded uncertainty: 95.45 % of a normal distribution (JCGM 100:2008, 6.2)."""
