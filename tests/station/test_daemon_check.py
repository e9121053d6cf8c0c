"""Checks with the real daemon on a real tty: over REST, on the command line, and in the record."""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.forked import WEIGHD, run
from tests.pty_scale import PtyScale
from tests.station.daemon import FAST, QUICK, Cook, Served, Watcher, kitchen

CHECK = """max_g = 6000
[scales.bench.check]
limit_g = "0.5"
then = "{then}"
every_h = "{every}"
[[scales.bench.check.masses]]
name = "K-2"
nominal_g = 2000
r111_class = "M1"
"""
SECOND = """
[[scales.bench.check.masses]]
name = "K-5"
nominal_g = 500
r111_class = "M1"
"""


def configured(folder: Path, then: str = "flags", every: str = "24", more: str = "") -> Path:
    """One weight, since each takes seconds; ``more`` is more TOML, as for a second one."""
    return kitchen(folder, CHECK.format(then=then, every=every) + more)


@pytest.fixture
def scale(tmp_path: Path) -> Iterator[PtyScale]:
    with PtyScale(tmp_path / "scale", QUICK, speed=FAST) as it:
        yield it


def checked(state: dict[str, Any]) -> dict[str, Any]:
    check: dict[str, Any] = state["scales"]["bench"]["check"]
    return check


def wanted(daemon: Served, what: str, n: int) -> dict[str, Any]:
    """Wait until the check asks for this, at this step."""

    def so(state: dict[str, Any]) -> bool:
        run = checked(state)["running"]
        return bool(run and run["current"] and (run["wanted"], run["current"]["n"]) == (what, n))

    return daemon.wait(so)


def put(daemon: Served, scale: PtyScale, grams: float, n: int) -> None:
    """A weight on, until it was seen, and off."""
    wanted(daemon, "put", n)
    scale.bench.vessel(grams)
    wanted(daemon, "remove", n)
    scale.bench.lift()


def ask(daemon: Served, do: str, **more: Any) -> Any:
    return daemon.ask("POST", "/api/scales/bench/check", {"do": do, **more})


def make(daemon: Served, scale: PtyScale, *weights: float) -> dict[str, Any]:
    """A whole check; what the picture says of the scale then."""
    daemon.wait(lambda s: s["scales"]["bench"]["link"] == "live")
    before = checked(daemon.state())["last"]
    assert ask(daemon, "start", by="Ada").status_code == 200
    for n, grams in enumerate(weights or (2000.0,), 2):
        put(daemon, scale, grams, n)
    return checked(daemon.wait(lambda s: checked(s)["last"] != before))


def begun(cook: Cook) -> None:
    """A vessel and one addition: what a check leaves in the record is in each alike."""
    cook.vessel()
    cook.weigh(1)


def verified(daemon: Served) -> str:
    done = run("verify", daemon.database)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_a_check_then_a_batch_and_both_verify_whole_and_alone(
    tmp_path: Path, scale: PtyScale
) -> None:
    with (
        Served(configured(tmp_path, more=SECOND), speed=FAST) as daemon,
        Watcher(daemon.address) as page,
    ):
        assert make(daemon, scale, 2000.0, 500.0)["standing"] == "good"
        seen = [
            frame["scales"]["bench"]["check"]["running"]["wanted"]
            for frame in page.frames
            if frame.get("scales", {}).get("bench", {}).get("check", {}).get("running")
        ]
        # "empty" may be over before the next frame is due: these two wait for a hand.
        assert {"put", "remove"} <= set(seen)
        cook = Cook(daemon, scale)
        cook.start()
        begun(cook)
        cook.do("abandon", reason="a test")
        document = cook.record()
        (made,) = daemon.get("/api/scales/bench/checks")["checks"]
        assert (made["seq"], made["outcome"], made["by"]) == (1, "pass", "Ada")
        whole = daemon.get("/api/checks/1")
        assert whole["hash"] == made["hash"]
        accepted = [one for one in document["entries"] if one["kind"] == "addition accepted"]
        assert [one["body"]["check"]["last"]["hash"] for one in accepted] == [made["hash"]]
        assert document["checks"] == [whole]
        assert daemon.get(f"/api/batches/{cook.batch}/checks") == {"flags": []}
        alone = tmp_path / "batch.json"
        alone.write_text(json.dumps(document))
        assert "1 check of scales hold" in run("verify", alone).stdout
        document["checks"][0]["body"]["steps"][1]["error_g"] = "9.9"
        alone.write_text(json.dumps(document))
        assert run("verify", alone).returncode == 1
        assert "1 check of scales hold" in verified(daemon)
        exported = run("export", cook.batch, "--config", daemon.config)
        assert json.loads(exported.stdout)["checks"] == [whole]


