"""Recorded sessions against their golden records: the whole station, replayed."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from tests.forked import run
from weighd.cli.replay import text_of
from weighd.domain.errors import SessionError
from weighd.domain.verify import verify_export
from weighd.main.drivers import reread
from weighd.main.files import replay_file

FOLDER = Path(__file__).parents[2] / "fixtures" / "sessions"
SESSIONS = sorted(FOLDER.glob("*.jsonl"))


def golden(session: Path) -> Path:
    return session.with_name(session.stem + ".golden.json")


def test_there_are_sessions_and_each_has_its_golden_record() -> None:
    assert len(SESSIONS) >= 4
    assert {golden(one) for one in SESSIONS} == set(FOLDER.glob("*.golden.json"))


@pytest.mark.parametrize("session", SESSIONS, ids=lambda one: one.stem)
def test_a_session_replays_to_its_golden_record(session: Path) -> None:
    assert golden(session).exists(), f"{session.name} has no golden record"
    assert text_of(replay_file(session, None)) == golden(session).read_text("utf-8")


@pytest.mark.parametrize("session", SESSIONS, ids=lambda one: one.stem)
def test_a_golden_record_verifies_by_itself(session: Path) -> None:
    document = json.loads(golden(session).read_text("utf-8"))
    report = verify_export(document, reread)
    assert not report.unread
    assert report.checks == len(document.get("checks", []))
    assert report.open_batches == 0
    kinds = [one["kind"] for one in document["entries"]]
    assert report.weighings == kinds.count("addition accepted")


def test_the_sessions_hold_the_awkward_moments() -> None:
    kinds = {
        one.stem: [row["kind"] for row in json.loads(golden(one).read_text("utf-8"))["entries"]]
        for one in SESSIONS
    }
    assert kinds["plain"].count("addition accepted") == 6
    assert {"held", "decided"} <= set(kinds["over-pour"])
    assert kinds["unplugged"].count("held") >= 2
    assert kinds["unplugged"].count("resumed") >= 2
    assert kinds["abandoned"][-1] == "batch abandoned"
    for one in SESSIONS:
        assert "simulated scale over a real pty" in one.read_text("utf-8").splitlines()[0]


def weighd(*arguments: object) -> subprocess.CompletedProcess[str]:
    return run(*arguments)


def test_a_changed_record_shows_as_a_readable_difference(tmp_path: Path) -> None:
    session = FOLDER / "plain.jsonl"
    assert weighd("replay", session, "--check", golden(session)).returncode == 0
    document = json.loads(golden(session).read_text("utf-8"))
    accepted = next(one for one in document["entries"] if one["kind"] == "addition accepted")
    accepted["body"]["verdict"] = "short"
    changed = tmp_path / "changed.json"
    changed.write_text(json.dumps(document), "utf-8")
    found = weighd("replay", session, "--check", changed)
    assert found.returncode == 1
    assert (
        "entries[addition accepted, addition 1].body.verdict: on target, "
        "the golden record has short" in found.stdout
    )


def test_accept_writes_a_new_golden_record(tmp_path: Path) -> None:
    session = FOLDER / "abandoned.jsonl"
    written = tmp_path / "new.golden.json"
    assert weighd("replay", session, "--accept", written).returncode == 0
    assert written.read_text("utf-8") == golden(session).read_text("utf-8")


def test_an_hour_of_session_is_replayed(tmp_path: Path) -> None:
    """The plain session's readings, over and over, until an hour has gone by."""
    rows = (FOLDER / "plain.jsonl").read_text("utf-8").splitlines()
    header, body = rows[0], [json.loads(one) for one in rows[1:]]
    end = body[-1]["t"] + 0.1
    long = tmp_path / "hour.jsonl"
    with long.open("w", encoding="utf-8") as out:
        out.write(header + "\n")
        for turn in range(int(3600 / end) + 1):
            for row in body:
                moved = {**row, "t": round(row["t"] + turn * end, 6)}
                if "command" in row:
                    key = f"{row['command'].get('key', '')}-{turn}"
                    moved["command"] = {**row["command"], "key": key}
                if "clock" not in row or turn == 0:
                    out.write(json.dumps(moved) + "\n")
    record = replay_file(long, None)
    assert record["batch"] == f"mill-{int(3600 / end) + 1:04d}"
    assert record["entries"][-1]["kind"] == "batch closed"


def test_a_recording_cut_off_in_its_last_line_is_replayed_up_to_there(tmp_path: Path) -> None:
    text = (FOLDER / "plain.jsonl").read_text("utf-8")
    cut = tmp_path / "cut.jsonl"
    cut.write_text(text[:-25], "utf-8")
    assert replay_file(cut, None)["entries"]
    cut.write_text(text.rstrip("\n"), "utf-8")  # whole, but for the end of its last line
    assert text_of(replay_file(cut, None)) == golden(FOLDER / "plain.jsonl").read_text("utf-8")
    cut.write_text(text[:-25] + "\n", "utf-8")  # a bad line with an end is no accident of writing
    with pytest.raises(SessionError, match="not JSON"):
        replay_file(cut, None)
