"""Several copies of the program on one file, and copies that are killed, each a fresh process."""

import random
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from witnessmark.model import Reading
from witnessmark.store.store import Store

WRITER = Path(__file__).with_name("stream_writer.py")
KILLS = 3
ENDLESS = 1_000_000


@contextmanager
def writer(path: Path, round_id: int, first: int, count: int) -> Iterator[subprocess.Popen[str]]:
    arguments = [str(path), *map(str, (round_id, first, count))]
    with subprocess.Popen(
        [sys.executable, WRITER, *arguments], stdout=subprocess.PIPE, text=True
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def printed(lines: Iterator[str]) -> list[tuple[int, int]]:
    """The (id, distance) pairs of whole lines; a kill may cut the last one short."""
    pairs = [line.split() for line in lines if line.endswith("\n")]
    return [(int(id_), int(distance)) for id_, distance in pairs]


def in_journal(path: Path, round_id: int) -> list[int]:
    with Store.open(path) as store:
        entries = store.entries(round_id)
    return [int(entry.distance_mm) for entry in entries if isinstance(entry, Reading)]


def killed_writer(path: Path, round_id: int, first: int, after: int) -> list[tuple[int, int]]:
    with writer(path, round_id, first, ENDLESS) as process:
        assert process.stdout is not None
        seen = [process.stdout.readline() for _ in range(after)]
        process.kill()
        return printed(iter([*seen, *process.stdout]))


def test_what_was_reported_stored_survives_a_kill(path: Path, store: Store, round_id: int) -> None:
    store.close()
    rng = random.Random(20260517)
    reported: dict[int, int] = {}
    for _ in range(KILLS):
        held = in_journal(path, round_id)
        reported |= killed_writer(path, round_id, len(held), rng.randrange(60))
    held = in_journal(path, round_id)
    assert held == list(range(len(held)))
    assert all(held[id_ - 1] == distance for id_, distance in reported.items())
    assert len(reported) <= len(held) <= len(reported) + KILLS


def test_two_copies_writing_at_once_lose_and_mix_nothing(
    path: Path, store: Store, round_id: int
) -> None:
    current = store.latest_setup()
    assert current is not None
    other = store.start_round(current.id, current.saved_at)
    with writer(path, round_id, 0, 300) as one, writer(path, other, 5000, 300) as two:
        outputs = [process.communicate(timeout=60)[0] for process in (one, two)]
    assert [process.returncode for process in (one, two)] == [0, 0]
    assert in_journal(path, round_id) == list(range(300))
    assert in_journal(path, other) == list(range(5000, 5300))
    ids = [id_ for output in outputs for id_, _ in printed(iter(output.splitlines(True)))]
    assert sorted(ids) == list(range(1, 601))


def test_copies_that_start_together_on_a_new_store_all_open_it(path: Path) -> None:
    opening = "import sys, pathlib; from witnessmark.store.store import Store; "
    opening += "sys.stdin.read(); Store.open(pathlib.Path(sys.argv[1])).close()"
    processes = [
        subprocess.Popen([sys.executable, "-c", opening, path], stdin=subprocess.PIPE)
        for _ in range(6)
    ]
    for process in processes:
        assert process.stdin is not None
        process.stdin.close()
    assert [process.wait(timeout=60) for process in processes] == [0] * 6


def test_a_new_store_is_opened_at_the_same_moment_again_and_again(tmp_path: Path) -> None:
    failures: list[Exception] = []
    for place in range(25):
        path, together = tmp_path / f"{place}.sqlite3", threading.Barrier(8)

        def open_it(path: Path = path, together: threading.Barrier = together) -> None:
            together.wait(timeout=60)
            try:
                Store.open(path).close()
            except Exception as error:  # noqa: BLE001 - told below, in the test's own thread
                failures.append(error)

        threads = [threading.Thread(target=open_it) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(timeout=60)
    assert failures == []
