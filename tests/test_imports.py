"""The folders keep to their floors: what may import what, and what stays unloaded until used."""

from __future__ import annotations

import graphlib
import re
import subprocess
import sys
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).parents[1]


def test_the_import_contracts_hold() -> None:
    """The contracts stand in pyproject.toml; this runs them as the lint step does."""
    lint = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = subprocess.run(
        [sys.executable, "-c", lint, "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert " 0 broken" in done.stdout


@pytest.mark.parametrize(
    ("module", "unloaded"),
    [
        ("witnessmark.placing.guidance", {"textual", "click", "serial", "sqlite3", "asyncio"}),
        ("witnessmark.drawing.plan", {"textual", "numpy", "serial", "sqlite3", "asyncio"}),
        (
            "witnessmark.session.session",
            {"textual", "rich", "click", "numpy", "serial", "websockets"},
        ),
        ("witnessmark.cli.layout", {"textual", "numpy", "serial", "sqlite3", "asyncio"}),
        ("witnessmark.cli", {"textual", "numpy", "serial", "sqlite3", "asyncio", "msgspec"}),
        ("witnessmark.meters.finding", {"textual", "numpy", "serial", "sqlite3"}),
    ],
)
def test_heavy_libraries_wait_until_used(module: str, unloaded: set[str]) -> None:
    code = f"import sys, {module}; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = {name.partition(".")[0] for name in done.stdout.split()}
    assert module.partition(".")[0] in loaded
    assert not loaded & unloaded


@pytest.fixture(scope="module")
def graph() -> grimp.ImportGraph:
    return grimp.build_graph("witnessmark", cache_dir=None)


def test_no_modules_import_one_another_in_a_circle(graph: grimp.ImportGraph) -> None:
    imports = {name: graph.find_modules_directly_imported_by(name) for name in graph.modules}
    graphlib.TopologicalSorter(imports).prepare()  # raises CycleError


def test_what_there_is_to_do_is_computed_by_the_session_and_handed_on(
    graph: grimp.ImportGraph,
) -> None:
    guidance = "witnessmark.placing.guidance"
    computes = set()
    for name in graph.find_modules_that_directly_import(guidance):
        details = graph.get_import_details(importer=name, imported=guidance)
        if any(re.search(r"\bguide\b", one["line_contents"]) for one in details):
            computes.add(name)
    # the command that keeps nothing has no session
    assert computes == {"witnessmark.session.resume", "witnessmark.cli.check"}
