"""The daemon as a process: a batch from start to record over REST, watched like a page does."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import threading
import time
import tty
from collections.abc import Mapping
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.forked import run
from tests.pty_scale import PtyScale
from tests.station.daemon import FAST, QUICK, TARGETS, VESSEL_G, Cook, Served, Watcher, kitchen
from weighd.domain.errors import RecordError
from weighd.main.proving import verify_file

#: What an accepted addition must hold to be an as-weighed record of it.
FIELDS = [
    "ingredient",
    "lot",
    "target_g",
    "low_g",
    "high_g",
    "net_g",
    "tare_g",
    "gross_g",
    "u_g",
    "verdict",
    "rule",
    "scale",
    "interval_g",
    "operator",
    "started",
    "accepted",
    "evidence",
]


def accepted_in(database: Path) -> set[int]:
    """The additions that stand in the record, seen from outside the daemon."""
    with closing(sqlite3.connect(f"{database.as_uri()}?mode=ro", uri=True)) as connection:
        rows = connection.execute("SELECT body FROM entry WHERE kind = 'addition accepted'")
        return {json.loads(body)["addition"] for (body,) in rows}


def accepted_by(frame: Mapping[str, Any]) -> set[int]:
    """The additions that a frame shows as accepted."""
    batch = frame.get("state", frame).get("batch")
    return (
        {one["n"] for one in batch["additions"] if one["status"] == "accepted"} if batch else set()
    )


def test_a_whole_batch_is_weighed_shown_kept_and_verified(tmp_path: Path) -> None:
    shown: list[set[int]] = []

    with PtyScale(tmp_path / "scale", QUICK) as scale, Served(kitchen(tmp_path)) as daemon:
        assert daemon.took_s < 4, "a cook does not wait for a station to start"

        def in_the_record_before_it_is_shown(frame: Mapping[str, Any]) -> None:
            shown.append(accepted_by(frame))
            assert shown[-1] <= accepted_in(daemon.database)

        cook = Cook(daemon, scale)
        with Watcher(daemon.address, in_the_record_before_it_is_shown) as page:
            batch = cook.start()
            assert batch == "kitchen-0001"
            cook.vessel()
            cook.do("name lot", lot="PEAR-42", addition=1)
            entries = [cook.weigh(n) for n in (1, 2, 3)]
            state = daemon.wait(lambda s: s["batch"]["status"] == "closed")
            time.sleep(0.1)
        _as_a_page_sees_it(page, state)
        assert {1, 2, 3} in shown
        record = cook.record()
        _as_a_program_sees_it(daemon, batch)
        exported = run("export", batch, "--database", daemon.database)
        assert exported.returncode == 0, exported.stderr
        assert json.loads(exported.stdout) == record
        running = run("verify", daemon.database)
        assert running.returncode == 0, running.stderr
        assert daemon.stop() == 0
    assert sorted(one.name for one in daemon.database.parent.iterdir()) == [
        "station-key.pem",
        "weighd.db",
        "weighd.db.lock",
        "weighd.start",
    ]
    _as_the_record_keeps_it(record, entries)
    _as_anybody_can_verify_it(record, daemon.database, tmp_path)


def _as_a_page_sees_it(page: Watcher, state: Mapping[str, Any]) -> None:
    first, *later = page.frames
    assert first["kind"] == "snapshot"
    assert {one["kind"] for one in later} <= {"change", "beat"}
    numbers = [one["seq"] for one in page.frames]
    assert numbers == sorted(numbers)
    for section in ("batch", "live", "station"):
        assert page.picture[section] == state[section], section
    phases = page.phases()
    assert phases[:3] == ["1 awaiting vessel", "1 ready", "1 pouring"]
    for n in (1, 2, 3):
        own = [one for one in phases if one.startswith(f"{n} ")]
        assert own.index(f"{n} ready") < own.index(f"{n} pouring") < own.index(f"{n} judged")
    nets = [
        Decimal(one["live"]["net_g"])
        for one in later
        if one.get("live") and one["live"]["addition"] == 1 and one["live"]["net_g"]
    ]
    assert nets[-1] == Decimal("500.0")
    assert len(set(nets)) > 5, "what is poured is shown while it is poured"


def _as_a_program_sees_it(daemon: Served, batch: str) -> None:
    (row,) = daemon.get("/api/batches")["batches"]
    assert (row["id"], row["status"], row["accepted"], row["operator"]) == (
        batch,
        "closed",
        3,
        "Tester",
    )
    drawn = daemon.get(f"/api/batches/{batch}")["batch"]
    assert drawn == daemon.state()["batch"]
    assert [one["net_g"] for one in drawn["additions"]] == ["500.0", "120.0", "20.0"]
    assert daemon.get("/api/health")["status"] == "ok"
    assert daemon.ask("GET", "/api/batches/kitchen-0002").status_code == 404


def _as_the_record_keeps_it(record: Mapping[str, Any], entries: list[int]) -> None:
    kinds = [one["kind"] for one in record["entries"]]
    assert kinds == [
        "batch opened",
        "tared",
        "lot named",
        *["addition accepted"] * 3,
        "batch closed",
    ]
    accepted = [one for one in record["entries"] if one["kind"] == "addition accepted"]
    assert [one["seq"] for one in accepted] == entries
    tare = Decimal(str(VESSEL_G))
    for entry, target in zip(accepted, TARGETS, strict=True):
        body = entry["body"]
        assert set(FIELDS) <= set(body)
        assert Decimal(body["target_g"]) == target
        assert Decimal(body["tare_g"]) == tare
        assert Decimal(body["gross_g"]) - Decimal(body["tare_g"]) == Decimal(body["net_g"])
        # The bench has neither noise nor drops: what was tapped is what was weighed, to a digit.
        assert abs(Decimal(body["net_g"]) - target) <= Decimal("0.1")
        assert Decimal(body["low_g"]) < Decimal(body["net_g"]) < Decimal(body["high_g"])
        assert (body["verdict"], body["reason"], body["operator"]) == ("on target", "", "Tester")
        assert (body["scale"], body["interval_g"]) == ("bench", "0.1")
        assert body["started"] < body["accepted"] == entry["at"]
        # d / sqrt(12) for each of two readings (JCGM 100:2008, F.2.2.1), from memory: 0.041 g.
        assert Decimal("0.0408") <= Decimal(body["u_g"]) < Decimal("0.05")
        raw = [bytes.fromhex(one["raw"]) for one in body["evidence"]["gross"]]
        assert all(body["gross_g"].encode() in one for one in raw[-3:])
        tare = Decimal(body["gross_g"])
    assert [one["body"]["lot"] for one in accepted] == ["PEAR-42", "", ""]


def _as_anybody_can_verify_it(record: Mapping[str, Any], database: Path, folder: Path) -> None:
    export = folder / "record.json"
    export.write_text(json.dumps(record))
    for file in (export, database):
        done = run("verify", file)
        assert (done.returncode, done.stderr) == (0, "")
        assert "3 weighings re-derived" in done.stdout
    forged = folder / "forged.json"
    forged.write_text(export.read_text().replace('"net_g": "120.0"', '"net_g": "121.0"'))
    assert forged.read_text() != export.read_text()
    done = run("verify", forged)
    assert (done.returncode, done.stdout) == (1, "")
    assert "changed after it was written" in done.stderr
    for change, code in (
        ("UPDATE entry SET body = replace(body, '120.0', '120.1') WHERE seq = 5", "hash-mismatch"),
        ("UPDATE entry SET at = replace(at, 'T', 't') WHERE seq = 2", "hash-mismatch"),
        ("UPDATE entry SET hash = replace(hash, '0', '1') WHERE seq = 3", "hash-mismatch"),
        ("DELETE FROM entry WHERE seq = 4", "entry-missing"),
    ):
        copy = folder / "copy.db"
        shutil.copyfile(database, copy)
        with closing(sqlite3.connect(copy)) as connection, connection:
            assert connection.execute(change).rowcount == 1
        with pytest.raises(RecordError) as caught:
            verify_file(copy)
        assert caught.value.code == code, change
    changed = run("verify", copy)
    assert changed.returncode == 1
    assert "Entry 4 should come here" in changed.stderr


def test_an_over_pour_is_held_taken_out_of_and_accepted(tmp_path: Path) -> None:
    with (
        PtyScale(tmp_path / "scale", QUICK, speed=FAST) as scale,
        Served(kitchen(tmp_path), speed=FAST) as daemon,
    ):
        cook = Cook(daemon, scale)
        cook.start()
        cook.vessel()
        assert cook.refused("accept") == "nothing-poured"
        scale.bench.tap(512)
        held = daemon.wait(lambda s: s["live"]["held"])["live"]
        assert (held["phase"], held["held"]["cause"], held["verdict"]) == ("held", "over", "over")
        assert "accept" not in held["can"]
        assert {"take out", "accept with reason"} <= set(held["can"])
        assert cook.refused("accept", addition=1) == "needs-reason"
        assert cook.refused("top up") == "not-now"
        cook.do("take out", addition=1)
        scale.bench.take(12)
        cook.judged()
        entry = cook.do("accept", addition=1)
        assert cook.refused("accept", addition=1) == "already-accepted"
        entries = cook.record()["entries"]
    assert [one["kind"] for one in entries[2:]] == ["held", "decided", "addition accepted"]
    assert entries[-1]["seq"] == entry
    assert entries[-1]["body"]["net_g"] == "500.0"
    assert entries[2]["body"]["sum_g"] == "512.0"


class Asked:
    """A scale on a tty that speaks only when it is asked with ``W``."""

    def __init__(self, link: Path) -> None:
        self.shown = "0.0"
        self.asked = 0
        self.unasked = b""
        self._master, slave = os.openpty()
        tty.setraw(self._master)
        link.symlink_to(os.ttyname(slave))
        self._slave = slave
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._answer, daemon=True)
        self._thread.start()

    def _answer(self) -> None:
        os.set_blocking(self._master, False)
        waiting = b""
        while not self._stop.wait(0.005):
            try:
                waiting += os.read(self._master, 64)
            except BlockingIOError:
                continue
            while b"W\r\n" in waiting:
                before, _, waiting = waiting.partition(b"W\r\n")
                self.unasked += before
                self.asked += 1
                os.write(self._master, f"ST,+{self.shown:>9} g\r\n".encode())

    def close(self) -> None:
        self._stop.set()
        self._thread.join(2)
        os.close(self._slave)
        os.close(self._master)


def test_a_scale_that_speaks_only_when_asked_is_asked_and_weighs(tmp_path: Path) -> None:
    scale = Asked(tmp_path / "scale")
    extra = 'max_g = 6000\nrequest = "W\\r\\n"\nrequest_every_s = 0.05'
    with closing(scale), Served(kitchen(tmp_path, extra)) as daemon:
        daemon.wait(lambda s: s["scales"]["bench"]["link"] == "live")
        answer = daemon.ask("POST", "/api/batches", {"formula": "test-ice", "operator": "Tester"})
        path = f"/api/batches/{answer.json()['batch']}/commands"
        scale.shown = "250.0"
        daemon.wait(lambda s: "tare" in s["live"]["can"])
        assert daemon.ask("POST", path, {"do": "tare"}).status_code == 200
        scale.shown = "749.8"
        seen = daemon.wait(lambda s: s["live"]["verdict"])
        assert (seen["live"]["net_g"], seen["live"]["verdict"]) == ("499.8", "on target")
        assert daemon.ask("POST", path, {"do": "accept"}).status_code == 200
        bench = daemon.state()["scales"]["bench"]
        assert (bench["link"], bench["rejected"]) == ("live", 0)
        assert 10 < bench["readings"] <= scale.asked
    assert scale.unasked == b""


def test_stopped_in_the_middle_it_goes_on_where_it_was(tmp_path: Path) -> None:
    with (
        PtyScale(tmp_path / "scale", QUICK, speed=FAST) as scale,
        Served(kitchen(tmp_path), speed=FAST) as daemon,
    ):
        cook = Cook(daemon, scale)
        cook.start()
        cook.vessel()
        cook.weigh(1)
        cook.fill(2)
        assert daemon.stop() == 0
        assert not daemon.database.with_name("weighd.db-wal").exists()
        daemon.begin()
        seen = cook.judged()
        assert [one["code"] for one in seen["station"]["notices"]] == ["restarted"]
        assert seen["batch"]["current"] == 2
        cook.do("accept", addition=2)
        record = cook.record()
        assert daemon.stop() == 0
    kinds = [one["kind"] for one in record["entries"]]
    assert kinds[2:] == ["addition accepted", "restarted", "addition accepted"]
    nets = [one["body"]["net_g"] for one in record["entries"] if "net_g" in one["body"]]
    assert nets == ["500.0", "120.0"]
    verify_file(daemon.database)
