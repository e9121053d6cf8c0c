"""What a simulated cook's hands do with vessels: set one down, bring it back, pour out of it."""

from __future__ import annotations

import random

from weighd_drivers.sim_habits import (
    Action,
    Habits,
    Lift,
    PourOut,
    PutBack,
    SetDown,
    Take,
    Tap,
    ZeroKey,
)
from weighd_drivers.sim_sight import Sight

#: A container holds so much more than is wanted of it, as a share; a pour by eye, with it in the
#: hand, gives this share of what is to go, so far off (deviation of its logarithm).
HOLDS, BY_EYE, OFF = (0.3, 1.5), 0.9, 0.05


def another(
    sight: Sight, rng: random.Random, habits: Habits, *, heavy: bool = False
) -> tuple[Action, ...]:
    """A vessel to weigh into, empty; or the ingredient's own, with enough in it: for that an empty
    scale must show no less than nothing."""
    least, most = habits.vessel_least_g, habits.vessel_most_g
    mass = round(rng.uniform(most, 2 * most) if heavy else rng.uniform(least, most), 1)
    if not sight.out:
        return (SetDown(mass),)
    holds = round(sight.target_g * (1 + rng.uniform(*HOLDS)) + 50, 1)
    zero = (ZeroKey(),) if (sight.gross_g or 0.0) < -1 else ()
    return (*zero, SetDown(mass, holds))


def bring_back(sight: Sight) -> tuple[Action, ...]:
    """The vessel that was being used; where the world forgot it, one just as heavy."""
    wipe = (Lift(),) if sight.spilled and not sight.vessel_on else ()
    if sight.lifted:
        return (*wipe, PutBack())
    moved = sight.sum_g or 0.0
    mass = (sight.tare_g or 0.0) + (-moved if sight.out else moved)
    return (*wipe, SetDown(round(max(mass, 1.0), 1)))


def pour_out(to_go_g: float, rng: random.Random) -> tuple[Action, ...]:
    """Lift it off, pour about what is to go, set it back: nothing shows meanwhile."""
    grams = to_go_g * BY_EYE * rng.lognormvariate(0, OFF)
    return (Lift(), PourOut(round(max(grams, 0.1), 2)), PutBack())


def more(sight: Sight, spoonful_g: float) -> Action:
    """A spoonful more of it is weighed in: into the vessel, or out of its own."""
    return Take(spoonful_g) if sight.out else Tap(spoonful_g)


def less(sight: Sight, spoonful_g: float) -> Action:
    """A spoonful of it goes back."""
    return Tap(spoonful_g) if sight.out else Take(spoonful_g)
