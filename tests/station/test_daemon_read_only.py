"""The file system under a running daemon becomes read-only, as after an error of its disk.

``mount -o remount,ro`` is refused while the record is open for writing. An ext4 on a loop device
can be told to stop as after an error (``abort``): from then on every write to it fails with EROFS.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.pty_scale import PtyScale
from tests.station.daemon import FAST, QUICK, Cook, Served, kitchen
from weighd.main.proving import verify_file


def command(*words: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*map(str, words)], capture_output=True, text=True, timeout=30)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """The folder on a file system of its own."""
    folder, image = tmp_path / "disk", tmp_path / "image"
    folder.mkdir()
    if os.geteuid() != 0 or shutil.which("mkfs.ext4") is None:
        pytest.skip("a file system of one's own takes root and mkfs.ext4")
    with image.open("wb") as file:
        file.truncate(16 * 2**20)
    assert command("mkfs.ext4", "-q", "-F", image).returncode == 0
    mounted = command("mount", "-o", "loop", image, folder)
    if mounted.returncode:
        pytest.skip(f"no file may be mounted here: {mounted.stderr.strip()}")
    yield folder
    command("umount", "-l", folder)


def test_nothing_is_accepted_while_it_is_and_afterwards_once(tmp_path: Path, disk: Path) -> None:
    with (
        PtyScale(tmp_path / "scale", QUICK, speed=FAST) as scale,
        Served(kitchen(tmp_path), "--data", disk, speed=FAST) as daemon,
    ):
        cook = Cook(daemon, scale)
        cook.start()
        cook.vessel()
        cook.weigh(1)
        assert command("mount", "-o", "remount,ro", disk).returncode != 0, "then this is simpler"
        stopped = command("mount", "-o", "remount,abort", disk)
        if stopped.returncode:
            pytest.skip(f"it cannot be told to stop here: {stopped.stderr.strip()}")
        cook.fill(2)
        cook.judged()
        for _ in range(2):
            answer = cook.press("accept", key="press-1", addition=2)
            # SQLite passes a write that failed on as that, whatever made it fail.
            assert (answer.status_code, answer.json()["code"]) == (503, "store-io")
            assert answer.json()["remedy"]
        seen = daemon.state()
        assert seen["station"]["store"]["code"] == "store-io"
        assert seen["batch"]["current"] == 2
        assert daemon.get("/api/health")["status"] == "degraded"
        kinds = [one["kind"] for one in cook.record()["entries"]]
        assert kinds == ["batch opened", "tared", "addition accepted"], "what is there is read"
        daemon.stop()
        # Somebody sees to the disk, and the station is started again.
        assert command("umount", disk).returncode == 0
        assert command("e2fsck", "-fy", tmp_path / "image").returncode <= 1
        assert command("mount", "-o", "loop", tmp_path / "image", disk).returncode == 0
        daemon.begin()
        cook.judged()
        assert cook.press("accept", key="press-1", addition=2).status_code == 200
        kinds = [one["kind"] for one in cook.record()["entries"]]
        assert kinds.count("addition accepted") == 2
        assert kinds[:4] == ["batch opened", "tared", "addition accepted", "restarted"]
        assert daemon.stop() == 0
        assert verify_file(disk / "weighd.db").report.weighings == 2
        assert "Traceback" not in daemon.log()
