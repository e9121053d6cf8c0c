"""Whole stations out of a seed: that the rules hold, that a seed is always the same day, and that
a program that breaks a rule is found out."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.dose import LONG, dose
from tests.simulation.mutations import (
    MUTATIONS,
    Patch,
    evidence_is_dropped,
    keys_are_forgotten,
    one_reading_decides,
    shown_before_it_is_durable,
)
from tests.simulation.run import Outcome, simulate
from tests.simulation.shrink import shrunk
from tests.simulation.tally import Tally, never, table

ROOT = Path(__file__).parents[2]
#: Those that are ``long`` (hours of readings) only in the long dose.
KEPT = [
    one
    for one in json.loads((ROOT / "fixtures/simulation/seeds.json").read_text("utf-8"))
    if LONG or not one.get("long")
]
SEEDS = range(dose(40, 1000))
SHORT = (
    shown_before_it_is_durable, keys_are_forgotten, evidence_is_dropped, one_reading_decides,
)  # fmt: skip


def holds(out: Outcome) -> None:
    assert out.broken is None, "\n".join((f"seed {out.seed}", *out.told[-12:]))


def test_the_rules_hold_in_every_kitchen() -> None:
    """The rules of tests/simulation/rules.py, after every step; and much comes by in it."""
    tally = Tally()
    for seed in SEEDS:
        holds(simulate(seed, tally))
    left = never(tally)
    assert "phase" not in left, table(tally)
    assert "died" not in left, table(tally)
    assert set(left.get("held", ())) <= {"short", "too close to call"}, left["held"]
    assert tally["net: compared with the truth"] > 200
    assert tally["proof: a batch shown alone"] > 20
    assert tally["proof: recording replayed"] > 3
    assert tally["page: compared"] > 100


@pytest.mark.parametrize("kept", KEPT, ids=lambda one: str(one["seed"]))
def test_a_seed_that_once_broke_a_rule(kept: dict[str, object]) -> None:
    """``found`` says what it showed then; a seed may draw another day since the world has changed,
    so each defect has a test of its own besides."""
    seed = kept["seed"]
    assert isinstance(seed, int)
    holds(simulate(seed))


def test_a_seed_is_the_same_day_each_time() -> None:
    """Also in another process, where sets of texts come in another order."""
    here = {seed: simulate(seed).trace for seed in (3, 5, 17)}
    assert here == {seed: simulate(seed).trace for seed in (3, 5, 17)}
    assert len(set(here.values())) == len(here)
    code = (
        "from tests.simulation.run import simulate\n"
        "print(*(simulate(seed).trace for seed in (3, 5, 17)))"
    )
    for hash_seed in ("1", "4242"):
        told = subprocess.run(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": hash_seed},
            capture_output=True,
            text=True,
            check=True,
        )
        assert told.stdout.split() == list(here.values())


@pytest.mark.parametrize("damage", list(MUTATIONS) if LONG else SHORT, ids=lambda one: one.__name__)
def test_a_program_that_breaks_a_rule_is_found_out(
    damage: Callable[[Patch], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Within so many seeds; without the damage the same seeds hold (above, and by hand)."""
    damage(monkeypatch.setattr)
    for seed in range(MUTATIONS[damage]):
        if simulate(seed).broken is not None:
            return
    pytest.fail(f"{damage.__name__} was not seen in {MUTATIONS[damage]} seeds")


def test_what_broke_is_told_shorter(monkeypatch: pytest.MonkeyPatch) -> None:
    """Turns that have nothing to do with it are left out, and the same rule still breaks."""
    keys_are_forgotten(monkeypatch.setattr)
    broken = next(out for out in map(simulate, range(40)) if out.broken and out.at > 8)
    best, without = shrunk(broken.seed, broken)
    assert broken.broken is not None
    assert best.broken is not None
    assert best.broken.rule == broken.broken.rule
    assert without
    assert best.at - len(without) < broken.at
