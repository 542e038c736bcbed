"""Files are written beside their place and put there whole, whatever comes between; by one way."""

from __future__ import annotations

import errno
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from witnessmark.files import new_file, whole_file, write_new

ROOT = Path(__file__).parents[1]
WRITES = re.compile(
    r"\.write_(?:text|bytes)\(|\.touch\(|\.rename\(|shutil\.(?:copy\w*|move)\(|mkstemp|"
    r"NamedTemporaryFile|O_WRONLY|O_CREAT|O_RDWR|open\([^()]*[\"'][wax]b?[\"']"
)
"""By what a program makes or changes a file."""


def test_nothing_writes_a_file_by_another_way() -> None:
    found = {
        (file.name, call)
        for folder in ("src", "drivers")
        for file in (ROOT / folder).rglob("*.py")
        for call in WRITES.findall(file.read_text("utf-8"))
    }
    assert found == {
        ("files.py", "mkstemp"),
        ("files.py", 'open(number, "wb"'),
        ("profile_folder.py", "shutil.copyfileobj("),  # from one open file to another
        ("__init__.py", "O_WRONLY"),  # nowhere, for an output that nobody reads
    }


def full(_path: Path) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def taken(path: Path) -> None:
    path.write_text("of another program")


def interrupted(_path: Path) -> None:
    raise KeyboardInterrupt


@pytest.mark.parametrize("happens", [full, taken, interrupted], ids=lambda one: one.__name__)
def test_what_fails_leaves_nothing(tmp_path: Path, happens: Callable[[Path], None]) -> None:
    path = tmp_path / "sheet.pdf"
    with pytest.raises((OSError, KeyboardInterrupt)), new_file(path) as file:  # noqa: PT012
        file.write(b"half of it")
        happens(path)
    left = [one.name for one in tmp_path.iterdir()]
    assert left == (["sheet.pdf"] if happens is taken else [])
    assert not left or path.read_text() == "of another program"


def test_what_was_there_stays_until_the_new_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("former")
    with pytest.raises(OSError, match="No space"), whole_file(path) as file:  # noqa: PT012
        file.write(b"half of it")
        full(path)
    assert path.read_text() == "former"
    with whole_file(path) as file:
        file.write(b"new")
        file.flush()
        assert path.read_text() == "former"
    assert path.read_text() == "new"


def test_several_are_there_or_none(tmp_path: Path) -> None:
    (tmp_path / "b.svg").mkdir()
    with pytest.raises(FileExistsError):
        write_new({tmp_path / "a.svg": b"a", tmp_path / "b.svg": b"b"})
    assert [one.name for one in tmp_path.iterdir()] == ["b.svg"]


@pytest.mark.parametrize("name", ["a-folder", "dev-null", "missing/x.pdf", "x" * 300])
def test_where_no_file_can_be_none_is_made(tmp_path: Path, name: str) -> None:
    (tmp_path / "a-folder").mkdir()
    (tmp_path / "dev-null").symlink_to("/dev/null")
    before = sorted(tmp_path.iterdir())
    with pytest.raises(OSError), new_file(tmp_path / name):  # noqa: PT011 - any of several
        pass
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.parametrize("name", ["部" * 83 + ".pdf", "x" * 251 + ".pdf"])
def test_a_name_may_be_as_long_as_the_disk_lets_it(tmp_path: Path, name: str) -> None:
    write_new({tmp_path / name: b"x"})
    assert [one.name for one in tmp_path.iterdir()] == [name]


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX")
def test_a_kill_leaves_no_cut_file_in_its_place(tmp_path: Path) -> None:
    path = tmp_path / "room.jsonl"
    script = (
        "import os, signal, sys; from pathlib import Path; from witnessmark.files import new_file\n"
        "with new_file(Path(sys.argv[1])) as file:\n"
        "    file.write(b'half of it'); file.flush(); os.kill(os.getpid(), signal.SIGKILL)"
    )
    done = subprocess.run([sys.executable, "-c", script, str(path)], check=False)
    assert done.returncode == -signal.SIGKILL
    assert not path.exists()
    write_new({path: b"whole"})  # what is left beside it is in no one's way
    assert path.read_bytes() == b"whole"
