"""Chance out of a seed: each turn of a simulation has its own, so that turns can be left out."""

from __future__ import annotations

import random

_TURNS = 1 << 20


class Chance(random.Random):
    """Chance of one turn."""

    def often(self, share: float) -> bool:
        """Whether something that happens in this share of cases happens now."""
        return self.random() < share


def chance_of(seed: int, turn: int) -> Chance:
    """The chance of a turn of a seed; ``-1`` is what the kitchen is drawn from."""
    return Chance(seed * _TURNS + turn + 1)
