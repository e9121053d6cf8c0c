"""Old batches put away on a disk that is full or fails, from each step on: nothing is lost."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

from tests.station.test_archiving import STEPS, away, database, kitchen, stood
from tests.storage import disk
from weighd.main.archiving import verify_archive_file, verify_with
from weighd.main.proving import verify_file

__all__ = ["kitchen"]  # a fixture
FAULTS = (("sync", errno.EIO), ("write", errno.ENOSPC))


def test_a_disk_that_is_full_or_fails_from_any_step_on_loses_nothing(
    kitchen: Path, tmp_path: Path
) -> None:
    was = stood(kitchen / "weighd.toml")
    cases = [(step, *fault) for step in STEPS[:-1] for fault in FAULTS]
    asked = "".join(f"{step} {what} {number}\n" for step, what, number in cases)
    done = subprocess.run(
        [sys.executable, "-m", "tests.station.failing_archive", kitchen / "weighd.toml", tmp_path],
        input=asked,
        capture_output=True,
        text=True,
        timeout=60,
        cwd=disk.REPOSITORY,
        env={**os.environ, "LD_PRELOAD": str(disk.build(tmp_path))},
    )
    assert done.returncode == 0, done.stderr
    told = dict(line.split() for line in done.stdout.splitlines())
    assert len(told) == len(cases)
    for n, (step, what, _) in enumerate(cases):
        config = tmp_path / str(n) / "weighd.toml"
        code, out = told[str(n)], config.parent / "old.gz"
        why = f"{step}, {what}: {code}"
        assert stood(config) == was, why
        gone = verify_file(database(config)).report.away
        late = STEPS.index(step) >= STEPS.index("put away")
        due = "store-failed" if late else {"write": "store-full", "sync": "store-io"}[what]
        assert code == due, why
        assert not list(config.parent.glob("*.part")), why
        if gone:  # it was put away, and only the room not given back
            assert late, why
            assert verify_with(database(config), [], [], [out]).report.batches == 3, why
            continue
        assert not late, why
        if out.exists():
            assert verify_archive_file(out).report.batches == 2, why
            out.unlink()
        away(config)  # once the disk is well it goes as always
        assert verify_with(database(config), [], [], [out]).report.batches == 3, why
