"""What is told when a formula is loaded: in sentences, with amounts that are true."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from tests.station.scripted import Hand, formula
from weighd.domain.accuracy import Accuracy
from weighd.domain.batch import Scale
from weighd.domain.metrology import Rule
from weighd.station import opening, outlook
from weighd.station.picture import draw_batch

D = Decimal
BENCH = Scale("bench", "test", D("0.1"), D(6000))
FINE = Scale("fine", "test", D("0.01"), D(600))

FORMULA = """
name = "Test ice"
[ingredients]
milk = { name = "Milk" }
pectin = { name = "Pectin" }
salt = { name = "Salt" }
[[additions]]
ingredient = "milk"
target = "500 g"
tolerance = "1 %"
[[additions]]
ingredient = "pectin"
target = "2.4 g"
tolerance = "2 %"
[[additions]]
ingredient = "salt"
target = "0.6 g"
tolerance = "0.05 g"
"""


def told(scale: Scale, *others: Scale, size: str = "503", rule: Rule | None = None) -> list[str]:
    planned = opening.plan(formula(FORMULA).scaled(D(size)), replace(scale, max_g=None))
    return [one["text"] for one in outlook.warnings(planned, scale, rule or Rule(), others)]


def test_a_relative_tolerance_names_the_least_amount_and_the_batch_that_reaches_it() -> None:
    assert told(BENCH)[0] == (
        "Pectin, 2.4 g within 2 %: the scale bench can judge such a tolerance from 6.59 g up. "
        "Use a finer scale, a tolerance of 0.14 g or wider or a batch from 1390 g up."
    )


def test_the_batch_it_names_is_one_that_can_be_judged() -> None:
    assert [one.split(",")[0] for one in told(BENCH, size="1390")] == ["Salt"]
    assert len(told(BENCH, size="1375")) == 2


def test_an_absolute_tolerance_is_not_helped_by_a_larger_batch() -> None:
    assert told(BENCH)[1] == (
        "Salt, 0.6 g within 0.05 g: the scale bench cannot judge such a tolerance at any amount. "
        "Use a finer scale or a tolerance of 0.14 g or wider."
    )


def test_another_scale_that_can_is_named() -> None:
    assert "Use the scale fine, a tolerance of" in told(BENCH, FINE)[0]
    assert "Use the scale fine or a tolerance of" in told(BENCH, FINE)[1]
    assert told(FINE, BENCH) == []
    assert "Use a finer scale" in told(BENCH, replace(FINE, max_g=D("0.5")))[0]


def test_a_batch_that_the_scale_could_not_hold_is_not_advised() -> None:
    small = replace(BENCH, max_g=D(1200))
    assert told(small)[0].endswith("Use a finer scale or a tolerance of 0.14 g or wider.")
    assert "cannot judge such a tolerance at any amount" in told(replace(BENCH, max_g=D(6)))[0]


def test_with_simple_acceptance_only_the_steps_of_the_display_count() -> None:
    [only] = told(BENCH, rule=Rule("simple"))
    assert only == (
        "Pectin, 2.4 g within 2 %: the scale bench can judge such a tolerance from 2.50 g up. "
        "Use a finer scale, a tolerance of 0.05 g or wider or a batch from 524 g up."
    )


def test_what_is_stated_of_the_scale_counts() -> None:
    stated = replace(BENCH, accuracy=Accuracy(max_error_g=D(5)))
    assert [one.split(",")[0] for one in told(stated)] == ["Milk", "Pectin", "Salt"]
    assert told(replace(FINE, max_g=D(6000), accuracy=Accuracy(repeatability_g=D("0.5"))))


def test_a_display_that_wavers_is_reckoned_with_and_told() -> None:
    planned = opening.plan(formula(FORMULA).scaled(D(503)), BENCH)
    quiet = outlook.warnings(planned, BENCH, Rule(), noise_g=0.04)
    assert quiet == outlook.warnings(planned, BENCH, Rule())
    first, *others = outlook.warnings(planned, BENCH, Rule(), noise_g=0.45)
    assert (first["code"], first["addition"]) == ("unsteady", None)
    assert first["text"].startswith("The display of the scale bench wavers by 0.90 g; what it can")
    # 2 u are 2 hypot(0.0408, 0.45) = 0.904 g, and half an interval: 0.954 g, rounded up.
    assert {one["finest_g"] for one in others} == {"0.96"}
    shaken = outlook.warnings(planned, BENCH, Rule(), noise_g=3.0)
    assert [one["addition"] for one in shaken] == [None, 1, 2, 3]


def test_a_scale_seen_to_waver_is_told_of_in_the_list() -> None:
    """The detector learns how unsteady a display is from loads at rest."""
    hand = Hand()
    for k in range(120):
        hand.raw(b"%d.%d\n" % (100, (k * 7) % 10))
    state = hand.station.scales["bench"]
    assert state.noise_g > 0.1
    known = state.as_scale()
    assert known is not None
    shown = outlook.as_it_shows(known, state.noise_g)
    assert shown.accuracy.repeatability_g > D("0.1")
    assert known.accuracy.repeatability_g == 0  # what a batch is judged by is what was stated


def test_an_amount_below_min_and_a_batch_above_max() -> None:
    scale = replace(FINE, min_g=D("0.8"))
    assert told(scale) == [
        "Salt, 0.6 g: less than the scale fine should be used for (Min 0.8 g).",
    ]
    heavy = told(replace(FINE, max_g=D(500)))
    assert heavy == [
        "The whole batch is 503.0 g without its vessel; the scale fine can weigh 500 g."
    ]


def test_the_batch_shows_it_for_every_addition() -> None:
    hand = Hand()
    hand.start(FORMULA)
    assert hand.station.batch is not None
    drawn = draw_batch(hand.station.batch)["additions"]
    assert [(one["judgeable"], one["least_g"], one["finest_g"]) for one in drawn] == [
        (True, "13.17", "0.14"),
        (False, "6.59", "0.14"),
        (False, None, "0.14"),
    ]
