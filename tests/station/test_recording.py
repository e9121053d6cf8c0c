"""A recording may go on for as long as the station does: in files that together stay bounded, each
of which replays by itself."""

from __future__ import annotations

import inspect
import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import httpx
import pytest

from tests.forked import run
from tests.pty_scale import PtyScale
from tests.station.daemon import FAST, QUICK, Cook, Served, kitchen, until
from weighd.cli.serve import RECORD_MB
from weighd.domain.batch import Status
from weighd.domain.errors import SessionError
from weighd.main import recording
from weighd.main.recording import Recording, quiet
from weighd.station.inputs import Command, Heard
from weighd.station.session import Header, read
from weighd.storage.session_file import session_lines

HEADER = Header({"bench": {"driver": "serial"}})


def heard(t: float) -> Heard:
    return Heard(t, "bench", bytes(50))


def answers(daemon: Served) -> bool:
    """Whether somebody answers: a connection that was there is cut when the station begins anew."""
    try:
        return bool(daemon.get("/api/health"))
    except httpx.TransportError:
        return False


def test_while_nobody_weighs_another_file_begins_and_each_replays(tmp_path: Path) -> None:
    session, following = tmp_path / "day.jsonl", tmp_path / "day-2.jsonl"
    more = ("--record", session, "--record-mb", 0.3)
    with (
        PtyScale(tmp_path / "scale", QUICK, speed=FAST) as scale,
        Served(kitchen(tmp_path), *more, speed=FAST) as daemon,
    ):
        cook, records = Cook(daemon, scale), []
        for file in (session, following):
            cook.start()
            cook.weigh_all()
            records.append((file, cook.record()["entries"]))
            scale.bench.lift()
            if file == session:
                # The page is where it was: another station stands behind it.
                until(following.exists, 60, daemon.log)
                until(lambda: answers(daemon), 20, daemon.log)
        assert daemon.stop() == 0
    assert "the recording goes on in another file" in daemon.log()
    assert sum(one.stat().st_size for one in tmp_path.glob("day*.jsonl")) <= 300_000
    for file, entries in records:
        replayed = run("replay", file)
        assert replayed.returncode == 0, replayed.stderr
        assert json.loads(replayed.stdout)["entries"] == entries


def test_all_files_of_a_recording_together_stay_below_what_they_may_come_to(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    most, first = 10_000, tmp_path / "day.jsonl"
    (tmp_path / "day-3.jsonl").write_text("of another day\n")
    made = Recording(first, most / 1e6)
    seen = []
    for _ in range(4):
        file = made.begin(HEADER)
        seen.append(file.path.name)
        assert not file.due
        t = 0.0
        while not file.due:
            file.write(heard(t := t + 1))
            ours = [tmp_path / name for name in seen]
            assert sum(one.stat().st_size for one in ours if one.exists()) <= most
        file.close()
        assert not file.failed
    assert seen == ["day.jsonl", "day-2.jsonl", "day-4.jsonl", "day-5.jsonl"]
    left = sorted(one.name for one in tmp_path.iterdir())
    assert left == ["day-3.jsonl", "day-5.jsonl"], "the one before went as the newest grew"
    assert (tmp_path / "day-3.jsonl").read_text() == "of another day\n"
    _, inputs = read(session_lines(tmp_path / "day-5.jsonl"))
    assert next(inputs) == heard(1)


def test_one_that_nobody_pauses_for_ends_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[tuple[Path, str]] = []
    monkeypatch.setattr(recording, "_ended", lambda path, why: told.append((path, why)))
    made = Recording(tmp_path / "day.jsonl", 0.01)
    before = made.begin(HEADER)
    before.write(heard(0))
    before.close()
    file = made.begin(HEADER)
    for t in range(200):
        file.write(heard(t))
    file.close()
    assert not before.path.exists()
    assert 9_800 < file.path.stat().st_size <= 10_000
    assert told == [(file.path, "it has come to the 10000 bytes that it may have")]
    assert file.due, "the next one begins once nobody weighs"
    _, inputs = read(session_lines(file.path))
    assert [one.t for one in inputs] == list(range(file.path.read_bytes().count(b"\n") - 1))


def test_one_whose_beginning_takes_all_the_room_does_not_begin_anew_again_and_again(
    tmp_path: Path,
) -> None:
    file = Recording(tmp_path / "day.jsonl", 0.01).begin(Header({}, note="x" * 6_000))
    for t in range(200):
        file.write(heard(t))
    file.close()
    assert file.failed and not file.due


def test_a_recording_writes_over_nothing(tmp_path: Path) -> None:
    for name in ("day.jsonl", "day-2.jsonl"):
        (tmp_path / name).write_text("of another day\n")
    made = Recording(tmp_path / "day.jsonl", 0.01)
    for name in ("day-3.jsonl", "day-4.jsonl"):
        file = made.begin(HEADER)
        assert file.path.name == name
        for t in range(200):
            file.write(heard(t))
        file.close()
    left = sorted(one.name for one in tmp_path.iterdir())
    assert left == ["day-2.jsonl", "day-4.jsonl", "day.jsonl"]
    assert (tmp_path / "day.jsonl").read_text() == "of another day\n"


def test_one_that_cannot_be_written_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SessionError, match="cannot be written"):
        Recording(tmp_path / "nowhere" / "day.jsonl").begin(HEADER)


@pytest.mark.parametrize(
    ("status", "checked", "t", "so"),
    [
        (None, "", 100.0, True),
        (Status.CLOSED, "", 100.0, True),
        (Status.IN_PROCESS, "", 100.0, True),
        (Status.OPEN, "", 100.0, False),
        (None, "bench", 100.0, False),
        (None, "", 29.0, False),
    ],
)
def test_a_station_begins_anew_only_while_nobody_would_miss_it(
    tmp_path: Path, status: Status | None, checked: str, t: float, so: bool
) -> None:
    station: Any = SimpleNamespace(
        batch=None if status is None else SimpleNamespace(status=status),
        checking=SimpleNamespace(holds=lambda name: name == checked),
        scales=["bench"],
        t=t + 7,
    )
    file = Recording(tmp_path / "day.jsonl").begin(HEADER)
    file.write(Command(7.0, "dismiss"))
    file.write(heard(50))
    file.close()
    assert quiet(station, file.asked_s) is so


def test_what_help_says_is_what_holds() -> None:
    assert RECORD_MB.default == recording.MOST_MB
    assert inspect.signature(Recording).parameters["most_mb"].default == recording.MOST_MB
    said = " ".join(run("serve", "--help").stdout.replace("│", " ").split())
    assert "--record-mb" in said and "then FILE-2 and so on" in said


def test_a_scale_is_recorded_up_to_what_was_asked_for(tmp_path: Path) -> None:
    session = tmp_path / "pour.jsonl"
    with PtyScale(tmp_path / "scale", QUICK):
        config = kitchen(tmp_path)
        done = run("record", "bench", session, "--mb", "0.01", "--config", config)
    assert done.returncode == 0, done.stderr
    assert "the recording stopped short: it has come to the 10000 bytes" in done.stderr
    assert session.stat().st_size <= 10_000
    assert run("decode", session).returncode == 0
