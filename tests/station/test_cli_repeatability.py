"""``weighd repeatability`` over a session: a scale's lines, as ``weighd record`` writes them."""

from __future__ import annotations

import json
from pathlib import Path

from tests.forked import run


def session(file: Path, nets: list[str]) -> Path:
    rows: list[object] = [
        {"session": 1, "scales": {"bench": {"driver": "serial", "interval_g": "0.1"}}}
    ]
    t = 0.0

    def stand(grams: str, seconds: float = 3.0) -> None:
        nonlocal t
        for _ in range(round(seconds * 10)):
            t = round(t + 0.1, 3)
            line = f"ST,+{grams:>9} g\r\n"
            rows.append({"t": t, "scale": "bench", "rx": line.encode().hex()})

    stand("0.0")
    for net in nets:
        stand(f"{float(net) / 2:.1f}", 0.2)
        stand(net)
        stand(f"{float(net) / 2:.1f}", 0.2)
        stand("0.0")
    file.write_text("\n".join(json.dumps(row) for row in rows) + "\n")
    return file


def test_ten_weighings_give_a_line_for_the_configuration(tmp_path: Path) -> None:
    nets = ["500.1", "500.0", "500.2", "499.9", "500.1", "500.1", "500.0", "500.3", "500.1"]
    done = run("repeatability", session(tmp_path / "ten.jsonl", [*nets, "500.0", "212.0"]))
    assert (done.returncode, done.stderr) == (0, "")
    told = done.stdout.splitlines()
    assert told[0] == "ten.jsonl: scale bench, interval 0.1 g"
    assert told[1:11] == [f"{n:3}.     {net} g" for n, net in enumerate([*nets, "500.0"], 1)]
    assert told[11] == "left out, another load: 212.0 g"
    assert told[12].startswith("10 weighings, 499.9 to 500.3 g, standard deviation 0.12 g")
    assert told[13:] == ["    [scales.bench]", '    repeatability_g = "0.12"']


def test_a_scale_that_shows_the_same_each_time_needs_none(tmp_path: Path) -> None:
    done = run("repeatability", session(tmp_path / "same.jsonl", ["100.0"] * 3))
    assert done.returncode == 0
    assert "3 weighings, all 100.0 g" in done.stdout
    assert "Fewer than 10" in done.stdout
    assert "[scales" not in done.stdout


def test_what_shows_nothing_is_told(tmp_path: Path) -> None:
    file = session(tmp_path / "one.jsonl", ["100.0"])
    for arguments, said in (
        ([file], "1 weighings of one weight"),
        ([file, "--scale", "cellar"], "It has: bench."),
        ([tmp_path / "none.jsonl"], "none.jsonl"),
        ([Path(__file__)], "not JSON"),
    ):
        done = run("repeatability", *arguments)
        assert (done.returncode, done.stdout) == (2, ""), arguments
        assert said in done.stderr
