"""The system programs that some tests need: without them those tests are skipped, with one line.

A test, a parameter or a rig says what it needs with ``needs("browser")``. With ALL set in the
environment, as it is by ``.ci/run``, whatever would be skipped fails instead, for any reason.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Generator
from typing import NamedTuple, TypeVar

import pytest

ALL = "WITNESSMARK_TESTS_NEED_ALL"
Report = TypeVar("Report", pytest.TestReport, pytest.CollectReport)


class Tool(NamedTuple):
    """What to look for, and the Debian packages that bring it."""

    programs: tuple[str, ...]
    packages: str


TOOLS = {
    "message bus": Tool(("dbus-daemon",), "dbus"),
    "browser": Tool(("chromium", "chromedriver"), "chromium chromium-driver"),
}


def needs(tool: str) -> pytest.MarkDecorator:
    """Mark a test as one that needs a tool of the table."""
    return pytest.mark.needs(tool)


def missing(tool: str) -> str | None:
    """Say in one line how to get a tool; nothing where all of its programs are there."""
    programs, packages = TOOLS[tool]
    lacking = [program for program in programs if shutil.which(program) is None]
    if not lacking:
        return None
    return f"needs {' and '.join(lacking)} (Debian: apt-get install {packages})"


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "needs(tool): needs system programs, see support/needs.py")


def pytest_runtest_setup(item: pytest.Item) -> None:
    for mark in item.iter_markers("needs"):
        if line := missing(mark.args[0]):
            pytest.skip(line)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    return _failed_if_skipped((yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    return _failed_if_skipped((yield))


def _failed_if_skipped(report: Report) -> Report:
    if report.skipped and os.environ.get(ALL):
        # pytest tells an expected failure like a skipped test, with its reason elsewhere
        reason = vars(report).pop("wasxfail", None) or report.longrepr[2]
        report.outcome = "failed"
        report.longrepr = f"{reason}; with {ALL} nothing may be skipped"
    return report
