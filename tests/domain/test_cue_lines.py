"""``weighd cue`` line by line: one answer a reading, none for a reset, bad lines told."""

from __future__ import annotations

import io
import json
from decimal import Decimal
from typing import Any

import pytest

from weighd.cli.cue import run

RESET = {
    "reset": True,
    "interval_g": "0.1",
    "tolerance_g": "1.0",
    "target_g": "200",
    "ingredient": "milk",
    "cook": "Ada",
}


def said(*rows: Any, slow: bool = True) -> tuple[bool, list[dict[str, Any]]]:
    lines = io.StringIO(
        "".join(f"{one if isinstance(one, str) else json.dumps(one)}\n" for one in rows)
    )
    out = io.StringIO()
    fine = run(lines, out, slow=slow)
    return fine, [json.loads(line) for line in out.getvalue().splitlines()]


def pour(g_s: float, until_g: float, t: float = 0.0) -> list[dict[str, Any]]:
    """A second at rest, a stream, two seconds at rest; ten readings a second."""
    grams = [0.0] * 10
    while grams[-1] < until_g:
        grams.append(min(grams[-1] + g_s / 10, until_g))
    grams += [until_g] * 20
    return [
        {"t": t + k / 10, "grams": f"{one:.1f}", "stable": None, "over": False}
        for k, one in enumerate(grams)
    ]


def test_one_line_for_each_reading_and_none_for_a_reset() -> None:
    rows = pour(40, 200)
    fine, answers = said(RESET, *rows)
    assert fine
    assert len(answers) == len(rows)
    assert [one["t"] for one in answers] == [one["t"] for one in rows]
    assert all(list(one) == ["t", "cue", "landing_g", "sigma_g"] for one in answers)
    cues = [one["cue"] for one in answers]
    order = [one for k, one in enumerate(cues) if k == 0 or cues[k - 1] != one]
    assert order == ["pour", "slow", "stop"]
    stop = cues.index("stop")
    # Nobody reacted: "stop" came while the display had a good deal of the way to go.
    assert Decimal(150) < Decimal(rows[stop]["grams"]) < Decimal(195)
    assert abs(Decimal(answers[-1]["landing_g"]) - 200) <= Decimal("0.1")
    assert all(Decimal(one["sigma_g"]) > 0 for one in answers)


def test_slow_can_be_left_out() -> None:
    _, answers = said(RESET, *pour(40, 200), slow=False)
    assert {one["cue"] for one in answers} == {"pour", "stop"}


def test_the_target_counts_from_what_stands_there() -> None:
    rows = pour(40, 200)
    for row in rows:
        row["grams"] = str(Decimal(row["grams"]) + Decimal("1312.4"))
    _, answers = said(RESET, *rows)
    assert answers[5]["cue"] == "pour"
    assert abs(Decimal(answers[-1]["landing_g"]) - 200) <= Decimal("0.1")


def test_without_a_target_nothing_is_to_be_poured() -> None:
    fine, answers = said(*pour(40, 200)[:3])
    assert not fine
    assert answers == [{"t": None, "cue": "stop", "landing_g": None, "sigma_g": None}] * 3


@pytest.mark.parametrize(
    "wrong",
    [
        {"target_g": None},
        {"target_g": "0"},
        {"target_g": "-5"},
        {"target_g": "many"},
        {"interval_g": "0"},
        {"tolerance_g": "-1"},
        {"tolerance_g": []},
    ],
)
def test_a_reset_that_cannot_be_used_is_told_and_stops(
    wrong: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    rows = pour(40, 200)
    fine, answers = said(RESET, *rows[:12], {**RESET, **wrong}, *rows[:2], RESET, *rows[:2])
    assert not fine
    assert [one["cue"] for one in answers[11:]] == ["pour", "stop", "stop", "pour", "pour"]
    told = capsys.readouterr().err.splitlines()
    assert [one.split(":")[0] for one in told] == [
        "line 14 is not a reset",
        "line 15 is not a reading",
        "line 16 is not a reading",
    ]


def test_a_line_that_cannot_be_read_leaves_the_cue_as_it_was() -> None:
    rows = pour(40, 200)
    fine, answers = said(RESET, *rows[:30], "nonsense", '{"t": 1}', "[]", *rows[30:35])
    assert not fine
    assert {one["cue"] for one in answers[28:36]} == {answers[29]["cue"]}
    assert answers[30]["t"] is None
    assert answers[31] == {"t": 1, "cue": answers[29]["cue"], "landing_g": None, "sigma_g": None}


def test_above_capacity_stops_when_a_second_reading_says_so() -> None:
    over = {"t": 2.0, "grams": None, "stable": None, "over": True}
    _, answers = said(RESET, *pour(40, 200)[:15], over, {**over, "t": 2.1})
    assert [one["cue"] for one in answers[-2:]] == ["pour", "stop"]


@pytest.mark.parametrize("wrong", ["768.9", "-827.4", "312.4"])
def test_a_misread_first_display_is_not_where_the_addition_starts(wrong: str) -> None:
    before = pour(40, 100)
    rows = pour(40, 200, t=20)
    for row in rows:
        row["grams"] = str(Decimal(row["grams"]) + Decimal(100))
    rows[0]["grams"] = wrong
    _, answers = said(RESET, *before, RESET, *rows)
    answers = answers[len(before) :]
    assert [one["cue"] for one in answers[:12]] == ["pour"] * 12
    assert abs(Decimal(answers[-1]["landing_g"]) - 200) <= Decimal("0.1")


def test_what_is_put_in_at_once_counts_from_what_stood_there() -> None:
    rows = [{"t": k / 10, "grams": "312.4" if k == 0 else "412.4"} for k in range(30)]
    _, answers = said(RESET, *rows)
    assert abs(Decimal(answers[-1]["landing_g"]) - 100) <= Decimal("0.1")
