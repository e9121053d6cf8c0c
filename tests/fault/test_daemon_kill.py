"""The daemon killed in the middle of a batch: what it answered is kept, the rest is whole.

A kill (SIGKILL) takes the process away between two instructions; the disk keeps what the system
was given. Power cuts are the business of the storage tests.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import threading
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.dose import dose
from tests.pty_scale import PtyScale
from tests.station.daemon import (
    FAST,
    QUICK,
    TARGETS,
    VESSEL_G,
    Cook,
    Served,
    Watcher,
    kitchen,
    until,
    vessel_stands,
)
from weighd.domain.record import Entry
from weighd.main.proving import verify_file
from weighd.storage.journal import open_read_only

SEED = 20261125
KITCHENS = dose(1, 2)
#: Kills of each that must find a batch open; others come before it is started, or after it ended.
KILLS, MOST_KILLS = dose(3, 6), 20


class Patient(Cook):
    """A cook who looks, does the next thing, and presses again with the same key if need be.

    ``answers`` holds what the station said was done: key to number of the entry.
    """

    def __init__(self, daemon: Served, scale: PtyScale) -> None:
        super().__init__(daemon, scale)
        self.answers: dict[str, int | None] = {}
        self.pressing = threading.Event()
        self._vessel_for = 0
        self._filled: set[tuple[str, int]] = set()

    def ready(self) -> int | None:
        """Do the next thing; the addition that now has only to be accepted, if one has."""
        time.sleep(0.01)
        state = self.daemon.state()
        live = state["live"]
        if live is None:
            if state["scales"]["bench"]["link"] == "live":
                self._next_batch()
            return None
        self.batch = live["batch"]
        if live["phase"] == "awaiting vessel" and vessel_stands(live):
            self.keyed("tare", 1)
        elif live["phase"] == "ready" and (live["batch"], live["addition"]) not in self._filled:
            self._filled.add((live["batch"], live["addition"]))
            self.fill(live["addition"])
        settled = live["phase"] == "judged" and live["verdict"] == "on target"
        return live["addition"] if settled else None

    def step(self) -> None:
        """Look, and do one thing."""
        addition = self.ready()
        if addition is not None:
            self.keyed("accept", addition)

    def keyed(self, do: str, addition: int) -> httpx.Response:
        """A press whose key is the same however often it is sent."""
        key = f"{self.batch} {do} {addition}"
        self.pressing.set()
        answer = self.press(do, key, addition=addition)
        if answer.status_code == 200:
            self.answers[key] = answer.json()["entry"]
        else:  # the scale moved between the look and the press: look again
            assert answer.json()["code"] in {"not-settled", "nothing-poured"}, answer.text
        return answer

    def _next_batch(self) -> None:
        number = len(self.daemon.get("/api/batches")["batches"]) + 1
        if self._vessel_for != number:
            self._vessel_for = number
            self.bench.lift()
            until(lambda: not self.bench.picture()["vessel_on"])
            self.bench.vessel(VESSEL_G)
        key = f"start {number}"
        self.pressing.set()
        body = {"formula": "test-ice", "operator": "Tester"}
        answer = self.daemon.ask("POST", "/api/batches", body, key)
        assert answer.status_code in (200, 201), answer.text
        self.answers[key] = None


def kept(database: Path, answers: dict[str, int | None]) -> list[Entry]:
    """The record left behind: whole, with all that was answered, and nothing twice."""
    verify_file(database)
    journal = open_read_only(database)
    entries = list(journal.entries())
    journal.close()
    keys = Counter(one.body["key"] for one in entries if "key" in one.body)
    assert not keys or max(keys.values()) == 1
    assert set(answers) <= set(keys), "something that was answered is gone"
    for key, seq in answers.items():
        assert seq is None or entries[seq - 1].body["key"] == key
    for batch in {one.body["batch"] for one in entries}:
        kinds = [one.kind for one in entries if one.body["batch"] == batch]
        # The last addition and the end of the batch are one step: never the one without the other.
        assert kinds.count("batch closed") == (kinds.count("addition accepted") == len(TARGETS))
    return entries


def is_open(entries: list[Entry]) -> bool:
    return bool(entries) and entries[-1].kind != "batch closed"


def goes_on(daemon: Served, entries: list[Entry]) -> None:
    """A station started on ``entries`` stands where they end, and says so."""
    if not is_open(entries):
        assert daemon.state()["batch"] is None
        return
    state = daemon.wait(lambda s: s["station"]["notices"])
    batch = entries[-1].body["batch"]
    own = [one.kind for one in entries if one.body["batch"] == batch]
    done = own.count("addition accepted")
    assert (state["batch"]["id"], state["batch"]["current"]) == (batch, done + 1)
    shown = [one["status"] == "accepted" for one in state["batch"]["additions"]]
    assert shown == [n <= done for n in range(1, len(TARGETS) + 1)]
    assert [one["code"] for one in state["station"]["notices"]] == ["restarted"]


def finish(cook: Patient) -> list[Entry]:
    """Weigh on to the end of the batch, stop, and give the record."""
    cook.step()
    until(lambda: cook.step() or cook.daemon.state()["live"] is None, 20)
    assert cook.daemon.stop() == 0
    entries = kept(cook.daemon.database, cook.answers)
    assert not is_open(entries)
    for one in entries:
        if one.kind == "addition accepted":
            off = float(one.body["net_g"]) - float(one.body["target_g"])
            assert abs(off) <= 0.2, one.body
    return entries


def lives(folder: Path, seed: int) -> None:
    """Batches on one station that is killed again and again."""
    chance, restarts = random.Random(seed), 0
    folder.mkdir()
    with (
        PtyScale(folder / "scale", QUICK, seed=seed, speed=FAST) as scale,
        Served(kitchen(folder), speed=FAST) as daemon,
        ThreadPoolExecutor(1) as hands,
    ):
        cook = Patient(daemon, scale)
        for kill in range(MOST_KILLS):
            if restarts == KILLS:
                break
            stop = threading.Event()
            cook.pressing.clear()
            working = hands.submit(_work, cook, stop)
            if kill % 2:
                time.sleep(chance.uniform(0.2, 2.2))
            else:  # near a press, where a commit is on its way
                cook.pressing.wait(8)
                time.sleep(chance.uniform(0, 0.02))
            daemon.kill()
            stop.set()
            working.result(15)
            entries = kept(daemon.database, cook.answers)
            restarts += is_open(entries)
            daemon.begin()
            goes_on(daemon, entries)
        entries = finish(cook)
    assert sum(one.kind == "restarted" for one in entries) == restarts == KILLS


def _work(cook: Patient, stop: threading.Event) -> None:
    with suppress(httpx.TransportError):
        while not stop.is_set():
            cook.step()


# --- exactly at a call to the system ---------------------------------------------------------


@contextmanager
def traced(pid: int, folder: Path, inject: str, *, threads: bool = True) -> Iterator[None]:
    """The process under strace, which acts on the calls that ``inject`` names.

    ``threads``  all of them (each counts for itself), or only the one the process began with.
    """
    calls = inject.partition(":")[0]
    command = ["strace", "-qq", "-o", str(folder / "trace"), "-p", str(pid)]
    command += ["-f"] if threads else []
    command += ["-e", f"trace={calls}", "-e", f"inject={inject}"]
    tracer = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    assert tracer.stderr is not None
    try:
        until(lambda: tracer.poll() is not None or _is_traced(pid, threads=threads), 5)
        if tracer.poll() is not None and Path(f"/proc/{pid}/exe").exists():
            why = tracer.stderr.read()
            assert "not permitted" in why, why
            pytest.skip(f"no process may be traced here, nor killed at an exact call: {why}")
        yield
    finally:
        if tracer.poll() is None:
            tracer.terminate()
        tracer.wait(5)
        tracer.stderr.close()


def _is_traced(pid: int, *, threads: bool) -> bool:
    tasks = Path(f"/proc/{pid}/task").iterdir() if threads else [Path(f"/proc/{pid}")]
    return all("TracerPid:\t0\n" not in (one / "status").read_text() for one in tasks)


def judged(cook: Patient) -> int:
    """Work until an addition has only to be accepted; its number."""
    found: list[int] = []
    until(lambda: found.extend(n for n in [cook.ready()] if n is not None) or found, 10)
    return found[0]


def exactly(folder: Path) -> None:
    """Accepting, with the daemon killed at a chosen call to the system."""
    if shutil.which("strace") is None:
        pytest.skip("strace is missing: a kill at an exact call is not tried here")
    folder.mkdir()
    config = kitchen(folder, "max_g = 6000\nsilent_after_s = 20")
    with (
        PtyScale(folder / "scale", QUICK, speed=FAST) as scale,
        Served(config, speed=FAST) as daemon,
    ):
        cook = Patient(daemon, scale)
        shown_only_when_durable(cook, folder)
        # The sync that makes the commit durable is not begun.
        killed_at(cook, folder, "fdatasync:signal=SIGKILL:when=1")
        # It is done, but nobody in the process knows yet.
        untold = killed_at(cook, folder, "fdatasync:delay_exit=3s:when=1")
        assert untold, "what was synced is there, though nobody was told"
        # A thread wakes the loop: the key was looked up, and nothing begun.
        killed_at(cook, folder, "sendto:signal=SIGKILL:when=1")
        # The loop's own thread sends the answer. On a busy machine it wakes itself by the same
        # call before the commit: then another try.
        tries = (
            killed_at(cook, folder, "sendto:signal=SIGKILL:when=1", threads=False)
            for _ in range(12)
        )
        assert any(tries), f"the answer comes after the commit: {(folder / 'trace').read_text()}"
        finish(cook)


def killed_at(cook: Patient, folder: Path, inject: str, *, threads: bool = True) -> bool:
    """Accept with the daemon killed at this call; whether it was recorded and not answered."""
    daemon, n = cook.daemon, judged(cook)
    cook.bench.hush()  # a report of the scale wakes the loop too
    time.sleep(0.1)
    while daemon.state()["live"]["phase"] != "judged":  # what it showed last was no rest
        cook.bench.hush(quiet=False)
        judged(cook)
        cook.bench.hush()
        time.sleep(0.1)
    key, before = f"{cook.batch} accept {n}", len(kept(daemon.database, cook.answers))
    with traced(daemon.pid, folder, inject, threads=threads), ThreadPoolExecutor(1) as hand:
        pressed = hand.submit(cook.keyed, "accept", n)
        if "delay" in inject:
            until(lambda: "DELAYED" in (folder / "trace").read_text())
            assert not pressed.done(), "answered before the sync had returned"
            daemon.kill()
        with suppress(httpx.TransportError):
            assert pressed.result(10).status_code == 200
        until(lambda: daemon.ended, 5)
    cook.bench.hush(quiet=False)
    entries = kept(daemon.database, cook.answers)
    made = [one.body.get("addition") for one in entries[before:]]
    assert made[:1] in ([], [n])
    daemon.begin()
    goes_on(daemon, entries)
    told = key in cook.answers
    if made:  # pressed again with the same key: answered with what was done
        again = cook.press("accept", key, addition=n)
        assert (again.status_code, again.json()["entry"]) == (200, before + 1)
    return bool(made) and not told


def shown_only_when_durable(cook: Patient, folder: Path) -> None:
    """With a slow disk: no page sees an addition accepted before its commit is through."""
    n = judged(cook)
    seen: list[float] = []

    def accepted(frame: Any) -> None:
        if (frame.get("batch") or {}).get("current", n) != n:
            seen.append(time.monotonic())

    with (
        Watcher(cook.daemon.address, accepted),
        traced(cook.daemon.pid, folder, "fdatasync:delay_enter=600ms"),
    ):
        began = time.monotonic()
        assert cook.keyed("accept", n).status_code == 200
        answered = time.monotonic()
        until(lambda: seen, 5)
    assert min(seen[0], answered) - began > 0.5


# --- all at the same time: they mostly wait ----------------------------------------------------


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Future[None]]]:
    folder = tmp_path_factory.mktemp("killed")
    print(f"seed {SEED}")
    with ThreadPoolExecutor(KITCHENS + 1) as kitchens:
        yield [
            kitchens.submit(exactly, folder / "traced"),
            *(kitchens.submit(lives, folder / f"kitchen-{n}", SEED + n) for n in range(KITCHENS)),
        ]


def test_killed_between_the_commit_and_the_answer(running: list[Future[None]]) -> None:
    running[0].result(100)


def test_killed_at_any_moment_it_goes_on_from_what_it_answered(
    running: list[Future[None]],
) -> None:
    for one in running[1:]:
        one.result(100)
