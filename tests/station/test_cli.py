"""The command line as its users meet it: processes, pipes, files and exit codes."""

from __future__ import annotations

import json
import queue
import re
import shutil
import subprocess
import threading
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.forked import WEIGHD, run
from tests.pty_scale import PtyScale
from tests.station.daemon import FAST, FORMULA, QUICK, TARGETS, Cook, Served, kitchen, until

COMMANDS = {
    "serve": "--record", "demo": "--once", "scales": "--listen", "check": "--history",
    "decode": "--shape", "settle": "--help", "cue": "--no-slow", "record": "--note",
    "repeatability": "--scale", "replay": "--check", "timeline": "--scale", "trends": "--since",
    "verify": "--key", "export": "--proof", "key": "--out", "head": "--out", "backup": "--keep",
    "archive": "--before",
    "restore": "copy", "formula": "--batch", "lots": "receive", "trace": "--drill",
    "compose": "--overrun", "ingredients": "import", "plan": "--yield-g", "solve": "--save",
    "recover": "--bowl-holds-g", "vessels": "--weigh", "yield": "--draw", "dry-ice": "--room-m3",
    "limits": "--help", "loss": "--want-g", "size": "--round", "swap": "--text",
    "steps": "--tables", "correct": "--entry", "paste": "--leave-out",
    "countersign": "--upto", "share": "--now", "publish": "--store", "revisions": "--class",
    "people": "retire", "pair": "--may", "devices": "forget",
    "floor": "--forget",
    "doctor": "--listen",
}  # fmt: skip


@pytest.mark.parametrize(("command", "mentions"), COMMANDS.items())
def test_every_command_says_what_it_is_for(command: str, mentions: str) -> None:
    done = run(command, "--help")
    assert (done.returncode, done.stderr) == (0, "")
    assert f"Usage: weighd {command}" in done.stdout
    assert mentions in done.stdout


def test_the_list_of_commands_is_whole() -> None:
    done = run("--help")
    listed = re.findall(r"^│ ([a-z][\w-]*) ", done.stdout, re.MULTILINE)
    assert (done.returncode, sorted(listed)) == (0, sorted(COMMANDS))
    assert re.fullmatch(r"weighd \d+\.\d+\.\d+\n", run("--version").stdout)
    for wrong in (["dance"], ["verify"], ["serve", "--port", "many"]):
        done = run(*wrong)
        assert (done.returncode, done.stdout) == (2, "")
        assert "Traceback" not in done.stderr


# --- decode ------------------------------------------------------------------------------------

GOOD = b"ST,+    123.4 g\r\nMV,+    125.1 g\r\nOV,+ -------- g\r\n"


def lines(done: subprocess.CompletedProcess[str]) -> list[dict[str, Any]]:
    return [json.loads(one) for one in done.stdout.splitlines()]


def test_decode_reads_bytes_from_standard_input() -> None:
    done = run("decode", stdin=GOOD)
    assert (done.returncode, done.stderr) == (0, "")
    told = lines(done)
    assert [one["grams"] for one in told] == ["123.4", "125.1", None]
    assert [one["stable"] for one in told] == [True, False, None]
    assert [one["over"] for one in told] == [False, False, True]
    assert b"".join(bytes.fromhex(one["raw"]) for one in told) in GOOD.replace(b"\n", b"")
    assert set(told[0]) == {"t", "grams", "unit", "stable", "over", "raw"}


def test_decode_tells_bad_bytes_with_their_place_and_goes_on() -> None:
    done = run("decode", stdin=GOOD[:17] + b"\x00\xffhello\r\nST,+    1x6.0 g\r\n" + GOOD[17:])
    assert done.returncode == 0
    assert [one["grams"] for one in lines(done)] == ["123.4", "125.1", None]
    first, second = done.stderr.splitlines()
    assert first.startswith("byte 17: ")
    assert "hello" in first
    assert second.startswith("byte 26: ")


def test_decode_of_noise_reads_nothing_and_is_no_failure() -> None:
    done = run("decode", stdin=bytes(range(256)) * 40)
    assert (done.returncode, done.stdout) == (0, "")
    assert "Traceback" not in done.stderr
    unknown = run("decode", "--shape", "no-such-shape", stdin=GOOD)
    assert (unknown.returncode, unknown.stdout) == (3, "")
    assert "no-such-shape" in unknown.stderr


