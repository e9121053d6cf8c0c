"""``weighd steps``: the steps of a batch out of the database or an export; the tables there are."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.forked import run
from tests.station.process_cook import Cook
from weighd.clock import SystemClock
from weighd.domain.verify import export
from weighd.reports.csv_table import read_csv
from weighd.storage.journal import open_journal


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """A station's folder: one batch with all its steps done, one held in its heat treatment."""
    cook = Cook()
    first = cook.weigh()
    cook.mix(first)
    cook.heat(first)
    cook.age(first)
    second = cook.weigh()
    cook.mix(second)
    cook.step(second, "begin step")
    cook.step(second, "enter temperature", 9, temperature="60", ago="1 min")
    cook.step(second, "note step", note="the hob was off")
    cook.step(second, "end step")
    journal = open_journal(tmp_path / "weighd.db", "test")
    journal.append(cook.journal)
    journal.close()
    document = export("test", first, cook.of(first))
    (tmp_path / "first.json").write_text(json.dumps(document), "utf-8")
    return tmp_path


def test_what_is_in_process_is_shown_with_times_values_and_persons(kept: Path) -> None:
    done = run("steps", "--database", str(kept / "weighd.db"))
    assert (done.returncode, done.stderr) == (0, "")
    assert "batch test-0002, 622 g, by Ada: in process" in done.stdout
    assert "test-0001" not in done.stdout
    assert "2 Heat-treat: held; 65.6 °C, 30 min or 71.1 °C, 10 min or 79.4 °C, 15 s" in done.stdout
    assert "(as told) 60 °C, Bo" in done.stdout
    assert "Bo: the hob was off" in done.stdout
    assert "held: too cool, Bo. Nothing measured was as hot as 65.6 °C" in done.stdout
    assert "3 Age: waiting; at most 4 °C, 4 h to 24 h" in done.stdout
    assert "Raw milk and eggs are why" in done.stdout


@pytest.mark.parametrize("named", ["test-0001", "first.json"])
def test_a_batch_is_named_or_its_export(kept: Path, named: str) -> None:
    what = str(kept / named) if named.endswith("json") else named
    done = run("steps", what, "--database", str(kept / "weighd.db"))
    assert (done.returncode, done.stderr) == (0, "")
    assert "batch test-0001, 622 g, by Ada: closed" in done.stdout
    assert "confirmed: hot pan" in done.stdout
    assert "It satisfies 65.6 °C, 30 min" in done.stdout


def test_as_csv_everything_done_has_a_row(kept: Path) -> None:
    done = run("steps", "test-0002", "--database", str(kept / "weighd.db"), "--csv")
    assert (done.returncode, done.stderr) == (0, "")
    rows = read_csv(done.stdout)
    assert [(row["step"], row["what"]) for row in rows] == [
        ("1", "begun"), ("1", "done"), ("2", "begun"), ("2", "temperature"), ("2", "note"),
        ("2", "held"), ("3", ""),
    ]  # fmt: skip
    assert (rows[0]["text"], rows[0]["by"]) == ("hot pan", "Bo")
    assert (rows[3]["temperature"], rows[3]["unit"], rows[3]["told"]) == ("60", "°C", "yes")
    assert rows[5]["text"].startswith("too cool; Nothing measured was as hot as 65.6 °C")
    assert rows[6]["status"] == "waiting"


def test_what_there_is_not_is_told(kept: Path) -> None:
    done = run("steps", "test-0009", "--database", str(kept / "weighd.db"))
    assert done.returncode != 0
    assert "There is no batch test-0009." in done.stderr
    (kept / "bad.json").write_text("{}", "utf-8")
    done = run("steps", str(kept / "bad.json"))
    assert done.returncode == 1
    assert "Traceback" not in done.stderr


def test_the_tables_are_told_with_their_sources(tmp_path: Path) -> None:
    done = run("steps", "--tables")
    assert (done.returncode, done.stderr) == (0, "")
    assert "us-frozen-dessert-mix" in done.stdout
    assert "at least 155 °F (68.4 °C) for 30 min: 7 CFR 58.635; read" in done.stdout
    assert "then at most 7.2 °C within 90 min: SI 1995/1372" in done.stdout
    assert "Between two pairs nothing is known." in done.stdout


def test_verification_tells_of_steps(kept: Path) -> None:
    done = run("verify", str(kept / "first.json"))
    assert done.returncode == 0
    assert "3 steps judged again." in done.stdout
    done = run("verify", str(kept / "weighd.db"))
    assert done.returncode == 0
    assert "5 steps judged again." in done.stdout
    assert "1 of the batches is in process: steps are still to come." in done.stdout
    text = (kept / "first.json").read_text("utf-8")
    (kept / "hot.json").write_text(text.replace('"66 \\u00b0C"', '"96 \\u00b0C"'), "utf-8")
    done = run("verify", str(kept / "hot.json"))
    assert done.returncode == 1
    assert "entry" in done.stderr


@pytest.mark.parametrize("speed", [1.0, 10.0])
def test_time_that_passes_at_once_passes_for_both_clocks(speed: float) -> None:
    from weighd.domain.moments import milliseconds

    clock = SystemClock(speed)
    now, wall = clock.now(), milliseconds(clock.utc())
    clock.skip(7200)
    assert 7200 <= clock.now() - now < 7260
    assert 7_200_000 - 5 <= milliseconds(clock.utc()) - wall < 7_260_000
    clock.skip(1)
    assert clock.now() - now >= 7201
    with pytest.raises(ValueError, match="time cannot pass"):
        clock.skip(-1)
