"""``weighd timeline`` as its users meet it: files in, lines and plots out, exit codes."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from tests.forked import run
from tests.reports.test_tracing import log

SESSIONS = Path(__file__).parents[2] / "fixtures" / "sessions"
PLAIN, OVER = SESSIONS / "plain.jsonl", SESSIONS / "over-pour.jsonl"


def test_it_prints_what_was_seen_and_writes_the_plot(tmp_path: Path) -> None:
    done = run("timeline", OVER, "-o", tmp_path / "over.svg")
    assert done.returncode == 0
    assert done.stderr == f"plot: {tmp_path / 'over.svg'}\n"
    lines = done.stdout.splitlines()
    count = len(run("decode", OVER).stdout.splitlines())
    assert lines[0].startswith(f"over-pour.jsonl: scale bench, d 0.1 g, {count} readings")
    golden = json.loads((SESSIONS / "over-pour.golden.json").read_text("utf-8"))
    entries = [one for one in lines if one[11:13] == "= "]
    assert len(entries) == len(golden["entries"])
    held = next(one["body"] for one in golden["entries"] if one["kind"] == "held")
    assert any(f"= held: {held['cause']}, {held['sum_g']} g in" in one for one in entries)
    for one in golden["entries"]:
        if one["kind"] == "addition accepted":
            body = one["body"]
            said = f"= accepted {body['net_g']} g: {body['verdict']}"
            assert any(said in entry for entry in entries)
            claim = f"{body['gross_g']:>8}  {body['net_g']:>8}  {Decimal(body['u_g']):>7.4f}  firm"
            assert any(claim in line for line in lines), body["ingredient"]
    assert (tmp_path / "over.svg").read_text("utf-8").count("<svg ") == 1


def test_several_go_into_a_folder_each_under_its_name(tmp_path: Path) -> None:
    done = run("timeline", PLAIN, SESSIONS / "abandoned.jsonl", "-o", tmp_path, "--to", "8")
    assert done.returncode == 0
    assert {one.name for one in tmp_path.iterdir()} == {
        "plain.timeline.svg",
        "abandoned.timeline.svg",
    }
    heads = [one for one in done.stdout.splitlines() if ".jsonl: scale" in one]
    assert len(heads) == 2
    assert all(one.endswith((" to 7.9 s", " to 8.0 s")) for one in heads), heads


def test_a_log_can_be_looked_at(tmp_path: Path) -> None:
    file = tmp_path / "log.jsonl"
    file.write_text("\n".join(log()) + "\n", "utf-8")
    done = run("timeline", file, "-o", tmp_path / "log.png")
    assert done.returncode == 0
    assert "log.jsonl: a log, d 0.1 g, 120 readings" in done.stdout
    assert any(
        line.split()[1:4] == ["settled", "432.4", "120.0"] for line in done.stdout.splitlines()
    )
    assert (tmp_path / "log.png").stat().st_size > 10_000


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["nowhere.jsonl"], "No such file"),
        ([Path(__file__)], "neither a recorded session nor a log"),
        ([PLAIN, "--scale", "cellar"], 'scale "cellar"'),
        ([PLAIN, "-o", "plot.pdf"], "SVG or PNG"),
        ([PLAIN, OVER, "-o", "plot.svg"], "do not go into one plot"),
        ([PLAIN, PLAIN], "same name"),
        ([PLAIN, "--from", "900"], "no reading in that time"),
        ([PLAIN, "--from", "9", "--to", "8"], "not before"),
        ([PLAIN, "-o", "no/such/folder/plot.svg"], "cannot be written"),
        (["empty.jsonl"], "neither"),
        (["quiet.jsonl"], "Not one reading"),
        (["broken.jsonl"], "line 3"),
        (["unknown.jsonl"], "line 2"),
        (["formula.jsonl"], "--formula"),
    ],
    ids=lambda one: one if isinstance(one, str) else None,
)
def test_what_cannot_be_shown_is_refused_in_words(
    arguments: list[object], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    head = '{"session": 1, "scales": {"bench": {"driver": "serial", "shape": "digits-unit"}}}\n'
    clock = '{"t": 0, "clock": "2026-11-25T18:00:00.000Z"}\n'
    Path("empty.jsonl").write_text("", "utf-8")
    Path("quiet.jsonl").write_text(head + clock, "utf-8")
    Path("broken.jsonl").write_text(head + clock + "oh\n", "utf-8")
    Path("unknown.jsonl").write_text(head + '{"t": 0, "scale": "cellar", "rx": "00"}\n', "utf-8")
    start = {"t": 9, "command": {"do": "start", "by": "Ada"}}
    rx = "".join(
        json.dumps({"t": k / 10, "scale": "bench", "rx": b"12.3 g\r\n".hex()}) + "\n"
        for k in range(20)
    )
    Path("formula.jsonl").write_text(head + clock + rx + json.dumps(start) + "\n", "utf-8")
    done = run("timeline", *arguments)
    assert done.returncode == 2
    assert said in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr
    assert not list(tmp_path.glob("*.svg"))