# --- settle ------------------------------------------------------------------------------------


class Conversation:
    """``weighd settle`` or ``weighd cue`` with both of its ends in hand."""

    def __init__(self, command: str) -> None:
        self.process = subprocess.Popen(
            [str(WEIGHD), command],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self._said: queue.Queue[str] = queue.Queue()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._said.put(line)

    def write(self, row: object) -> None:
        assert self.process.stdin is not None
        text = row if isinstance(row, str) else json.dumps(row)
        self.process.stdin.write(text + "\n")
        self.process.stdin.flush()

    def ask(self, row: object) -> dict[str, Any]:
        """One line in, the one line out; another must not follow."""
        self.write(row)
        answer: dict[str, Any] = json.loads(self._said.get(timeout=5))
        assert self._said.empty()
        return answer

    def end(self) -> tuple[int, str]:
        assert self.process.stdin is not None
        assert self.process.stderr is not None
        self.process.stdin.close()
        code = self.process.wait(5)
        self._reader.join(5)
        assert self._said.empty(), "it said more than it was asked"
        with self.process.stderr as errors:
            return code, errors.read()


@pytest.fixture
def settle() -> Iterator[Conversation]:
    settle = Conversation("settle")
    yield settle
    settle.process.kill()
    settle.process.wait(5)


@pytest.fixture
def cue() -> Iterator[Conversation]:
    cue = Conversation("cue")
    yield cue
    cue.process.kill()
    cue.process.wait(5)


def test_settle_answers_each_reading_before_it_takes_the_next(settle: Conversation) -> None:
    settle.write({"reset": True, "interval_g": "0.1", "tolerance_g": "1"})
    answers = []
    for n in range(80):
        grams = "250.0" if n < 25 else f"{min(250 + (n - 25) * 10, 400)}.0"
        reading = {"t": n / 10, "grams": grams, "stable": None, "over": False}
        answers.append(settle.ask(reading))
    assert [one["t"] for one in answers] == [n / 10 for n in range(80)]
    phases = [one["phase"] for one in answers]
    assert phases[20] == "empty"
    assert "pouring" in phases[26:45]
    assert answers[-1]["phase"] == "settled"
    assert Decimal(answers[-1]["grams"]) == 150
    assert 0 < Decimal(answers[-1]["sigma_g"]) < 1
    assert set(answers[-1]) == {"t", "phase", "grams", "sigma_g", "why"}
    assert settle.ask({"t": 8.0, "grams": None, "over": True})["why"] == "overload"
    settle.write({"reset": True, "interval_g": "0.1", "tolerance_g": "1", "forget": True})
    settle.write("")
    assert settle.ask({"t": 8.1, "grams": 400})["phase"] != "settled"
    assert settle.end() == (0, "")


def test_settle_stays_in_step_over_lines_it_cannot_read(settle: Conversation) -> None:
    settle.write({"reset": True, "interval_g": "0"})  # a reset is never answered
    bad = ["{", "[]", "3", "null", '{"grams": "1"}', '{"t": "x", "grams": "1"}']
    bad += ['{"t": 1, "grams": "one"}', '{"t": 1e999, "grams": "1"}', '{"t": NaN, "grams": "1"}']
    bad += ['{"t": %s, "grams": "1"}' % ("9" * 400), '{"t": 1, "grams": 1e30}', "[" * 5000]
    for line in bad:
        answer = settle.ask(line)
        assert (answer["phase"], answer["grams"]) == ("disturbed", None), line
    assert settle.ask({"t": 1.0, "grams": "5.0"})["phase"] in {"settling", "empty"}
    code, errors = settle.end()
    assert code == 2
    told = errors.splitlines()
    assert [one.split(" is not")[0] for one in told] == [f"line {n + 1}" for n in range(len(told))]
    assert len(told) == 1 + len(bad)


def test_cue_answers_each_reading_before_it_takes_the_next(cue: Conversation) -> None:
    reset = {"reset": True, "interval_g": "0.1", "tolerance_g": "1", "target_g": "150"}
    reset |= {"ingredient": "milk", "cook": "Ada"}
    cue.write(reset)
    answers = []
    for n in range(60):
        grams = "250.0" if n < 15 else f"{min(250 + (n - 15) * 4, 400)}.0"
        answers.append(cue.ask({"t": n / 10, "grams": grams, "stable": None, "over": False}))
    assert [one["t"] for one in answers] == [n / 10 for n in range(60)]
    cues = [one["cue"] for one in answers]
    assert [one for k, one in enumerate(cues) if cues[k - 1 : k] != [one]] == [
        "pour",
        "slow",
        "stop",
    ]
    assert set(answers[-1]) == {"t", "cue", "landing_g", "sigma_g"}
    cue.write({**reset, "forget": True})
    assert cue.ask({"t": 6.0, "grams": "400.0"})["cue"] == "pour"
    assert cue.ask("{")["cue"] == "pour"
    code, errors = cue.end()
    assert code == 2
    assert errors.startswith("line 64 is not a reading: ")


# --- recordings ----------------------------------------------------------------------------------


def test_record_then_decode(tmp_path: Path) -> None:
    config, session = kitchen(tmp_path), tmp_path / "pour.jsonl"
    with PtyScale(tmp_path / "scale", QUICK, speed=FAST) as scale:
        scale.bench.vessel(250)
        done = run("record", "bench", session, "--config", config, "--for", "1", "--note", "A pour")
        assert done.returncode == 0, done.stderr
        again = run("record", "bench", session, "--config", config, "--for", "1")
    assert re.search(r"pour\.jsonl: \d+ bytes in 1\.\d s", done.stdout)
    header = json.loads(session.read_text().splitlines()[0])
    assert (header["note"], header["scales"]["bench"]["driver"]) == ("A pour", "serial")
    decoded = run("decode", session)
    assert decoded.returncode == 0
    grams = [one["grams"] for one in lines(decoded)]
    assert len(grams) > 20
    assert grams[-1] == "250.0"
    times = [one["t"] for one in lines(decoded)]
    assert times == sorted(times)
    assert run("decode", session, "--scale", "other").stdout == ""
    assert (again.returncode, again.stdout) == (2, "")
    assert "does not exist yet" in again.stderr
    other = run("record", "desk", tmp_path / "x.jsonl", "--config", config)
    assert (other.returncode, other.stdout) == (2, "")
    assert "Configured are: bench" in other.stderr


def test_a_recorded_station_replays_to_the_record_it_made(tmp_path: Path) -> None:
    session = tmp_path / "batch.jsonl"
    with (
        PtyScale(tmp_path / "scale", QUICK, speed=FAST) as scale,
        Served(kitchen(tmp_path), "--record", session, speed=FAST) as daemon,
    ):
        cook = Cook(daemon, scale)
        cook.start()
        cook.vessel()
        scale.garbage()
        cook.weigh(1)
        scale.unplug()
        daemon.wait(lambda s: s["live"]["phase"] == "held")
        scale.plug()
        daemon.wait(lambda s: s["scales"]["bench"]["link"] == "live")
        until(lambda: daemon.state()["live"]["phase"] != "held")
        cook.weigh(2)
        assert cook.refused("accept", addition=2) == "already-accepted"
        cook.weigh(len(TARGETS))
        record = cook.record()
        assert daemon.stop() == 0
    replayed = run("replay", session)
    assert replayed.returncode == 0, replayed.stderr
    assert "Addition 2 was already accepted" in replayed.stderr
    assert json.loads(replayed.stdout)["entries"] == record["entries"]
    golden = tmp_path / "golden.json"
    assert run("replay", session, "--accept", golden).returncode == 0
    assert golden.read_text() == replayed.stdout
    same = run("replay", session, "--check", golden)
    assert (same.returncode, same.stdout) == (0, f"the same as {golden}\n")
    golden.write_text(golden.read_text().replace('"net_g": "120.0"', '"net_g": "119.0"'))
    differs = run("replay", session, "--check", golden)
    assert differs.returncode == 1
    assert differs.stdout.splitlines() == [
        "entries[addition accepted, addition 2].body.net_g: 120.0, the golden record has 119.0",
        f"1 differences from {golden}",
    ]
    cut = tmp_path / "cut.jsonl"
    cut.write_text(session.read_text()[:-20])
    assert run("replay", cut).returncode == 0  # half a last line is what a full disk leaves
    cut.write_text(session.read_text()[:-20] + "\n")
    assert run("replay", cut).returncode == 2
    nowhere = run("replay", session, "--accept", tmp_path / "no" / "golden.json")
    assert (nowhere.returncode, nowhere.stdout) == (2, "")
    assert "cannot be written" in nowhere.stderr


# --- formulas, records, scales, demo -----------------------------------------------------------


def test_formula_says_what_is_in_a_file_or_where_it_is_wrong(tmp_path: Path) -> None:
    file = tmp_path / "test-ice.toml"
    file.write_text(FORMULA)
    done = run("formula", file)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Test ice (test-ice, revision" in done.stdout
    assert "640 g" in done.stdout.splitlines()[0]
    assert re.search(r"Milk .* 495(\.0+)? to 505(\.0+)? g", done.stdout)
    assert "Allergens: milk" in done.stdout
    doubled = run("formula", file, "--batch", "1.28 kg")
    assert re.search(r"Milk +1000(\.0+)? g", doubled.stdout)
    file.write_text(FORMULA.replace("120 g", "120 stone"))
    wrong = run("formula", file)
    assert (wrong.returncode, wrong.stdout) == (2, "")
    assert f"{file}, line 14, additions[2].target" in wrong.stderr
    assert run("formula", tmp_path / "missing.toml").returncode == 2
    assert run("formula", tmp_path).returncode == 2


NONSENSE: dict[str, tuple[bytes, int]] = {
    "empty": (b"", 1),
    "text": (b"a record, surely", 1),
    "object": (b"{}", 1),
    "no entries": (b'{"weighd_record": 1, "station": "k", "batch": "b", "entries": []}', 1),
    "rows": (b'{"weighd_record": 1, "station": "k", "batch": "b", "entries": [1]}', 1),
    "deep": (b"[" * 200_000, 1),
    "noise": (bytes(range(256)) * 100, 1),
    "half a database": (b"SQLite format 3\0", 4),
}


@pytest.mark.parametrize("what", NONSENSE)
def test_verify_of_what_is_no_record_says_so(what: str, tmp_path: Path) -> None:
    content, code = NONSENSE[what]
    file = tmp_path / "record"
    file.write_bytes(content)
    done = run("verify", file)
    assert (done.returncode, done.stdout) == (code, "")
    assert done.stderr.startswith("weighd: ")
    assert len(done.stderr.splitlines()) == 1
    assert file.read_bytes() == content


def test_verify_and_export_of_what_is_not_there(tmp_path: Path) -> None:
    assert run("verify", tmp_path / "none").returncode == 1
    assert run("export", "kitchen-0001", "--database", tmp_path / "none").returncode == 4
    assert run("export", "kitchen-0001", "--config", tmp_path / "none.toml").returncode == 2


def test_scales_lists_without_listening(tmp_path: Path) -> None:
    done = run("scales", "--listen", "0")
    assert (done.returncode, done.stderr) == (0, "")
    none = "No serial port and no USB scale is plugged in." in done.stdout
    assert none or 'driver = "' in done.stdout


def test_demo_weighs_a_batch_by_itself_and_prints_a_record_that_holds(tmp_path: Path) -> None:
    record, session = tmp_path / "record.json", tmp_path / "demo.jsonl"
    done = run("demo", "--once", "--speed", "40", "--record", session, seconds=60)
    assert done.returncode == 0, done.stderr
    assert "The record holds" in done.stderr
    record.write_text(done.stdout)
    document = json.loads(done.stdout)
    accepted = [one for one in document["entries"] if one["kind"] == "addition accepted"]
    assert len(accepted) == 6
    assert document["entries"][-1]["kind"] == "batch closed"
    verified = run("verify", record)
    assert (verified.returncode, verified.stderr) == (0, "")
    assert f"{len(accepted)} weighings re-derived" in verified.stdout
    replayed = run("replay", session, "--check", record)
    assert replayed.stdout == f"the same as {record}\n"
    assert replayed.returncode == 0
    assert run("demo", "--once", "--formula", "no-such-formula").returncode == 2


def test_output_that_nobody_reads_is_no_failure(tmp_path: Path) -> None:
    shell = shutil.which("sh")
    assert shell
    (tmp_path / "bytes").write_bytes(b"ST,+    123.4 g\r\n" * 20_000)
    done = subprocess.run(
        [shell, "-c", f"'{WEIGHD}' decode < '{tmp_path / 'bytes'}' | head -n 1"],
        capture_output=True,
        text=True,
        timeout=20,
    )
    assert json.loads(done.stdout)["grams"] == "123.4"
    assert "Traceback" not in done.stderr
    assert "Exception" not in done.stderr
