"""What a display steps in."""

from __future__ import annotations

from itertools import pairwise

import pytest

from weighd.domain.settling_grid import Grid

#: An ounce is 28.349523125 g (see ``weighd.domain.mass``); a hundredth of it on a 0.1 g scale.
HUNDREDTH_OZ = 2.8349523125


@pytest.mark.parametrize(
    ("counts", "unit", "step"),
    [
        (range(40), 1.0, 1.0),
        (range(0, 8000, 200), 1.0, 1.0),  # a pour in equal strides is no grid
        ([*range(0, 4000, 100), 3904], 1.0, 1.0),  # nor is what it has in common with a jump
        (range(0, 80, 2), 1.0, 2.0),
        (range(0, 10, 2), 1.0, 1.0),  # too few steps to tell
        ([*range(0, 80, 2), 81], 1.0, 1.0),
        ([3, 4, 6, 5], HUNDREDTH_OZ, HUNDREDTH_OZ),
        ([0, 30, 75, 121, 120], HUNDREDTH_OZ, HUNDREDTH_OZ),
        ([0, 30, 90], HUNDREDTH_OZ, 2.0),
    ],
)
def test_what_it_steps_in(counts: list[int], unit: float, step: float) -> None:
    grid = Grid()
    shown = [count * unit for count in counts]
    for before, now in pairwise(shown):
        grid.stepped(before, now)
    assert grid.step == pytest.approx(step, rel=1e-3)


def test_back_to_its_own_grid() -> None:
    grid = Grid()
    for before, now in pairwise([0.0, 5 * HUNDREDTH_OZ, 6 * HUNDREDTH_OZ, 16.0, 17.0, 15.0, 14.0]):
        grid.stepped(before, now)
    assert grid.step == 1.0
