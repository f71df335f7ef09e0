"""A lock lives as long as its holder, says who that is, and lets nobody else in."""

import subprocess
import sys
from pathlib import Path

import pytest

from benchlog.errors import Busy, Full
from benchlog.store.lock import FileLock, holder

HOLD = """
import sys
from pathlib import Path
from benchlog.store.lock import FileLock
lock = FileLock.take(Path(sys.argv[1]), "the library")
print("held", flush=True)
sys.stdin.read()
"""


def test_a_second_holder_is_refused_with_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "library.lock"
    first = FileLock.take(path, "the library")
    with pytest.raises(Busy) as refused:
        FileLock.take(path, "the library")
    assert "the library: is in use by another benchlog (process " in str(refused.value)
    assert str(refused.value).endswith("; close that one first.")
    first.release()
    FileLock.take(path, "the library").release()


def test_another_process_holds_it_until_it_is_killed(tmp_path: Path) -> None:
    path = tmp_path / "library.lock"
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        cwd=Path(__file__).parents[2],
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"held\n"
        with pytest.raises(Busy, match=f"process {process.pid} on "):
            FileLock.take(path, "the library")
        process.kill()
        process.wait()
    FileLock.take(path, "the library").release()


def test_what_an_earlier_holder_wrote_is_gone(tmp_path: Path) -> None:
    path = tmp_path / "library.lock"
    path.write_text("process 1 on a host with a very long name since the beginning of time, and more\n" * 3)
    lock = FileLock.take(path, "the library")
    assert path.read_text().count("\n") == 1
    lock.release(remove=True)
    assert not path.exists()


def test_a_holder_that_says_nothing_is_still_another_benchlog(tmp_path: Path) -> None:
    assert holder(tmp_path / "nothing.lock") == "another benchlog"
    (tmp_path / "empty.lock").touch()
    assert holder(tmp_path / "empty.lock") == "another benchlog"


def test_a_lock_that_cannot_be_removed_is_let_go_all_the_same(tmp_path: Path) -> None:
    lock = FileLock.take(tmp_path / "a.lock", "a")
    lock.path = tmp_path  # a folder cannot be unlinked, as an open file cannot on some systems
    lock.release(remove=True)
    FileLock.take(tmp_path / "a.lock", "a").release()


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(Full):
        FileLock.take(tmp_path / "nowhere" / "library.lock", "the library")
