"""Unplugged at any of fifty moments in a batch: it goes on, nothing is lost, nothing is wrong."""

from __future__ import annotations

import random
from collections import Counter

import pytest

from tests.fault.evening import ADDITIONS, Evening, Pull
from weighd.domain.addition import Phase

SEED = 20261126
MOMENTS = 50
#: Where an addition can stand when the cable goes, and how long after that began, seconds.
WHERE = {
    "awaiting vessel": 3.0,
    "ready": 1.0,
    "pouring": 3.0,
    "settling": 0.4,
    "judged": 0.6,
    "held": 1.0,
    "being written": 0.3,
    "any": 50.0,
}


def pulls() -> list[tuple[Pull, float | None]]:
    """Every moment in turn, at random additions and times."""
    chance = random.Random(SEED)
    out: list[tuple[Pull, float | None]] = []
    for n in range(MOMENTS):
        moment = list(WHERE)[n % len(WHERE)]
        first = moment == "awaiting vessel"  # later additions have theirs
        pull = Pull(
            moment,
            1 if first else chance.randrange(1, ADDITIONS + 1),
            chance.uniform(0, WHERE[moment]),
            chance.choice([0.05, 0.4, 2.5, 30.0]) * chance.uniform(0.5, 2),
            chance.random() < 0.4,
        )
        out.append((pull, 0.2 if chance.random() < 0.3 else None))
    return out


@pytest.fixture(scope="module")
def evenings() -> list[Evening]:
    """All of them, weighed to the end."""
    print(f"seed {SEED}")
    out = [Evening(SEED + n, *one) for n, one in enumerate(pulls())]
    for evening in out:
        evening.run()
    return out


def test_every_evening_ends_with_a_record_that_holds_and_says_what_went_in(
    evenings: list[Evening],
) -> None:
    assert len(evenings) == MOMENTS
    for evening in evenings:
        evening.check()


def test_the_cable_went_in_every_phase(evenings: list[Evening]) -> None:
    seen = Counter(str(one) for evening in evenings for one in evening.seen)
    wanted = {str(one) for one in Phase} - {"accepted"} | {"being written", "scale lost"}
    assert set(seen) >= wanted
    assert all(seen[one] >= 3 for one in wanted), seen
    assert sum(seen.values()) >= MOMENTS


def test_a_scale_that_keeps_its_zero_goes_on_by_itself(evenings: list[Evening]) -> None:
    """Nobody is asked anything where the scale had its own power."""
    kept = [one for one in evenings if not one.pull.zero and one.seen]
    assert len(kept) >= 20
    for evening in kept:
        kinds = [one.body.get("cause") for one in evening.journal.entries()]
        assert "scale at zero" not in kinds
