"""Every reader of something from outside, given what once broke it, what is hard, and a dose of
damage; ``fuzz_parsers`` does the same guided by coverage.

What broke a reader is kept as ``fixtures/fuzz/TARGET/WHAT-IT-WAS``.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.dose import dose
from tests.fuzz import targets_record, targets_text
from tests.fuzz.target import HARD, LONGEST, json_mutated, mutated

TARGETS = {**targets_text.TARGETS, **targets_record.TARGETS}
FOUND = Path(__file__).resolve().parents[2] / "fixtures" / "fuzz"
KEPT = sorted(one for one in FOUND.glob("*/*") if one.is_file())


@pytest.mark.parametrize("path", KEPT, ids=lambda one: f"{one.parent.name}-{one.stem}")
def test_what_once_broke_a_reader_does_not_any_more(path: Path) -> None:
    TARGETS[path.parent.name].run(path.read_bytes())


@pytest.mark.parametrize("name", TARGETS)
def test_a_reader_raises_nothing_but_what_it_says(name: str) -> None:
    """Whole inputs, pieces that are hard alone and in their place, and random damage."""
    target, dice = TARGETS[name], random.Random(f"{name} 1")
    whole = target.seeds()
    for one in whole[:3]:
        target.run(one)
    for one in HARD:
        target.run(one)
    seeds = [one[:LONGEST] for one in whole]
    for _ in range(dose(25, 20_000)):
        seed = dice.randrange(len(seeds))
        if target.json and dice.random() < 0.7:
            target.run(json_mutated(whole[seed], dice))
        else:
            target.run(mutated(seeds[seed], dice, seeds))


#: Texts that somebody may paste or type, as long as they may be, of what makes a careless pattern
#: try all ways. Nothing is timed here: what runs away meets the time limit of every test.
LONG_ONES = ("1 ", "1/", "1.", ",", " ", "(", "a ", "½", "1 g ", "± ", "a=1 g,", "1 x ", "[", '"')


@pytest.mark.parametrize("name", ["pasted", "csv", "short", "scan", "formula", "limits", "shape"])
def test_a_long_text_does_not_run_away(name: str) -> None:
    for piece in LONG_ONES:
        TARGETS[name].run((piece * 20_000)[:20_000].encode())