def test_flags_what_is_weighed_unchecked_and_what_a_failed_check_leaves_in_doubt(
    tmp_path: Path, scale: PtyScale
) -> None:
    with Served(configured(tmp_path), speed=FAST) as daemon:
        cook = Cook(daemon, scale)
        cook.start()
        begun(cook)
        flags = daemon.get(f"/api/batches/{cook.batch}/checks")["flags"]
        assert [one["standing"] for one in flags] == ["never checked"]
        scale.bench.lift()
        cook.do("abandon", reason="a test")
        failed = make(daemon, scale, 2003.0)
        assert failed["standing"] == "failed"
        assert daemon.get(f"/api/batches/{cook.batch}/checks")["flags"][0]["failed"]["seq"]
        history = run("check", "bench", "--history", "--config", daemon.config)
        assert history.returncode == 0, history.stderr
        assert f"in doubt: batch {cook.batch}, addition 1" in history.stdout
        assert "+3.0 g of ±0.5 g" in history.stdout
        said = verified(daemon)
        assert "1 of the weighings were made on a scale" in said
        assert "1 of the weighings are in doubt" in said


def test_bars_until_the_scale_has_passed_and_again_when_it_is_overdue(
    tmp_path: Path, scale: PtyScale
) -> None:
    with Served(configured(tmp_path, "bars", "0.005"), speed=FAST) as daemon:  # 18 s
        daemon.wait(lambda s: s["scales"]["bench"]["link"] == "live")
        cook = Cook(daemon, scale)
        start = {"formula": "test-ice", "operator": "Tester"}
        refused = daemon.ask("POST", "/api/batches", start)
        assert refused.status_code == 409
        problem = refused.json()
        assert problem["code"] == "scale-not-checked"
        assert "has not been checked yet" in problem["detail"]
        assert "Check the scale" in problem["remedy"]
        assert make(daemon, scale)["barred"] is False
        cook.start()
        cook.vessel()
        cook.fill(1)
        daemon.wait(lambda s: checked(s)["standing"] == "overdue", seconds=15)
        daemon.wait(lambda s: any(n["code"] == "check-due" for n in s["station"]["notices"]))
        cook.judged()
        assert cook.refused("accept", addition=1) == "scale-not-checked"
        assert ask(daemon, "start", by="Ada").json()["code"] == "scale-in-use"
        # The vessel off and kept in hand; the scale checked; the vessel set back.
        scale.bench.lift()
        daemon.wait(lambda s: s["live"]["phase"] == "awaiting vessel")
        assert ask(daemon, "start", by="Ada").status_code == 200
        wanted(daemon, "put", 2)
        scale.bench.weight(2000.0)
        wanted(daemon, "remove", 2)
        scale.bench.weight(0)
        daemon.wait(lambda s: checked(s)["standing"] == "good")
        scale.bench.put_back()
        cook.judged()
        cook.do("accept", addition=1)
        assert verified(daemon)


def test_unplugged_or_killed_in_a_check_leaves_nothing(tmp_path: Path, scale: PtyScale) -> None:
    with Served(configured(tmp_path), speed=FAST) as daemon:
        daemon.wait(lambda s: s["scales"]["bench"]["link"] == "live")
        assert ask(daemon, "start", by="Ada").status_code == 200
        put(daemon, scale, 2000.0, 2)
        scale.unplug()
        state = daemon.wait(lambda s: checked(s)["running"] is None)
        assert any(one["code"] == "check-broken-off" for one in state["station"]["notices"])
        scale.plug()
        daemon.wait(lambda s: s["scales"]["bench"]["link"] == "live")
        assert ask(daemon, "start", by="Ada").status_code == 200
        put(daemon, scale, 2000.0, 2)
        daemon.kill()
        daemon.begin()
        state = daemon.wait(lambda s: s["scales"]["bench"]["link"] == "live")
        assert checked(state)["running"] is None
        assert checked(state)["last"] is None
        assert daemon.get("/api/scales/bench/checks") == {"checks": []}
        assert make(daemon, scale)["last"]["seq"] == 1


