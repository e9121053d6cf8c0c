"""SIGKILL at every named point of a batch and at any call to the disk; the power that goes.

A real journal and key in a process of its own, in virtual time (``real_kitchen``). ``make faults``
takes 200 random kills, every call to the disk and many more cuts where the suite takes some:
WEIGHD_KILLS, WEIGHD_EVERY, WEIGHD_CUTS.
"""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest

from tests.storage.disk import build, start

KILLS = int(os.environ.get("WEIGHD_KILLS", "12"))
#: At every so many-th call to the disk.
EVERY = int(os.environ.get("WEIGHD_EVERY", "15"))

#: Ways in which each part of what was not synced is lost, at each sync.
CUTS = int(os.environ.get("WEIGHD_CUTS", "1"))


@pytest.fixture(scope="module")
def shim(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build(tmp_path_factory.mktemp("shim"))


def lived(shim: Path, folder: Path, what: str, *more: int) -> dict[str, int]:
    """Run it; what it counted."""
    program = start(shim, what, folder, *map(str, more), module="tests.fault.lives")
    said, _ = program.communicate(timeout=580)
    assert program.returncode == 0, "what went wrong stands above"
    words = said.split()
    return dict(zip(words[::2], map(int, words[1::2]), strict=True))


def test_killed_at_every_named_point_it_goes_on_and_the_batch_is_finished(
    shim: Path, tmp_path: Path
) -> None:
    counted = lived(shim, tmp_path, "named")
    # Opening, 12 kinds of writing with a point before and after, telling, signing, closing.
    assert counted["points"] >= 38
    assert counted["told"] == 19


def test_killed_at_any_call_to_the_disk_it_goes_on(shim: Path, tmp_path: Path) -> None:
    seed = random.SystemRandom().randrange(10**6)
    print(f"seed {seed}: python -m tests.fault.lives any FOLDER {KILLS} {seed}, under the shim")
    counted = lived(shim, tmp_path, "any", KILLS, seed)
    assert counted["kills"] == KILLS
    assert counted["opened"] > KILLS / 2, "most lives should get past the making of the record"


def test_a_copy_that_was_cut_short_is_none(shim: Path, tmp_path: Path) -> None:
    assert lived(shim, tmp_path, "backup", EVERY)["kills"] > 50 // EVERY


def test_a_copy_put_back_in_part_is_put_back_by_asking_again(shim: Path, tmp_path: Path) -> None:
    assert lived(shim, tmp_path, "restore", EVERY)["kills"] > 15 // EVERY


def test_a_migration_that_was_cut_short_is_none(shim: Path, tmp_path: Path) -> None:
    assert lived(shim, tmp_path, "migrate", EVERY)["kills"] > 50 // EVERY


def test_when_the_power_goes_what_was_told_is_kept_and_the_rest_is_whole(
    shim: Path, tmp_path: Path
) -> None:
    """Every sync of an evening; sectors that were not synced are lost at random, the last torn."""
    seed = random.SystemRandom().randrange(10**6)
    print(f"seed {seed}: python -m tests.fault.lives power FOLDER {CUTS} {seed}, under the shim")
    counted = lived(shim, tmp_path, "power", CUTS, seed)
    assert counted["opened"] > 120
    assert counted["told"] == 19
