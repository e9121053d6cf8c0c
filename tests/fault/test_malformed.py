"""Files that are no good record any more: cut off, zeroed, scribbled over, with a wrong log.

Opened, read and verified they give an error that says what to do, never a traceback; nothing that
is there is written over. A change that hits nothing that is used may also leave it whole.
"""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest

from tests.fault.real_kitchen import DATABASE, STATION, Kitchen
from tests.storage.files import look_of
from weighd.domain.errors import JournalError, RecordError
from weighd.main.proving import verify_file
from weighd.storage.journal import open_journal

PAGE = 4096


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    folder = tmp_path_factory.mktemp("made")
    kitchen = Kitchen(folder, lambda _: None, lambda *_: None)
    kitchen.evening(0)
    kitchen.real.close()
    return (folder / DATABASE).read_bytes()


def told_or_whole(path: Path) -> list[str]:
    """Verify it both ways, and open it as a daemon does; the codes of the errors."""
    before, codes = look_of(path.parent), list[str]()
    for chain_only in (False, True):
        try:
            verify_file(path, chain_only=chain_only)
        except (JournalError, RecordError) as error:
            assert error.where
            codes.append(error.code)
    assert {
        name: data for name, (data, _) in look_of(path.parent).items() if "-shm" not in name
    } == {name: data for name, (data, _) in before.items() if "-shm" not in name}
    try:
        journal = open_journal(path, STATION)
    except JournalError as error:
        assert error.remedy
        return [*codes, error.code]
    try:
        for ask in (journal.tail, journal.open_batch, journal.in_process, journal.count_batches):
            ask()
        for one in journal.batches():
            journal.batch(one.id)
    except JournalError as error:
        codes.append(error.code)
    journal.close()
    return codes


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.999])
def test_cut_off(made: bytes, tmp_path: Path, share: float) -> None:
    path = tmp_path / DATABASE
    path.write_bytes(made[: int(len(made) * share)])
    assert told_or_whole(path)


def test_any_page_zeroed_or_scribbled_over(made: bytes, tmp_path: Path) -> None:
    seed = random.SystemRandom().randrange(10**6)
    print(f"seed {seed}")
    chance, told = random.Random(seed), 0
    for n in range(len(made) // PAGE):
        page = bytes(PAGE) if n % 2 else chance.randbytes(PAGE)
        path = tmp_path / f"{n}" / DATABASE
        path.parent.mkdir()
        path.write_bytes(made[: n * PAGE] + page + made[(n + 1) * PAGE :])
        told += bool(told_or_whole(path))
        shutil.rmtree(path.parent)
    assert told > len(made) // PAGE // 2


def test_with_the_log_of_another_record_or_rubbish_for_one(made: bytes, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    kitchen = Kitchen(other, lambda _: None, lambda *_: None)
    kitchen.lot("1 lot", "milk")
    log = (other / f"{DATABASE}-wal").read_bytes()
    kitchen.real.close()
    for n, data in enumerate((b"rubbish" * 999, bytes(PAGE), log[: len(log) // 2])):
        path = tmp_path / f"{n}" / DATABASE
        path.parent.mkdir()
        path.write_bytes(made)
        path.with_name(f"{DATABASE}-wal").write_bytes(data)
        told_or_whole(path)
    # A log that is whole and of another record: SQLite takes it, and the chain does not.
    path = tmp_path / "whole" / DATABASE
    path.parent.mkdir()
    path.write_bytes(made)
    path.with_name(f"{DATABASE}-wal").write_bytes(log)
    told_or_whole(path)
