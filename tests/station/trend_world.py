"""A record of many batches, as an invented kitchen would leave it: with a bias and a change."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

from tests.storage.entries import Chain
from weighd.domain.record import Entry

#: Ingredient, name, target, allowed to each side, scatter and bias of the pouring, all in grams.
POURED = (
    ("cream", "Cream", 900.0, 9.0, 1.5, 0.0),
    ("sucrose", "Caster sugar", 300.0, 3.0, 0.8, 1.2),
    ("salt", "Fine salt", 2.0, 0.2, 0.05, 0.0),
)


def weighings(batches: int = 30, seed: int = 9) -> Iterator[list[Entry]]:
    """The entries of each batch. From the 20th on the cream comes 4 g too much."""
    rng, chain = random.Random(seed), Chain()
    for n in range(1, batches + 1):
        batch = f"kitchen-{n:04d}"
        entries = [chain.opening(batch, additions=len(POURED))]
        for at, (ingredient, name, target, room, scatter, bias) in enumerate(POURED, start=1):
            moved = 4.0 if ingredient == "cream" and n >= 20 else 0.0
            net = target + bias + moved + rng.gauss(0, scatter)
            body = weighed(at, name, target, room, net, ingredient)
            entries.append(chain.add("addition accepted", batch, **body))
        entries.append(chain.add("batch closed", batch))
        yield entries


def weighed(
    at: int, name: str, target: float, room: float, net: float, ingredient: str = "cream"
) -> dict[str, Any]:
    """What is looked at in the body of an acceptance."""
    on_target = abs(net - target) <= room
    return {
        "addition": at,
        "ingredient": ingredient,
        "name": name,
        "scale": "bench" if target > 10 else "fine",
        "operator": "Ada" if at < 3 else "Bo",
        "net_g": f"{net:.2f}",
        "target_g": f"{target:.1f}",
        "low_g": f"{target - room:.2f}",
        "high_g": f"{target + room:.2f}",
        "u_g": f"{room / 20:.4f}",
        "verdict": "on target" if on_target else "over" if net > target else "short",
    }
