"""What a session teaches about pouring: how late a hand is, how it slows, how fast things flow.

Every quantity is learned on three levels: the scale with all who pour on it, the cook, and the
cook with this ingredient. A level with few pours leans on the one above it, so that a new
ingredient starts from what is known of the cook, and a new cook from what is known of the scale.
One pour moves a level by no more than a few standard deviations of what was expected, so a cue
that was ignored or an interrupted pour cannot carry it away. Memory is bounded: so many levels,
the ones not used for longest are forgotten first, and old pours fade.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass

#: Levels remembered of one kind, and pours after which old ones fade.
LEVELS = 64
FADES = 15.0
#: A surprise counts up to this many standard deviations.
SURPRISE = 2.5
#: What a level's own spread is worth in pours before it was seen.
SPREAD_SEEN = 4.0


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed before any pour.

    ``mean``    the middle, ``spread`` how far a scale, a cook or an ingredient may be from it.
    ``noise``   standard deviation from pour to pour.
    ``low``, ``high``  bounds that nothing learned leaves.
    """

    mean: float
    spread: float
    noise: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Belief:
    """What is believed: the ``mean``, how well it is known, and the scatter from pour to pour.

    ``of_cook``, ``pours``  how much was seen of the cook, and of the cook with this ingredient.
    """

    mean: float
    known: float
    noise: float
    of_cook: float = 0.0
    pours: float = 0.0


class _Level:
    """Pours of one level: their weight, mean, and mean square about what was expected."""

    __slots__ = ("mean", "square", "weight")

    def __init__(self, noise: float) -> None:
        self.weight = self.mean = 0.0
        self.square = noise * noise

    def add(self, value: float, weight: float, expected: float) -> None:
        total = min(self.weight, FADES) + weight
        self.mean += weight / total * (value - self.mean)
        gain = weight / (min(self.weight, FADES) + SPREAD_SEEN + weight)
        self.square += gain * ((value - expected) ** 2 - self.square)
        self.weight = total


class Learned:
    """One quantity, learned per cook and ingredient."""

    def __init__(self, prior: Prior) -> None:
        self._prior = prior
        self.forget()

    def forget(self) -> None:
        """Everything."""
        self._levels: OrderedDict[tuple[str, ...], _Level] = OrderedDict()

    def __len__(self) -> int:
        return len(self._levels)

    def belief(self, cook: str, ingredient: str) -> Belief:
        """What is believed of this cook with this ingredient."""
        prior = self._prior
        mean, variance, noise = prior.mean, prior.spread**2, prior.noise
        seen = [0.0, 0.0, 0.0]
        for depth, key in enumerate(_keys(cook, ingredient)):
            level = self._levels.get(key)
            if depth:
                variance += (prior.spread / 2) ** 2
            if level is None:
                continue
            noise = math.sqrt(level.square)
            own = noise * noise / level.weight
            gain = variance / (variance + own)
            mean += gain * (level.mean - mean)
            variance *= 1 - gain
            seen[depth] = level.weight
        mean = min(max(mean, prior.low), prior.high)
        return Belief(mean, math.sqrt(variance), noise, seen[1], seen[2])

    def saw(self, cook: str, ingredient: str, value: float, weight: float = 1.0) -> None:
        """A pour showed ``value``; ``weight`` (0 to 1) is less where it showed it badly."""
        if not (math.isfinite(value) and 0 < weight <= 1):
            return
        before = self.belief(cook, ingredient)
        room = SURPRISE * math.hypot(before.known, before.noise)
        value = min(max(value, before.mean - room), before.mean + room)
        value = min(max(value, self._prior.low), self._prior.high)
        for key in _keys(cook, ingredient):
            level = self._levels.get(key)
            if level is None:
                level = self._levels[key] = _Level(before.noise)
            self._levels.move_to_end(key)
            level.add(value, weight, before.mean)
        while len(self._levels) > LEVELS:
            self._levels.popitem(last=False)


def _keys(cook: str, ingredient: str) -> tuple[tuple[str, ...], ...]:
    return ((), (cook,), (cook, ingredient))
