"""Hands that carry vessels about: what stands where, and that nothing is lost on the way."""

from __future__ import annotations

from typing import Any

from weighd_drivers.sim_plan import PlanHands


class Scale:
    """A pan with masses and no physics."""

    def __init__(self) -> None:
        self.on = False
        self.empty = self.inside = 0.0

    def picture(self) -> dict[str, Any]:
        return {"vessel_on": self.on, "vessel_g": self.empty, "contents_g": self.inside}

    def vessel(self, mass_g: float) -> None:
        self.on, self.empty, self.inside = True, mass_g, 0.0

    def tap(self, grams: float) -> None:
        self.inside += grams

    def lift(self) -> None:
        self.on, self.empty, self.inside = False, 0.0, 0.0


def state(n: int | None, *acts: tuple[str, str, str, int], batch: str = "b-1") -> dict[str, Any]:
    told = [dict(zip(("do", "vessel", "scale", "n"), one, strict=True)) for one in acts]
    return {"batch": {"id": batch, "current": n, "additions": [{}] * 3, "acts": told}}


ACTS = (
    ("set down", "bowl", "bench", 1),
    ("set down", "dish 1", "fine", 2),
    ("tip in", "dish 1", "fine", 3),
)


def test_a_dish_is_set_down_once_and_tipped_into_the_bowl() -> None:
    bench, fine = Scale(), Scale()
    hands = PlanHands({"bench": bench, "fine": fine}, bowl_g=400, dish_g=60)
    assert hands.follow(state(1, *ACTS))
    assert (bench.empty, fine.on) == (400, False)
    bench.tap(500)
    assert hands.follow(state(2, *ACTS))
    assert fine.empty == 60
    fine.tap(7)
    assert not hands.follow(state(2, *ACTS)), "once for each weighing"
    assert fine.inside == 7
    assert hands.follow(state(3, *ACTS))
    assert (bench.inside, fine.on) == (507, False)


def test_a_bowl_that_goes_and_comes_back_has_all_that_was_tipped_in() -> None:
    bench = Scale()
    acts = (
        ("set down", "bowl", "bench", 1),
        ("take off", "bowl", "bench", 2),
        ("set down", "dish 1", "bench", 2),
        ("tip in", "dish 1", "bench", 3),
        ("set down", "bowl", "bench", 3),
    )
    hands = PlanHands({"bench": bench}, bowl_g=400, dish_g=60)
    hands.follow(state(1, *acts))
    bench.tap(500)
    hands.follow(state(2, *acts))
    assert bench.empty == 60
    bench.tap(100)
    hands.follow(state(3, *acts))
    assert bench.empty == 1000


def test_the_last_dish_is_tipped_in_when_the_batch_is_over() -> None:
    bench, fine = Scale(), Scale()
    acts = (ACTS[0], ("set down", "dish 1", "fine", 3), ("tip in", "dish 1", "fine", 4))
    hands = PlanHands({"bench": bench, "fine": fine})
    hands.follow(state(1, *acts))
    hands.follow(state(3, *acts))
    fine.tap(7)
    hands.follow(state(None, *acts))
    assert bench.inside == 7


def test_a_new_batch_begins_with_empty_pans() -> None:
    bench, fine = Scale(), Scale()
    hands = PlanHands({"bench": bench, "fine": fine}, bowl_g=400)
    hands.follow(state(1, *ACTS))
    bench.tap(500)
    hands.follow(state(1, *ACTS, batch="b-2"))
    assert (bench.empty, bench.inside) == (400, 0)
    assert not hands.follow({"batch": None})
    assert not hands.follow({"batch": {"id": "b-3", "current": 1, "additions": []}})
