"""Across batches: bias, scatter, what stands out, and what is left out."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from tests.forked import run
from tests.station.trend_world import weighed, weighings
from tests.storage.entries import Chain
from weighd.domain.errors import OperatorError
from weighd.station.trends import detail, points, summaries
from weighd.storage.journal import open_journal
from weighd.storage.memory import MemoryJournal


@pytest.fixture(scope="module")
def journal() -> MemoryJournal:
    made = MemoryJournal("kitchen")
    for entries in weighings():
        made.append(entries)
    return made


def test_what_changed_comes_first_and_what_is_steady_is_called_so(journal: MemoryJournal) -> None:
    found = summaries(points(journal), "ingredient")
    assert [it["n"] for it in found] == [30, 30, 30]
    cream, *steady = found
    assert (cream["key"], cream["steady"]) == ("cream", False)
    assert {it["key"]: it["steady"] for it in steady} == {"sucrose": True, "salt": True}
    # The change is told soon after it came, on its side.
    since = [it for it in cream["signals"] if it["at"] >= 19]
    assert since
    assert all(it["up"] for it in since if "row on one side" in it["rule"])


def test_a_bias_and_the_room_are_told_with_how_sure_they_are(journal: MemoryJournal) -> None:
    found = {it["key"]: it for it in summaries(points(journal), "ingredient")}
    sugar, salt = found["sucrose"]["bias_percent"], found["salt"]["bias_percent"]
    assert sugar["sure"]
    assert sugar["low"] < 100 * 1.2 / 300 < sugar["high"]
    assert not salt["sure"]
    assert salt["low"] < 0 < salt["high"]
    # Scatter 0.05 of 0.2 g allowed: room for 4 sigma, an index of 4 / 3.
    assert found["salt"]["capability"]["low"] < 4 / 3 < found["salt"]["capability"]["high"]


def test_sums_and_costs_are_those_of_the_entries(journal: MemoryJournal) -> None:
    prices = {"sucrose": Decimal("2.00")}
    found = {it["key"]: it for it in summaries(points(journal), "ingredient", prices)}
    nets = [
        Decimal(one.body["net_g"]) - Decimal(one.body["target_g"])
        for one in journal.entries(kind="addition accepted")
        if one.body["ingredient"] == "sucrose"
    ]
    over = sum((one for one in nets if one > 0), Decimal(0))
    sugar = found["sucrose"]
    assert Decimal(sugar["off_g"]) == sum(nets)
    assert Decimal(sugar["over_g"]) == over
    assert abs(Decimal(sugar["over_cost"]) - over * 2 / 1000) <= Decimal("0.005")
    assert found["cream"]["over_cost"] is None


def test_by_scale_and_by_operator(journal: MemoryJournal) -> None:
    found = points(journal)
    scales = {it["key"]: it["n"] for it in summaries(found, "scale")}
    assert scales == {"bench": 60, "fine": 30}
    assert {it["key"] for it in summaries(found, "operator")} == {"Ada", "Bo"}
    one = detail(found, "scale", "fine")
    assert len(one["points"]) == 30
    low, high = one["chart"]["low"], one["chart"]["high"]
    assert low < one["chart"]["centre"] < high
    assert max(abs(it["share"]) for it in one["points"]) < 1.5
    assert one["points"] == sorted(one["points"], key=lambda it: it["seq"])


def test_only_the_time_that_was_asked_for(journal: MemoryJournal) -> None:
    every = points(journal)
    middle = every[40].at
    later, earlier = points(journal, since=middle[:19]), points(journal, until=middle[:19])
    assert [it.seq for it in later] == [it.seq for it in every if it.at >= middle[:19]]
    assert {it.seq for it in later} | {it.seq for it in earlier} == {it.seq for it in every}
    assert points(journal, since="2026-03-02") == []
    assert len(points(journal, until="2026-03-01")) == len(every)
    assert [it.seq for it in points(journal, last=7)] == [it.seq for it in every[-7:]]


def test_parts_that_need_not_be_exact_are_left_out() -> None:
    """Of an amount in three parts the last is exact; a premix is none of it; a plain one is."""
    chain, made = Chain(), MemoryJournal("kitchen")
    whole = {"whole_g": "900", "low_g": "891", "high_g": "909", "of": 1, "vessel": 1, "premix": 0}
    steps = [
        {**whole, "into": "bowl", "role": "part", "part": 1, "parts": 3},
        {**whole, "into": "dish", "role": "part", "part": 2, "parts": 3},
        {**whole, "into": "dish", "role": "part", "part": 3, "parts": 3},
        {**whole, "into": "premix", "role": "premix carrier", "part": 1, "parts": 1, "premix": 1},
        {**whole, "into": "bowl", "role": "whole", "part": 1, "parts": 1, "vessel": 0},
    ]
    additions = [{"n": n, "target_g": "300", "step": one} for n, one in enumerate(steps, start=1)]
    opened = chain.add(
        "batch opened",
        "kitchen-0001",
        formula={"id": "test-ice", "name": "Test ice", "revision": "ab12", "content": {}},
        batch_g="900",
        operator="Ada",
        additions=[*additions, {"n": 6, "target_g": "300"}],
    )
    made.append([opened])
    for n in range(1, 7):
        body = weighed(n, "Cream", 300, 9, 301)
        made.append([chain.add("addition accepted", "kitchen-0001", **body)])
    assert [it.addition for it in points(made)] == [3, 5, 6]


@pytest.mark.parametrize("text", ["yesterday", "2026-3-1", "2026-03-01 08:00", "١٢٣٤-٠١-٠١"])
def test_a_day_that_is_none_is_told(journal: MemoryJournal, text: str) -> None:
    for field in ("since", "until"):
        with pytest.raises(OperatorError) as caught:
            points(journal, **{field: text})  # type: ignore[arg-type]
        assert (caught.value.code, caught.value.where) == ("bad-time", field)


def test_what_there_is_none_of_is_told(journal: MemoryJournal) -> None:
    found = points(journal)
    for call in (
        lambda: summaries(found, "weather"),
        lambda: detail(found, "scale", "cellar"),
        lambda: detail([], "scale", "bench"),
    ):
        with pytest.raises(OperatorError):
            call()
    assert summaries([], "scale") == []
    (one,) = summaries(found[:1], "scale")
    assert one["few"]
    assert (one["steady"], one["bias_percent"], one["capability"]) == (None, None, None)


def test_the_command_line_shows_and_draws_it(tmp_path: Path) -> None:
    database = tmp_path / "weighd.db"
    made = open_journal(database, "kitchen")
    for entries in weighings():
        made.append(entries)
    made.close()
    done = run("trends", "--database", database)
    assert (done.returncode, done.stderr) == (0, "")
    first = done.stdout.splitlines()[1]
    assert first.startswith("Cream")
    assert "NO" in first
    assert "eight in a row above the mean" in done.stdout
    plot = tmp_path / "cream.svg"
    done = run("trends", "--database", database, "--of", "cream", "--plot", plot, "--json")
    assert done.returncode == 0
    told = json.loads(done.stdout)
    drawn = plot.read_text()
    out = {it["at"] for it in told["signals"]}
    for n in range(30):
        assert f"value-{n + 1}-{'out' if n in out else 'usual'}" in drawn
    for wrong in (
        ["--plot", plot],
        ["--by", "weather"],
        ["--since", "tomorrow"],
        ["--of", "gravel"],
        ["--last", "1"],
        ["--of", "cream", "--plot", tmp_path / "cream.bmp"],
    ):
        done = run("trends", "--database", database, *wrong)
        assert (done.returncode, done.stdout) == (2, ""), wrong
        assert "Traceback" not in done.stderr
