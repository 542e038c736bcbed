"""Tests that need system programs: skipped without them, and failing where all are asked for."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from needs import ALL, TOOLS

SUPPORT = Path(__file__).parent / "support"
NEEDY = f"""
import pytest
from needs import needs

@pytest.mark.parametrize("tool", [pytest.param(tool, marks=needs(tool)) for tool in {list(TOOLS)}])
def test_with(tool):
    pass
"""
SKIPPED_IN_EVERY_WAY = """
import pytest

@pytest.mark.skip("marked")
def test_marked():
    pass

@pytest.mark.xfail(reason="expected")
def test_expected_to_fail():
    assert False

def test_inside():
    pytest.skip("inside")

@pytest.fixture
def given():
    pytest.skip("given")

def test_in_a_fixture(given):
    pass
"""


def run(folder: Path, *tests: str, all_needed: bool = False) -> tuple[int, str]:
    """Run files of tests with the programs of one folder alone; the exit code, what is printed."""
    (folder / "conftest.py").write_text('pytest_plugins = ["needs"]\n')
    for number, test in enumerate(tests):
        (folder / f"test_{number}.py").write_text(test)
    environment = os.environ | {"PATH": str(folder), "PYTHONPATH": str(SUPPORT), "COLUMNS": "200"}
    environment.pop(ALL, None)
    environment["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"  # those take longer to load than the run
    if all_needed:
        environment[ALL] = "1"
    command = [sys.executable, "-m", "pytest", "-ra", "-p", "no:cacheprovider", "--color=no"]
    done = subprocess.run(
        command, check=False, cwd=folder, env=environment, capture_output=True, text=True
    )
    return done.returncode, done.stdout


def test_without_a_tool_one_line_says_how_to_get_it(tmp_path: Path) -> None:
    code, told = run(tmp_path, NEEDY, NEEDY)
    assert code == 0
    assert f"{2 * len(TOOLS)} skipped" in told
    lines = [line for line in told.splitlines() if line.startswith("SKIPPED")]
    assert len(lines) == len(TOOLS)
    for tool in TOOLS.values():
        (line,) = [line for line in lines if f"apt-get install {tool.packages})" in line]
        assert line.startswith("SKIPPED [2]")
        assert all(program in line for program in tool.programs)


def test_where_all_are_needed_a_missing_one_fails_and_says_how_to_get_it(tmp_path: Path) -> None:
    code, told = run(tmp_path, NEEDY, all_needed=True)
    assert code == 1
    assert f"{len(TOOLS)} errors in" in told
    assert all(f"apt-get install {tool.packages})" in told for tool in TOOLS.values())


@pytest.mark.parametrize("all_needed", [False, True])
def test_with_the_tools_the_tests_run(tmp_path: Path, all_needed: bool) -> None:
    for name in (name for tool in TOOLS.values() for name in tool.programs):
        program = tmp_path / name
        program.touch()
        program.chmod(0o700)
    code, told = run(tmp_path, NEEDY, all_needed=all_needed)
    assert code == 0
    assert f"{len(TOOLS)} passed in" in told


def test_where_all_are_needed_nothing_is_skipped_for_whatever_reason(tmp_path: Path) -> None:
    whole_file = "import pytest\npytest.skip('whole', allow_module_level=True)"
    code, told = run(tmp_path, SKIPPED_IN_EVERY_WAY, all_needed=True)
    assert code == 1
    assert "2 failed, 2 errors in" in told
    for reason in ("marked", "expected", "inside", "given"):
        assert f"{reason}; with {ALL} nothing may be skipped" in told
    code, told = run(tmp_path, whole_file, all_needed=True)
    assert code == 2
    assert f"whole; with {ALL} nothing may be skipped" in told
