"""One ingredient for another: the amount by ratio or rule, the rest as it was, allergens loud."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.domain.mixes import OWN, dairy, made_of
from tests.dose import dose
from tests.forked import run
from weighd.domain.composition import of_formula
from weighd.domain.errors import OperatorError
from weighd.domain.flavours import is_flavour
from weighd.domain.formula import Addition, Formula, Ingredient, read_tolerance
from weighd.domain.substitutes import Substitute
from weighd.main.files import read_formula_file
from weighd.solver.highs import Highs
from weighd.station.swapping import By, Same, Swap, read_ratio, swap
from weighd.station.swapping_words import draw_swap, tell

ROOT = Path(__file__).parents[2]
FORMULA = Formula(
    "own", "Own mix", tuple(Addition(one, g, read_tolerance("1 %")) for one, g in OWN)
)
SOLVER = Highs()
#: A cocoa of the USDA's table (SR 19165), and two pastes of an invented label.
COCOA = made_of("cocoa", {"sucrose": "1.75"}, water=3, fat="13.7", other_solids="81.55")
PASTE = replace(
    made_of("paste", {"sucrose": 40}, water=30, other_solids=30),
    instead=(Substitute("extract", Decimal("0.5"), "Stronger.", "common practice, no source"),),
)
EXTRACT = replace(
    made_of("extract", {"sucrose": 10}, water=55, alcohol=35), allergens=("sulphites",)
)


def with_paste(grams: str = "40") -> Formula:
    extra = Addition(PASTE, Decimal(grams), read_tolerance("1 %"))
    return replace(FORMULA, additions=(*FORMULA.additions, extra))


def value(one: Swap, of: str) -> tuple[Decimal, Decimal]:
    found = next(each.after for each in one.values if each.of == of)
    assert found is not None
    return found


@given(st.integers(20, 50))
@settings(max_examples=dose(8, 15), deadline=None)
def test_another_cream_and_the_mix_is_the_same(fat: int) -> None:
    """By another road: the masses of fat and of milk solids in, by the 9 % rule (Guelph)."""
    got = swap(FORMULA, "cream", dairy(f"cream-{fat}", fat), SOLVER)
    assert got.same in (Same.EXACTLY, Same.NEARLY)
    before, after = of_formula(FORMULA), of_formula(got.formula)
    for key in ("fat", "msnf", "sugars", "total_solids", "stabiliser"):
        was, now = before.percent(key).low, after.percent(key).low
        assert abs(now - was) <= was * Decimal("0.005") + Decimal("0.001"), key
    assert got.moved
    assert got.ratio.by is By.NOBODY
    assert not got.new_allergens


def test_a_paste_for_an_extract_at_the_ratio_of_strength() -> None:
    """Extract at about half the amount of paste: common practice, no source."""
    got = swap(with_paste(), "paste", EXTRACT, SOLVER)
    assert (got.ratio.value, got.ratio.by) == (Decimal("0.5"), By.RULE)
    assert got.new_g == 20
    assert got.new_allergens == ("sulphites",)
    lines = list(tell(got))
    assert lines[0].startswith("NEW ALLERGEN: sulphites.")
    assert any("common practice, no source" in line for line in lines)
    # 12 g of water came with the paste, 11 g come with the extract.
    drawn = draw_swap(got)
    assert drawn["water"] == {"old_g": "12.00", "new_g": "11.00"}
    assert drawn["allergens"]["new"] == ["sulphites"]
    assert drawn["ratio"]["source"] == "common practice, no source"
    assert [one["ingredient"] for one in drawn["additions"]][-1] == "extract"


def test_a_rule_is_read_backwards_and_a_given_ratio_goes_first() -> None:
    formula = replace(
        FORMULA,
        additions=(
            *FORMULA.additions,
            Addition(EXTRACT, Decimal(20), read_tolerance("1 %"), carrier="sucrose"),
        ),
    )
    back = swap(formula, "extract", PASTE, SOLVER)
    assert (back.ratio.value, back.ratio.by, back.new_g) == (2, By.BACKWARDS, 40)
    assert back.gone_allergens == ("sulphites",)
    given_one = swap(formula, "extract", PASTE, SOLVER, ratio=Decimal(3))
    assert (given_one.ratio.by, given_one.new_g) == (By.GIVEN, 60)
    assert given_one.formula.additions[-1].carrier == "sucrose"


def test_alone_changes_nothing_else() -> None:
    got = swap(FORMULA, "cream", dairy("double", 48), SOLVER, rebalance=False)
    assert got.same is None
    assert [one.target_g for one in got.formula.additions] == [
        one.target_g for one in FORMULA.additions
    ]
    assert value(got, "fat")[0] > of_formula(FORMULA).percent("fat").low
    assert "Nothing else was changed." in list(tell(got))


def test_flavours_salt_and_what_may_be_one_keep_their_amount() -> None:
    assert is_flavour(COCOA)
    assert is_flavour(PASTE)
    assert is_flavour(Ingredient("mystery", "Mystery"))
    assert not any(is_flavour(one) for one, _ in OWN)
    got = swap(with_paste(), "cream", dairy("double", 48), SOLVER)
    grams = {one.ingredient.id: one.target_g for one in got.formula.additions}
    assert (grams["paste"], grams["salt"]) == (40, 2)
    taste = swap(with_paste(), "paste", COCOA, SOLVER)
    assert taste.new_g == 40
    assert not taste.moved


def test_what_cannot_be_the_same_says_what_fights() -> None:
    """Nothing of what is left brings the fat back with the same milk solids."""
    few = replace(
        FORMULA,
        additions=tuple(
            one for one in FORMULA.additions if one.ingredient.id in ("milk", "cream", "sucrose")
        ),
    )
    got = swap(
        few, "cream", made_of("oatmilk", {"maltose": 5}, water=90, fat=2, other_solids=3), SOLVER
    )
    assert got.same is Same.NO
    assert got.outcome is not None
    assert got.outcome.fights is not None
    assert "cannot" in list(tell(got))[-1]


def test_missing_facts_are_named_not_zero() -> None:
    got = swap(FORMULA, "syrup", Ingredient("blend", "A blend"), SOLVER)
    assert got.new_missing == ("composition",)
    low, high = value(got, "sugars")
    assert high > low
    told = " ".join(tell(got))
    assert "Of A blend is missing: composition." in told
    assert draw_swap(got)["water"]["new_g"].startswith("0.00 to ")
    unknown = replace(
        FORMULA,
        additions=(
            *FORMULA.additions,
            Addition(Ingredient("blend", "A blend"), Decimal(50), read_tolerance("1 %")),
        ),
    )
    before = swap(unknown, "cream", dairy("double", 48), SOLVER)
    assert set(before.unknown) == {
        "fat", "msnf", "sugars", "total_solids", "stabiliser", "freezing_point",
    }  # fmt: skip
    assert "Not known before" in " ".join(tell(before))


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("unicorn", dairy("double", 48), "unknown-ingredient"),
        ("cream", dairy("cream", 35), "same-ingredient"),
    ],
)
def test_what_cannot_be_swapped(old: str, new: Ingredient, code: str) -> None:
    with pytest.raises(OperatorError) as told:
        swap(FORMULA, old, new, SOLVER)
    assert told.value.code == code


@pytest.mark.parametrize("text", ["NaN", "-1", "0", "1e3", "2000", "half", "inf"])
def test_what_is_no_ratio(text: str) -> None:
    with pytest.raises(OperatorError) as told:
        read_ratio(text)
    assert (told.value.code, told.value.where) == ("bad-ratio", "ratio")


def test_a_ratio_that_leaves_nothing_is_refused() -> None:
    with pytest.raises(OperatorError) as told:
        swap(with_paste("0.5"), "paste", EXTRACT, SOLVER, ratio=Decimal("0.001"))
    assert told.value.code == "bad-swap"


def test_the_command_saves_only_when_asked(tmp_path: Path) -> None:
    for one in (ROOT / "weighd/data/formulas").glob("*.toml"):
        shutil.copy(one, tmp_path)
    before = {one.name: one.read_bytes() for one in tmp_path.iterdir()}
    file = tmp_path / "hazelnut-gelato.toml"
    done = run("swap", file, "cream", "usda-01145")
    assert (done.returncode, done.stderr) == (0, "")
    out = json.loads(done.stdout)
    assert out["same"] == "nearly"
    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == before
    text = run("swap", file, "cream", "usda-01145", "--text", "--save", tmp_path / "buttery.toml")
    assert text.returncode == 0
    assert "The formula is in" in text.stdout
    assert "good to a tenth of a degree or two" in text.stdout
    saved = read_formula_file(tmp_path / "buttery.toml")
    assert {one["ingredient"]: one["target_g"] for one in out["additions"]} == {
        one.ingredient.id: str(one.target_g.quantize(Decimal("0.01"))) for one in saved.additions
    }
    again = run("swap", file, "cream", "usda-01145", "--save", tmp_path / "buttery.toml")
    assert again.returncode == 2
    bad = run("swap", file, "cream", "unicorn")
    assert bad.returncode == 2
    assert 'No ingredient is called "unicorn"' in bad.stderr
    not_one = run("swap", tmp_path / "ingredients.toml", "cream", "milk-powder")
    assert not_one.returncode == 2
    away = run("swap", file, "sucrose", "dextrose", "--text")
    assert away.returncode == 1
    assert "cannot both be" in away.stdout
