"""What goes wrong around a running daemon: cables, noise, bad files, other people, full disks."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from decimal import Decimal
from itertools import chain
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.forked import run
from tests.pty_scale import PtyScale
from tests.station.daemon import FORMULA, QUICK, Cook, Served, kitchen, until
from weighd.main.proving import verify_file

#: As many as there are tests with a cook.
KITCHENS = 6


def bench(state: dict[str, Any]) -> dict[str, Any]:
    scale: dict[str, Any] = state["scales"]["bench"]
    return scale


@pytest.fixture(scope="module")
def kitchens(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Iterator[Future[Cook]]]:
    """Kitchens with a batch whose vessel is tared, made ready while the tests before them run."""
    with contextlib.ExitStack() as running, ThreadPoolExecutor(2) as pool:

        def ready(folder: Path) -> Cook:
            scale = running.enter_context(PtyScale(folder / "scale", QUICK))
            cook = Cook(running.enter_context(Served(kitchen(folder))), scale)
            cook.start()
            cook.vessel()
            return cook

        def another() -> Future[Cook]:
            return pool.submit(ready, tmp_path_factory.mktemp("kitchen"))

        # And more for what is looked at a second time.
        yield chain([another() for _ in range(KITCHENS)], iter(another, None))


@pytest.fixture
def cook(kitchens: Iterator[Future[Cook]]) -> Iterator[Cook]:
    """A cook in a kitchen of their own, with the vessel tared."""
    cook = next(kitchens).result(30)
    yield cook
    cook.daemon.kill()
    cook.scale.close()


@pytest.fixture
def scale(cook: Cook) -> PtyScale:
    return cook.scale


@pytest.fixture
def daemon(cook: Cook) -> Served:
    return cook.daemon


def test_the_cable_pulled_in_mid_pour_loses_nothing(
    cook: Cook, daemon: Served, scale: PtyScale
) -> None:
    scale.bench.pour(150)
    daemon.wait(lambda s: s["live"]["phase"] == "pouring")
    time.sleep(0.5)
    scale.unplug()
    seen = daemon.wait(lambda s: s["live"]["phase"] == "held")
    assert (bench(seen)["link"], bench(seen)["reading"]) == ("lost", None)
    assert str(scale.link) in bench(seen)["why"]
    assert seen["live"]["held"]["cause"] == "scale lost"
    assert seen["live"]["net_g"] is None
    assert "accept" not in seen["live"]["can"]
    assert cook.refused("accept", addition=1) in {"not-now", "not-settled"}
    assert daemon.get("/api/health")["status"] == "degraded"
    time.sleep(0.3)  # the jug goes on while nobody sees it
    scale.bench.stop()
    until(lambda: not scale.bench.picture()["in_air_g"])
    scale.plug()
    daemon.wait(lambda s: bench(s)["link"] == "live")
    seen = cook.judged("short")
    poured = Decimal(str(scale.bench.picture()["contents_g"]))
    assert abs(Decimal(seen["live"]["net_g"]) - poured) <= Decimal("0.1")
    cook.weigh(1)
    entries = cook.record()["entries"][2:]
    assert [one["kind"] for one in entries] == ["held", "resumed", "addition accepted"]
    assert entries[0]["body"]["cause"] == entries[1]["body"]["cause"] == "scale lost"
    assert entries[2]["body"]["net_g"] == "500.0"


def test_a_scale_that_comes_back_at_zero_asks_for_the_vessel(
    cook: Cook, daemon: Served, scale: PtyScale
) -> None:
    cook.fill(1, short_g="300")
    cook.judged("short")
    scale.unplug()
    daemon.wait(lambda s: s["live"]["phase"] == "held")
    scale.bench.zero()
    scale.plug()
    daemon.wait(lambda s: (s["live"]["held"] or {}).get("cause") == "scale at zero")
    cook.can("resume")  # once the display rests
    cook.do("resume", addition=1)
    cook.fill(1)
    cook.judged()
    cook.do("accept", addition=1)
    body = cook.record()["entries"][-1]["body"]
    assert body["net_g"] == "500.0"
    assert Decimal(body["gross_g"]) < Decimal(301), "what stood on it before is below its zero"


def test_noise_and_half_lines_are_counted_and_never_weighed(
    cook: Cook, daemon: Served, scale: PtyScale
) -> None:
    before = bench(daemon.state())["rejected"]
    cook.fill(1, short_g="200")
    for _ in range(12):
        scale.garbage(30)
        scale.half()
        scale.send(b"\r\nST,+   9999.9 kgg\r\n\x00\xff\r\n")
        time.sleep(0.05)
    seen = daemon.wait(lambda s: bench(s)["rejected"] >= before + 12)
    assert bench(seen)["last_rejected"]
    assert bench(seen)["link"] == "live"
    cook.weigh(1)
    entries = cook.record()["entries"]
    assert [one["kind"] for one in entries[2:]] == ["addition accepted"]
    assert entries[2]["body"]["net_g"] == "500.0"


def test_a_scale_that_falls_silent_is_told_and_shows_nothing_stale(
    cook: Cook, daemon: Served, scale: PtyScale
) -> None:
    cook.fill(1)
    cook.judged()
    scale.silent()
    began = time.monotonic()
    seen = daemon.wait(lambda s: bench(s)["link"] == "silent")
    assert 1.5 < time.monotonic() - began < 3, "silent_after_s is 2"
    assert bench(seen)["reading"] is None
    live = seen["live"]
    assert (live["phase"], live["held"]["cause"]) == ("held", "scale silent")
    assert (live["gross_g"], live["net_g"], live["verdict"]) == (None, None, None)
    assert cook.refused("accept", addition=1) in {"not-now", "not-settled"}
    scale.silent(quiet=False)
    cook.judged()
    cook.do("accept", addition=1)
    assert cook.record()["entries"][-1]["body"]["net_g"] == "500.0"


def test_above_capacity_there_is_no_weight_and_nothing_to_accept(
    cook: Cook, daemon: Served, scale: PtyScale
) -> None:
    scale.bench.tap(200)
    daemon.wait(lambda s: s["live"]["phase"] == "judged")
    scale.bench.tap(5600)  # with its vessel more than the scale's 6000 g
    seen = daemon.wait(lambda s: (bench(s)["reading"] or {}).get("over"))
    assert bench(seen)["reading"]["grams"] is None
    time.sleep(1.2)
    seen = daemon.state()
    assert bench(seen)["phase"] == "disturbed"
    assert (seen["live"]["verdict"], seen["live"]["net_g"]) == (None, None)
    assert cook.refused("accept", addition=1) == "not-settled"
    scale.bench.take(5300)
    cook.judged()
    cook.do("accept", addition=1)
    assert cook.record()["entries"][-1]["body"]["net_g"] == "500.0"


BAD: dict[str, tuple[str | bytes, int | None, str, str]] = {
    "unit": (FORMULA.replace("500 g", "500 stone"), 10, "additions[1].target", "stone"),
    "negative": (FORMULA.replace("120 g", "-120 g"), 14, "additions[2].target", "-120 g"),
    "stranger": (
        FORMULA.replace('"salt"', '"pepper"'),
        17,
        "additions[3].ingredient",
        "pepper",
    ),
    "strict": (FORMULA.replace('"1 %"', '"0 g"'), 11, "additions[1].tolerance", "0 g"),
    "nothing": ("", None, "", "empty"),
    "junk": (b"\x80" * 10_000_000, None, "", "larger than"),
    "broken": ("name = \n", 1, "", "TOML"),
    "latin": (FORMULA.encode().replace(b"Milk", b"Cr\xe8me"), 5, "", "UTF-8"),
}


def test_bad_formula_files_are_told_and_the_good_ones_still_work(
    tmp_path: Path,
) -> None:
    with Served(kitchen(tmp_path)) as daemon:
        _bad_formulas(tmp_path / "formulas", daemon)


def _bad_formulas(folder: Path, daemon: Served) -> None:
    for name, (content, *_) in BAD.items():
        data = content.encode() if isinstance(content, str) else content
        (folder / f"{name}.toml").write_bytes(data)
    script = "<script>alert(1)</script>"
    (folder / "script.toml").write_text(FORMULA.replace("Test ice", script))
    (folder / "Bad Name.toml").write_text(FORMULA)
    (folder / "notes.txt").write_text("not a formula")
    told = daemon.get("/api/formulas")
    assert sorted(one["id"] for one in told["formulas"]) == ["script", "test-ice"]
    # Text is text: the page writes it as such, and the record keeps it letter by letter.
    assert {one["name"] for one in told["formulas"]} == {"Test ice", script}
    problems = {one["file"]: one for one in told["problems"]}
    assert sorted(problems) == sorted(["Bad Name.toml", *(f"{name}.toml" for name in BAD)])
    for name, (_, line, field, words) in BAD.items():
        problem = problems[f"{name}.toml"]
        assert (problem["line"], problem["field"]) == (line, field), problem
        assert words in problem["message"], problem
    assert daemon.ask(
        "POST", "/api/batches", {"formula": "strict", "operator": "Tester"}
    ).status_code in {404, 422}
    (folder / "strict.toml").write_text(FORMULA)  # put right, without a restart
    assert "strict" in {one["id"] for one in daemon.get("/api/formulas")["formulas"]}


def at_once(presses: list[Callable[[], httpx.Response]]) -> list[httpx.Response]:
    """All of these at the same moment, from as many threads."""
    gate = threading.Barrier(len(presses))
    answers: dict[int, httpx.Response] = {}

    def one(n: int) -> None:
        gate.wait(5)
        answers[n] = presses[n]()

    threads = [threading.Thread(target=one, args=(n,)) for n in range(len(presses))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(15)
    return [answers[n] for n in range(len(presses))]


def test_accept_pressed_in_many_places_at_once_acts_once(cook: Cook) -> None:
    cook.fill(1)
    cook.judged()
    answers = at_once([lambda: cook.press("accept", addition=1)] * 6)
    codes = sorted(one.status_code for one in answers)
    assert codes == [200] + [409] * 5
    assert {one.json()["code"] for one in answers if one.status_code == 409} == {"already-accepted"}
    cook.fill(2)
    cook.judged()
    answers = at_once([lambda: cook.press("accept", key="the-same", addition=2)] * 6)
    assert [one.status_code for one in answers] == [200] * 6
    assert len({one.json()["entry"] for one in answers}) == 1
    accepted = [one for one in cook.record()["entries"] if one["kind"] == "addition accepted"]
    assert [one["body"]["addition"] for one in accepted] == [1, 2]


def test_what_keeps_a_daemon_from_starting_is_said_in_a_sentence(
    tmp_path: Path,
) -> None:
    config = kitchen(tmp_path)
    with Served(config) as daemon:
        _refused_starts(tmp_path, config, daemon)


def _refused_starts(tmp_path: Path, config: Path, daemon: Served) -> None:
    second = run("serve", "--config", config, "--port", "0")
    assert (second.returncode, second.stdout) == (4, "")
    assert "Another weighd keeps its record in this file" in second.stderr
    port = daemon.address.rpartition(":")[2]
    taken = run("serve", "--config", config, "--port", port, "--data", tmp_path / "other")
    assert (taken.returncode, taken.stdout) == (5, "")
    assert f"Port {port} on 127.0.0.1 is taken" in taken.stderr
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(config.read_text().replace("operators", "operatrs"))
    refused = run("serve", "--config", wrong, "--port", "0")
    assert (refused.returncode, refused.stdout) == (2, "")
    assert f"{wrong}, line 5, station.operatrs" in refused.stderr
    assert 'did you mean "operators"' in refused.stderr
    for one in (second, taken, refused):
        assert one.stderr.startswith("weighd: ")
        assert "Traceback" not in one.stderr
    assert daemon.get("/api/health")["store"] == "ok"


def test_a_record_of_a_newer_version_is_not_touched(tmp_path: Path) -> None:
    config = kitchen(tmp_path)
    with Served(config) as daemon:
        assert daemon.stop() == 0
        database = daemon.database
    with contextlib.closing(sqlite3.connect(database)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    before = database.read_bytes(), database.stat().st_mtime_ns
    done = run("serve", "--config", config, "--port", "0")
    assert (done.returncode, done.stdout) == (4, "")
    assert "newer weighd wrote this record" in done.stderr
    assert (database.read_bytes(), database.stat().st_mtime_ns) == before
    assert not [one.name for one in database.parent.iterdir() if one.name.endswith("-wal")]


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A folder on a disk of one megabyte."""
    folder = tmp_path / "disk"
    folder.mkdir()
    if os.geteuid() != 0:
        pytest.skip("only root can mount a small disk: a full one is not tried here")
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(folder)], capture_output=True
    )
    if mounted.returncode:
        pytest.skip(f"no small disk can be mounted here: {mounted.stderr.decode()}")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_on_a_full_disk_nothing_is_accepted_and_afterwards_once(
    tmp_path: Path, small_disk: Path
) -> None:
    with (
        PtyScale(tmp_path / "scale", QUICK) as scale,
        Served(kitchen(tmp_path), "--data", small_disk) as daemon,
    ):
        cook = Cook(daemon, scale)
        cook.start()
        cook.vessel()
        cook.fill(1)
        cook.judged()
        ballast = small_disk / "ballast"
        with ballast.open("wb", buffering=0) as file, contextlib.suppress(OSError):
            while file.write(b"\0" * 4096):
                assert ballast.stat().st_size <= 2**20, "the disk is not as small as it should be"
        for _ in range(2):
            answer = cook.press("accept", key="press-1", addition=1)
            assert (answer.status_code, answer.json()["code"]) == (503, "store-full")
            assert "Free some space" in answer.json()["remedy"]
        seen = daemon.state()
        assert (seen["station"]["store"]["ok"], seen["station"]["store"]["code"]) == (
            False,
            "store-full",
        )
        assert [one["code"] for one in seen["station"]["notices"]] == ["store-full"]
        assert seen["batch"]["current"] == 1
        assert seen["batch"]["additions"][0]["status"] == "current"
        assert daemon.get("/api/health")["status"] == "degraded"
        assert [one["kind"] for one in cook.record()["entries"]] == ["batch opened", "tared"]
        ballast.unlink()
        entries = [cook.press("accept", key="press-1", addition=1).json()["entry"] for _ in "12"]
        assert entries == [3, 3]
        assert daemon.state()["station"]["store"]["ok"]
        cook.fill(2)
        cook.judged()
        # The file is moved away under the running station, and put back.
        database, elsewhere = small_disk / "weighd.db", small_disk / "elsewhere.db"
        database.rename(elsewhere)
        answer = cook.press("accept", key="press-2", addition=2)
        assert (answer.status_code, answer.json()["code"]) == (503, "store-gone")
        assert daemon.state()["station"]["store"]["code"] == "store-gone"
        elsewhere.rename(database)
        assert cook.press("accept", key="press-2", addition=2).json()["entry"] == 4
        kinds = [one["kind"] for one in cook.record()["entries"]]
        assert kinds == ["batch opened", "tared", "addition accepted", "addition accepted"]
        assert daemon.stop() == 0
    verify_file(small_disk / "weighd.db")
    assert "Traceback" not in daemon.log()