def test_a_recording_carries_how_the_checks_stood_and_replays_to_the_same_record(
    tmp_path: Path, scale: PtyScale
) -> None:
    config, session = configured(tmp_path), tmp_path / "session.jsonl"
    with Served(config, speed=FAST) as daemon:
        made = make(daemon, scale)
        daemon.stop()
    with Served(config, "--record", session, speed=FAST) as daemon:
        cook = Cook(daemon, scale)
        cook.start()
        begun(cook)
        cook.do("abandon", reason="a test")
        written = cook.record()
        daemon.stop()
    header = json.loads(session.read_text().splitlines()[0])
    assert header["checks"]["bench"]["last"]["hash"] == made["last"]["hash"]
    assert header["scales"]["bench"]["check"]["masses"][0]["name"] == "K-2"
    replayed = run("replay", session)
    assert replayed.returncode == 0, replayed.stderr
    assert json.loads(replayed.stdout)["entries"] == written["entries"]


def test_a_command_sent_twice_acts_once_and_bad_ones_are_refused(
    tmp_path: Path, scale: PtyScale
) -> None:
    with Served(configured(tmp_path), speed=FAST) as daemon:
        daemon.wait(lambda s: s["scales"]["bench"]["link"] == "live")
        path = "/api/scales/bench/check"
        for _ in range(2):
            answer = daemon.ask("POST", path, {"do": "start", "by": "Ada"}, "key-1")
            assert answer.status_code == 200
        assert ask(daemon, "start", by="Bo").json()["code"] == "scale-being-checked"
        reused = daemon.ask("POST", path, {"do": "stop"}, "key-1")
        assert reused.json()["code"] == "key-reused"
        assert ask(daemon, "stop").status_code == 200
        assert ask(daemon, "stop").json()["code"] == "no-check"
        assert ask(daemon, "dance").status_code == 422
        assert ask(daemon, "start").json()["code"] == "no-operator"
        assert ask(daemon, "start", by="a\nb").status_code == 422
        other = daemon.ask("POST", "/api/scales/other/check", {"do": "start", "by": "Ada"})
        assert other.json()["code"] == "unknown-scale"
        assert daemon.ask("GET", "/api/scales/other/checks").json()["code"] == "unknown-scale"
        assert daemon.ask("GET", "/api/checks/1").json()["code"] == "unknown-check"
        assert daemon.ask("GET", "/api/checks/x").status_code == 422
        assert daemon.ask("GET", "/api/scales/bench/checks?before=0").status_code == 422


# --- the command line -----------------------------------------------------------------------------


