"""How large a batch is made."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.domain.mixes import OWN
from tests.domain.published import CHECKS
from weighd.domain.composition import compose, of_formula
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula import Addition, Formula, Ingredient, read_tolerance
from weighd.domain.scale_steps import SHARE, to_steps
from weighd.domain.sizing import By, read_size

FORMULA = Formula(
    "own", "Own mix", tuple(Addition(one, g, read_tolerance("1 %")) for one, g in OWN)
)


@pytest.mark.parametrize(
    ("text", "by", "grams"),
    [
        ("2400", By.MASS, "2400"),
        ("3 kg", By.MASS, "3000"),
        ("2,5 kg", By.MASS, "2500"),
        ("1 lb", By.MASS, "453.59"),
        ("40 servings of 80 g", By.SERVINGS, "3200"),
        ("40x80g", By.SERVINGS, "3200"),
        ("1 serving of 0.5 kg", By.SERVINGS, "500"),
        ("cream=60 g", By.ON_HAND, "1200"),
        ("cream=60 g, milk=1.56 kg", By.ON_HAND, "1200"),
        ("milk: 1,56 kg; cream: 0,24 kg", By.ON_HAND, "2400"),
    ],
)
def test_sizes(text: str, by: By, grams: str) -> None:
    size = read_size(text, FORMULA)
    assert (size.by, size.batch_g, size.asked) == (by, Decimal(grams), text)
    assert size.words


def test_volume_at_an_overrun() -> None:
    """Our own mix as the check values have it: 2400 g are so many litres with 30 % overrun
    (density after Goff, Overrun calculations, Univ. of Guelph)."""
    row = CHECKS["own_mix_yield_30pct_overrun"]["expected"]
    size = read_size(f"{row['product_L']} L at 30 %", FORMULA)
    assert float(size.batch_g) == pytest.approx(2400, abs=2400 * 0.0005 / row["product_L"] + 0.01)
    assert size.overrun_percent == 30
    assert "L of mix of 1.1289 g/mL" in size.words
    plain = read_size(f"{row['mix_L']} L", FORMULA)
    assert float(plain.batch_g) == pytest.approx(2400, abs=2400 * 0.0005 / row["mix_L"] + 0.01)
    each = read_size("20 servings of 138.2 mL at 30 % overrun", FORMULA)
    assert each.by is By.SERVINGS
    assert float(each.batch_g) == pytest.approx(20 * 138.2 / 1.3 * 1.1289, rel=1e-4)


def test_the_scarcest_is_named_and_never_needed_beyond_what_is_there() -> None:
    size = read_size("cream=50 g, sucrose=120 g, salt=10 g", FORMULA)
    assert size.scarcest == "sucrose"
    assert "scarcest" in size.words
    assert size.as_json()["scarcest"] == "sucrose"


@given(
    st.lists(st.integers(1, 500_000), min_size=9, max_size=9),
    st.sampled_from(["0", "0.004999", "0.009999"]),
)
@settings(max_examples=80, deadline=None)
def test_what_is_on_hand_suffices_to_the_hundredth(cents: list[int], more_of_it: str) -> None:
    beyond = Decimal(more_of_it)
    on_hand = {one.id: Decimal(c) / 100 + beyond for (one, _), c in zip(OWN, cents, strict=True)}
    try:
        size = read_size(", ".join(f"{k}={v} g" for k, v in on_hand.items()), FORMULA)
        scaled = FORMULA.scaled(size.batch_g)
    except (OperatorError, FormulaError) as error:
        assert error.code in ("bad-size", "bad-batch-size")  # too little of something for any batch
        return
    used = {one.ingredient.id: one.target_g for one in scaled.additions}
    assert all(used[name] <= grams for name, grams in on_hand.items())
    # And it is the most: a gram more in the kilogram, and something would not do.
    more = {name: g * Decimal("1.001") + Decimal("0.02") for name, g in used.items()}
    assert any(more[name] > grams for name, grams in on_hand.items())


def mixed(*amounts: tuple[str, str]) -> Formula:
    rows = [Addition(Ingredient(n, n), Decimal(g), read_tolerance("1 %")) for n, g in amounts]
    return Formula("short", "Short", tuple(rows))


@pytest.mark.parametrize(
    ("amounts", "text", "grams", "used"),
    [
        # 33.337 g would do for 100.01 g, of which 33.34 g are a third: for a little less they do.
        ([("a", "100"), ("b", "200")], "a=33.337 g", "99.98", "33.33"),
        # So much is as good as 0.99 g, and far from it: to 0.995 g all is rounded to 1.00 g.
        ([("a", "1"), ("b", "99")], "a=0.999999 g", "98.99", "0.99"),
        # At its own size nothing is rounded.
        ([("a", "0.333"), ("b", "1.667")], "a=0.333 g", "2", "0.333"),
        # Each of fifty amounts is rounded up to 1.02 g, down to a size of 50.75 g.
        ([("a", "1")] * 50, "a=50.99 g", "50.74", "50.50"),
    ],
)
def test_what_rounding_adds_is_on_hand_too(
    amounts: list[tuple[str, str]], text: str, grams: str, used: str
) -> None:
    formula = mixed(*amounts)
    size = read_size(text, formula)
    scaled = formula.scaled(size.batch_g)
    found = sum(one.target_g for one in scaled.additions if one.ingredient.id == "a")
    assert (str(size.batch_g), found) == (grams, Decimal(used))


@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        ("", "bad-size", "is no size"),
        ("lots", "bad-size", "is no size"),
        ("NaN", "bad-size", "is no size"),
        ("-3 kg", "bad-size", "is no size"),
        ("0", "bad-size", "cannot be made"),
        ("2000 kg", "bad-size", "cannot be made"),
        ("3 stone", "bad-size", "is no size"),
        ("5 L at 2000 %", "bad-size", "overrun"),
        ("40 servings of 80 g at 30 %", "bad-size", "no use for an overrun"),
        ("0 servings of 80 g", "bad-size", "cannot be made"),
        ("cream=60", "bad-size", "is no size"),
        ("cream=0 g", "bad-size", "cannot be made"),
        ("cream=999999999 g", "bad-size", "cannot be made"),
        ("cream=60 g, cream=70 g", "bad-size", "twice"),
        ("unicorn=60 g", "unknown-ingredient", 'has no "unicorn"'),
        ("x" * 400, "bad-size", "longer"),
    ],
)
def test_what_is_no_size_says_why(text: str, code: str, said: str) -> None:
    with pytest.raises(OperatorError) as told:
        read_size(text, FORMULA)
    assert told.value.code == code
    assert said in str(told.value)
    assert told.value.where == "size"


@given(st.text(max_size=80))
def test_no_text_breaks_it(text: str) -> None:
    try:
        read_size(text, FORMULA)
    except (OperatorError, FormulaError) as error:
        assert error.code in ("bad-size", "unknown-ingredient", "bad-batch-size")


def test_a_volume_of_what_is_not_known_is_at_least_that() -> None:
    vague = Ingredient("paste", "Paste")
    formula = Formula(
        "vague",
        "Vague",
        (*FORMULA.additions, Addition(vague, Decimal(100), read_tolerance("1 %"))),
    )
    size = read_size("2 L", formula)
    assert "at least" in size.words
    assert "paste" in size.words
    volume = of_formula(formula).of("volume_ml")
    assert size.batch_g / formula.batch_g * volume.low >= Decimal("1999.99")


@given(st.integers(100, 100_000))
@settings(max_examples=60, deadline=None)
def test_scaling_then_composing_is_composing_then_scaling(grams: int) -> None:
    """Nine amounts, each off by half a hundredth of a gram at most."""
    size = read_size(f"{grams} g", FORMULA)
    try:
        scaled = of_formula(FORMULA.scaled(size.batch_g))
    except FormulaError:
        return
    whole = of_formula(FORMULA)
    for key in ("fat", "msnf", "sugars", "water", "total_solids", "sucrose_equivalent"):
        wanted = whole.of(key).low * grams / whole.mass_g
        # Of sucrose equivalents, a gram has 1.9 at most.
        assert abs(scaled.of(key).low - wanted) <= 9 * Decimal("0.005") * Decimal("1.9")


def test_rounding_to_the_steps_of_scales() -> None:
    scales = {
        n: "fine" if one.target_g < 50 else "bench" for n, one in enumerate(FORMULA.additions, 1)
    }
    intervals = {"fine": Decimal("0.01"), "bench": Decimal(5)}
    scaled = FORMULA.scaled(Decimal(1777))
    stepped, told = to_steps(scaled, scales, intervals)
    for before, after, one in zip(scaled.additions, stepped.additions, told, strict=True):
        low, high = before.band
        room = min(before.target_g - low, high - before.target_g) * SHARE
        assert abs(after.target_g - before.target_g) <= room
        assert (one.before_g, one.after_g) == (before.target_g, after.target_g)
        if one.kept:
            assert after == before
        else:
            assert after.target_g % intervals[one.scale] == 0
    # 1 % of 1155.05 g lets 5 g steps be used; of 88.85 g it does not.
    assert [one.kept for one in told][:2] == [False, True]
    assert compose((one.ingredient, one.target_g) for one in stepped.additions).mass_g > 1770


def test_a_volume_of_what_is_not_known_at_all_is_refused_and_says_what_is_missing() -> None:
    vague = Ingredient("paste", "Paste")
    formula = Formula("v", "Vague", (Addition(vague, Decimal(100), read_tolerance("1 %")),))
    with pytest.raises(OperatorError) as told:
        read_size("2 L", formula)
    assert told.value.code == "facts-missing"
    assert "paste" in told.value.remedy
