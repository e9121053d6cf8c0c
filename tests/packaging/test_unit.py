"""The systemd unit: systemd itself finds nothing wrong with it, and little that it leaves open."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from tests.packaging.tools import tool

UNIT = Path(__file__).parents[2] / "packaging" / "systemd" / "weighd.service"
#: Tenths of systemd's own score of exposure: 0 is shut, 100 is open.
MOST_EXPOSED = 25


@pytest.fixture
def unit(tmp_path: Path) -> Path:
    """The unit as it is installed, but for a program that is here."""
    text = UNIT.read_text("utf-8")
    assert text.count("/usr/bin/weighd ") == 1
    copy = tmp_path / UNIT.name
    copy.write_text(text.replace("/usr/bin/weighd ", "/bin/true "), "utf-8")
    return copy


def analyze(*asked: object) -> subprocess.CompletedProcess[str]:
    command = [tool("systemd-analyze"), *map(str, asked)]
    return subprocess.run(command, capture_output=True, text=True, timeout=60)


def test_every_line_of_it_is_understood(unit: Path) -> None:
    said = analyze("verify", "--man=no", unit)
    # It ends with 0 on keys that it does not know, and says so.
    assert (said.returncode, said.stderr.strip()) == (0, "")
    unit.write_text(unit.read_text("utf-8").replace("PrivateTmp", "PrivatTmp"), "utf-8")
    assert "PrivatTmp" in analyze("verify", "--man=no", unit).stderr


def test_it_leaves_little_open(unit: Path) -> None:
    said = analyze("security", "--offline=yes", f"--threshold={MOST_EXPOSED}", unit)
    assert said.returncode == 0, said.stdout[-2000:]
    score = re.search(r"exposure level for \S+: ([\d.]+)", said.stdout)
    assert score is not None
    assert 0 < float(score[1]) <= MOST_EXPOSED / 10
    unit.write_text("[Service]\nExecStart=/bin/true\n", "utf-8")
    open_one = analyze("security", "--offline=yes", f"--threshold={MOST_EXPOSED}", unit)
    assert open_one.returncode != 0


def test_it_says_what_the_daemon_counts_on() -> None:
    text = UNIT.read_text("utf-8")
    for line in (
        "Type=notify",
        "NotifyAccess=main",
        "User=weighd",
        "SupplementaryGroups=dialout",
        "Restart=on-failure",
        "FileDescriptorStoreMax=2",
        "DevicePolicy=closed",
        "WantedBy=multi-user.target",
    ):
        assert f"\n{line}\n" in text, line
    assert re.search(r"^WatchdogSec=\d+$", text, re.MULTILINE)
