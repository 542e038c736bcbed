"""The example driver of DEVELOPERS.md, taken from the page, installed, and tested by itself."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

_PAGE = Path(__file__).parents[2] / "DEVELOPERS.md"
_FILE = re.compile(r"^`(?P<name>[\w.]+)`:\n\n```\w+\n(?P<text>.*?)^```$", re.DOTALL | re.MULTILINE)


@pytest.fixture
def package(tmp_path: Path) -> Path:
    """A folder with the package as a checkout, and beside it what an installer leaves."""
    files = {one["name"]: one["text"] for one in _FILE.finditer(_PAGE.read_text("utf-8"))}
    assert set(files) == {"pyproject.toml", "datagram_meter.py", "test_datagram_meter.py"}
    for name, text in files.items():
        (tmp_path / name).write_text(text, "utf-8")
    project = tomllib.loads(files["pyproject.toml"])["project"]
    name, version = project["name"].replace("-", "_"), project["version"]
    metadata = tmp_path / f"{name}-{version}.dist-info"
    metadata.mkdir()
    (metadata / "METADATA").write_text(
        f"Metadata-Version: 2.1\nName: {project['name']}\nVersion: {version}\n"
    )
    groups = [
        f"[{group}]\n" + "".join(f"{scheme} = {where}\n" for scheme, where in drivers.items())
        for group, drivers in project["entry-points"].items()
    ]
    (metadata / "entry_points.txt").write_text("".join(groups))
    return tmp_path


def run(package: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run a module of Python as somebody does who has installed that package."""
    path = os.pathsep.join([str(package), os.environ.get("PYTHONPATH", "")])
    return subprocess.run(
        [sys.executable, "-m", *arguments],
        cwd=package,
        env=os.environ | {"PYTHONPATH": path, "PYTEST_ADDOPTS": ""},
        capture_output=True,
        text=True,
        check=False,
    )


def test_its_tests_pass_in_a_checkout_of_its_own(package: Path) -> None:
    (package / "pytest.ini").write_text("[pytest]\nfilterwarnings = error\n")
    plugins = ("-p", "no:xdist", "-p", "no:asyncio", "-p", "no:cacheprovider")
    result = run(package, "pytest", "-q", *plugins)
    assert result.returncode == 0, result.stdout + result.stderr
    assert re.search(r"^10 passed", result.stdout, re.MULTILINE), result.stdout


def test_the_suite_finds_what_a_driver_does_wrong(package: Path) -> None:
    driver = package / "datagram_meter.py"
    text = driver.read_text()
    driver.write_text(
        text.replace("finally:\n            transport.close()", "finally:\n            pass")
    )
    result = run(package, "pytest", "-q", "-p", "no:xdist", "-p", "no:asyncio", "-k", "closing")
    assert "1 failed" in result.stdout, result.stdout


def test_the_program_finds_it(package: Path) -> None:
    result = run(package, "witnessmark", "read", "udp:none")
    assert "write udp:PORT, with a PORT from 1 to 65535" in result.stderr
