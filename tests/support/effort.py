"""How much the tests try: enough for every day, or all of it with ``pytest --thorough``."""

from __future__ import annotations

from hypothesis import Phase, settings

EVERYDAY, THOROUGH = "everyday", "thorough"
_PHASES = [phase for phase in Phase if phase is not Phase.explain]  # it takes minutes to explain
settings.register_profile(
    EVERYDAY, max_examples=15, deadline=None, derandomize=True, phases=_PHASES
)
settings.register_profile(THOROUGH, max_examples=100, deadline=None)


def cases(everyday: int, thorough: int) -> int:
    """Return how many cases to try in this run."""
    return thorough if settings.get_current_profile_name() == THOROUGH else everyday


def examples(everyday: int, thorough: int) -> settings:
    """Return the settings of a test that needs another count of examples than its profile's."""
    return settings(max_examples=cases(everyday, thorough))
