"""Which copy of the program a round belongs to."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from room_records import AT

from witnessmark.errors import StoreError
from witnessmark.model import Setup
from witnessmark.store.claim import Claims
from witnessmark.store.store import Store

HOLDER = """
import pathlib, sys
from witnessmark.store.store import Store
store = Store.open(pathlib.Path(sys.argv[1]))
print(store.claim_round(store.latest_round().key), flush=True)
sys.stdin.read()
"""


@contextmanager
def holder(path: Path) -> Iterator[tuple[subprocess.Popen[str], bool]]:
    """Another process that claims the latest round, and whether it got it."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLDER, path],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        try:
            yield process, process.stdout.readline() == "True\n"
        finally:
            process.kill()


def key_of(store: Store) -> str:
    begun = store.latest_round()
    assert begun is not None
    return begun.key


def locks(path: Path) -> list[str]:
    return sorted(file.name for file in path.parent.glob("*.lock"))


def test_a_copy_that_came_through_a_link_is_told_apart(
    path: Path, store: Store, round_id: int, tmp_path: Path
) -> None:
    key = key_of(store)
    link = tmp_path / "elsewhere" / "link.sqlite3"
    link.parent.mkdir()
    link.symlink_to(path)
    with Store.open(link) as other:
        assert not other.claim_round(key)


def test_who_begins_a_round_has_it(path: Path, store: Store, round_id: int) -> None:
    key = key_of(store)
    assert store.claim_round(key)
    with Store.open(path) as other:
        assert not other.claim_round(key)
        assert not other.claim_round(key)
    assert locks(path) == [f"store.sqlite3-round-{key}.lock"]


def test_a_round_is_let_go_when_another_is_begun(path: Path, store: Store, round_id: int) -> None:
    first = key_of(store)
    store.start_round(1, AT)
    with Store.open(path) as other:
        assert other.claim_round(first)
        assert not other.claim_round(key_of(store))


def test_a_round_is_let_go_when_the_store_is_closed(
    path: Path, store: Store, round_id: int
) -> None:
    key = key_of(store)
    store.close()
    assert locks(path) == []
    with Store.open(path) as other:
        assert other.claim_round(key)


def test_a_round_that_cannot_be_begun_leaves_the_one_before_as_it_is(
    path: Path, store: Store, round_id: int
) -> None:
    key = key_of(store)
    with pytest.raises(StoreError, match="no setup 99"):
        store.start_round(99, AT)
    with Store.open(path) as other:
        assert not other.claim_round(key)


def test_a_lock_that_was_taken_away_while_another_waited_is_made_anew(path: Path) -> None:
    path.parent.mkdir(parents=True)
    one, two, three = Claims(path), Claims(path), Claims(path)
    assert one.take("key")
    assert not two.take("key")
    one.leave()
    assert two.take("key")
    assert not three.take("key")
    two.leave()
    assert three.take("key")
    three.leave()
    assert locks(path) == []


def test_what_killed_copies_left_is_cleared_up_and_nothing_of_a_living_one(path: Path) -> None:
    path.parent.mkdir(parents=True)
    (path.parent / "store.sqlite3-round-dead.lock").touch()
    (path.parent / "other.sqlite3-round-dead.lock").touch()
    one, two = Claims(path), Claims(path)
    assert one.take("one")
    assert two.take("two")
    one.leave()
    assert locks(path) == ["other.sqlite3-round-dead.lock", "store.sqlite3-round-two.lock"]
    assert not one.take("two")
    two.leave()


@pytest.mark.skipif(os.name != "posix", reason="elsewhere no file is named so")
def test_a_store_may_have_any_name(tmp_path: Path) -> None:
    store = tmp_path / "a*[b]?.sqlite3"
    (tmp_path / f"{store.name}-round-dead.lock").touch()
    claims = Claims(store)
    assert claims.take("key")
    claims.leave()
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_which_no_file_can_be_locked_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(StoreError, match="set WITNESSMARK_STORE to a file in a folder"):
        Claims(tmp_path / "file" / "store.sqlite3").take("key")


def test_another_process_does_not_get_a_round_that_is_taken(
    path: Path, store: Store, round_id: int
) -> None:
    with holder(path) as (_, has_it):
        assert not has_it


def test_the_round_of_a_process_that_was_killed_is_free(
    path: Path, store: Store, round_id: int
) -> None:
    key = key_of(store)
    store.close()
    with Store.open(path) as other, holder(path) as (process, has_it):
        assert has_it
        assert not other.claim_round(key)
        process.kill()
        process.wait(timeout=60)
        assert other.claim_round(key)
    assert locks(path) == []


def test_imported_rounds_are_nobodys(path: Path, store: Store, setup: Setup) -> None:
    store.start_round(store.save_setup("Attic", setup, AT), AT)
    store._connection.execute(
        "INSERT INTO round (key, setup_id, started_at, imported) VALUES ('theirs', 1, 'x', 1)"
    )
    assert key_of(store) != "theirs"
    assert len(locks(path)) == 1
