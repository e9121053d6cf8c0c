"""``weighd verify`` of archives: nothing that was not looked at is said to hold."""

from __future__ import annotations

import json
from pathlib import Path

from tests.forked import run
from tests.station.test_archiving import away, config, database, kitchen
from weighd.main.proving import head_of

__all__ = ["config", "kitchen"]  # fixtures


def test_an_archive_by_itself_is_held_against_no_head(config: Path) -> None:
    head = config.parent / "head.json"
    head.write_text(json.dumps(head_of(config).as_json()))
    out = away(config).archive
    alone = run("verify", out, "--head", head)
    assert (alone.returncode, alone.stdout) == (1, "")
    assert "cannot be held against a head" in alone.stderr
    both = run("verify", database(config), "--archive", out, "--head", head)
    assert (both.returncode, both.stderr) == (0, "")
    assert "The head that was kept holds" in both.stdout


def test_an_archive_is_always_verified_whole_and_says_so(config: Path) -> None:
    out = away(config).archive
    for asked in ((out, "--chain"), (database(config), "--archive", out, "--chain")):
        done = run("verify", *asked)
        assert (done.returncode, done.stderr) == (0, "")
        assert "re-derived from their evidence" in done.stdout
        assert "was not looked at" not in done.stdout


def test_an_archive_that_would_not_be_looked_at_is_refused(config: Path) -> None:
    out = away(config).archive
    for record in (out, config.parent):
        done = run("verify", record, "--archive", out)
        assert (done.returncode, done.stdout) == (2, "")
        assert "--archive" in done.stderr