class Guide:
    """``weighd check`` as a process, whose lines a test reads as they come."""

    def __init__(self, daemon: Served, *more: str) -> None:
        self.process = subprocess.Popen(
            [str(WEIGHD), "check", "bench", "--by", "Ada", "--url", daemon.address, *more],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        self.said = ""

    def until(self, text: str, seconds: float = 15) -> None:
        assert self.process.stdout is not None
        end = time.monotonic() + seconds
        while text not in self.said:
            ready, _, _ = select.select([self.process.stdout], [], [], end - time.monotonic())
            assert ready, f"never {text!r}: {self.said}"
            more = os.read(self.process.stdout.fileno(), 4096)
            assert more, f"it ended without {text!r}: {self.said}"
            self.said += more.decode()

    def enter(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(b"\n")
        self.process.stdin.flush()

    def end(self) -> int:
        out, _ = self.process.communicate(timeout=15)
        self.said += out.decode()
        return self.process.returncode


def test_a_check_guided_in_the_terminal(tmp_path: Path, scale: PtyScale) -> None:
    scale.bench.vessel(300.0)
    with Served(configured(tmp_path, more=SECOND), speed=FAST) as daemon:
        daemon.wait(lambda s: s["scales"]["bench"]["phase"] == "settled")
        guide = Guide(daemon)
        guide.until("Take everything off the scale. It shows 300.0 g")
        scale.bench.lift()
        guide.until("2 of 3: Put the weight K-2 (2000 g) on the scale.")
        scale.bench.weight(1700.0)
        guide.until("It shows 1700.0 g: is it the right one?")
        scale.bench.weight(2000.0)
        guide.until("It shows 2000.0 g: pass. Take it off.")
        scale.bench.weight(0)
        guide.until("3 of 3: Put the weight K-5 (500 g)")
        scale.bench.weight(460.0)
        guide.until("It shows 460.0 g: is it the right one?")
        guide.enter()
        guide.until("It shows 460.0 g: fail. Take it off.")
        scale.bench.weight(0)
        assert guide.end() == 1
        assert "The scale bench: fail (entry 1 of the record)." in guide.said
        guide = Guide(daemon)
        for grams in (2000.0, 500.0):
            guide.said = ""
            guide.until(f"({grams:.0f} g)")
            scale.bench.weight(grams)
            guide.until("Take it off.")
            scale.bench.weight(0)
        assert guide.end() == 0
        plot = tmp_path / "checks.svg"
        made = run("check", "bench", "--history", "--plot", plot, "--config", daemon.config)
        assert made.returncode == 0, made.stderr
        assert made.stdout.count("UTC") == 2
        drawn = plot.read_text()
        assert "check-1-0-pass" in drawn and "check-2-0-fail" in drawn and "K-5" in drawn


def test_stopped_in_the_terminal_nothing_is_recorded(tmp_path: Path, scale: PtyScale) -> None:
    with Served(configured(tmp_path), speed=FAST) as daemon:
        daemon.wait(lambda s: s["scales"]["bench"]["link"] == "live")
        guide = Guide(daemon)
        guide.until("Put the weight K-2")
        guide.process.send_signal(signal.SIGINT)
        assert guide.end() != 0
        assert "Nothing is recorded of it." in guide.said
        assert checked(daemon.state())["running"] is None
        guide = Guide(daemon)
        guide.until("Put the weight K-2")
        scale.unplug()
        assert guide.end() == 2
        assert "broken off" in guide.said
        assert daemon.get("/api/scales/bench/checks") == {"checks": []}


def test_what_the_terminal_says_where_nothing_can_be_checked(
    tmp_path: Path, scale: PtyScale
) -> None:
    plain = kitchen(tmp_path)
    gone = run("check", "bench", "--by", "Ada", "--url", "http://127.0.0.1:9/")
    assert gone.returncode == 2
    assert "No station answers there. Start it with weighd serve" in gone.stderr
    assert run("check", "bench", "--url", "bench").returncode == 2
    assert run("check", "bench", "--plot", "x.svg").returncode == 2
    with Served(plain) as daemon:
        none = run("check", "bench", "--by", "Ada", "--url", daemon.address)
        assert none.returncode == 2
        assert "Write [scales.bench.check] into the configuration." in none.stderr
        other = run("check", "other", "--by", "Ada", "--url", daemon.address)
        assert "There is: bench." in other.stderr
        never = run("check", "bench", "--history", "--config", plain)
        assert never.stdout == "The scale bench was never checked.\n"
        bad = run("check", "bench", "--history", "--config", plain, "--database", plain)
        assert bad.returncode == 4


def test_a_weight_too_coarse_for_its_limit_is_told_in_the_log(
    tmp_path: Path, scale: PtyScale
) -> None:
    coarse = """[[scales.bench.check.masses]]
name = "K-3"
nominal_g = 1000
r111_class = "M3"
"""
    with Served(configured(tmp_path, more=coarse), speed=FAST) as daemon:
        assert "The weight K-3 may itself be off by 0.5 g" in daemon.log()
        assert len(checked(daemon.state())["doubts"]) == 2
