"""Asking for a mix: which amounts are up for change, which mix is best, what is written."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.domain.mixes import OWN
from weighd.domain.composition import of_formula
from weighd.domain.errors import OperatorError
from weighd.domain.formula import Addition, Formula, Ingredient, read_tolerance, revision_of
from weighd.domain.formula_text import read_formula
from weighd.domain.formula_writing import formula_toml
from weighd.domain.limits import QUANTITIES
from weighd.domain.targets import AmountTarget, Target, read_target, split_target
from weighd.main.shipped import read_shipped_table
from weighd.solver.highs import Highs
from weighd.station.solving import Aim, Outcome, asked, solve
from weighd.station.solving_words import draw_solved, sentence, tell

FORMULA = Formula(
    "own",
    "Own mix",
    tuple(Addition(one, mass, read_tolerance("1 %")) for one, mass in OWN),
    note='Says "so".',
    cautions=("Hot.",),
)
POOL = {one.id: one for one, _ in OWN}


def solved(*texts: str, formula: Formula | None = FORMULA, **more: object) -> Outcome:
    targets: list[Target] = [read_target(*split_target(text), POOL) for text in texts]
    return solve(asked(formula, POOL, targets, **more), Highs())  # type: ignore[arg-type]


def test_what_is_asked_already_changes_nothing() -> None:
    got = solved("fat=3..4", "freezing_point=-3.2..-3.0")
    assert got.met
    assert {one.ingredient.id: one.target_g for one in got.formula.additions} == {
        one.id: mass for one, mass in OWN
    }


def test_salt_and_stabiliser_keep_their_amount_unless_named() -> None:
    cold = solved("freezing_point=-3.5..-3.4")
    assert cold.kept == ("stabiliser", "salt")
    assert cold.grams["salt"] == 2
    named = solved("freezing_point=-3.5..-3.4", "salt=0..20 g", "stabiliser=0.4")
    assert named.kept == ()
    assert named.grams["stabiliser"] == Decimal("9.60")
    bigger = solved("fat=5", batch_g=Decimal(4800))
    assert bigger.grams["salt"] == 4


@given(st.integers(3, 14), st.integers(7, 12), st.integers(31, 40), st.booleans())
@settings(max_examples=25, deadline=None)
def test_what_is_met_is_met_in_exact_arithmetic(
    fat: int, msnf: int, solids: int, cold: bool
) -> None:
    texts = [f"fat={fat}", f"msnf={msnf}", f"total_solids={solids}..{solids + 1}"]
    got = solved(*texts, *(["freezing_point=-3.2..-3.0"] if cold else []))
    mix = of_formula(got.formula)
    for one in got.reached:
        if not got.met:
            continue
        # Nine amounts, each off by half a hundredth of a gram at most, of 2400 g.
        assert one.met
        value = mix.percent(one.limit.of[0]).low if one.limit.of[0] in ("fat", "msnf") else None
        if value is not None:
            assert abs(value - (one.limit.least or 0)) <= Decimal("0.0019")
    drawn = draw_solved(got)
    assert (drawn["conflict"] is None) == got.met
    assert len(list(tell(got))) > 10
    if got.fights is not None:
        assert sentence(got.fights, got.wishes, POOL).endswith(".")
        assert any(not one.met for one in got.reached)


def test_the_nearest_changes_no_more_than_any_grid_point() -> None:
    """Three amounts, one target: every gram tried."""
    keep = ("milk", "cream", "sucrose")
    formula = replace(
        FORMULA,
        additions=tuple(one for one in FORMULA.additions if one.ingredient.id in keep),
    )
    pool = {name: POOL[name] for name in keep}
    size = formula.batch_g
    target = read_target("fat", "6..6.2", pool)
    got = solve(asked(formula, pool, [target]), Highs())
    present = {one.ingredient.id: float(one.target_g) for one in formula.additions}

    def cost(grams: dict[str, float]) -> float:
        return sum(abs(grams[k] - v) / max(v, float(size) / 100) for k, v in present.items())

    fat = {"milk": 3.25, "cream": 35.0, "sucrose": 0.0}
    best = min(
        cost(grams)
        for cream in range(100, 500, 2)
        for sucrose in range(200, 400, 2)
        if (grams := {"cream": float(cream), "sucrose": float(sucrose),
                      "milk": float(size) - cream - sucrose})
        and 6 <= sum(fat[k] * v for k, v in grams.items()) / float(size) <= 6.2
    )  # fmt: skip
    assert cost({k: float(v) for k, v in got.exact.items()}) <= best + 1e-9


def test_the_middle_of_ranges() -> None:
    got = solved("fat=3..6", "msnf=9..12", "freezing_point=-3.4..-2.9", aim="middle")
    mix = of_formula(got.formula)
    assert float(mix.percent("fat").low) == pytest.approx(4.5, abs=0.002)
    assert float(mix.percent("msnf").low) == pytest.approx(10.5, abs=0.002)
    point = next(one for one in got.reached if one.limit.of == ("freezing_point",))
    assert float(point.low or 0) == pytest.approx(-3.15, abs=0.002)
    assert got.ask.aim is Aim.MIDDLE


def test_without_a_formula_there_is_nothing_to_be_near_to() -> None:
    with pytest.raises(OperatorError) as told:
        solved("fat=5", formula=None, aim="nearest")
    assert told.value.code == "bad-aim"
    got = solved("fat=5", "msnf=10", "sugars=15", "stabiliser=0.3", formula=None)
    assert (got.ask.aim, got.formula.id) == (Aim.MIDDLE, "solved")
    assert got.grams["salt"] == 0  # not named, and there for its salt
    with pytest.raises(OperatorError) as told:
        asked(None, {}, [])
    assert told.value.code == "no-ingredients"


def test_a_formula_is_written_as_it_is_read() -> None:
    odd = Ingredient("odd", 'An "odd" one\\', ("milk", "nuts (hazelnut)"), "Stir\nwell.")
    formula = replace(
        FORMULA,
        additions=(
            *FORMULA.additions,
            Addition(odd, Decimal("0.5"), read_tolerance("+0.1 / -0.2 g"), True, "sucrose"),
        ),
        kind="gelato",
    )
    again = read_formula(formula_toml(formula), "own.toml")
    assert again == formula
    assert again.revision == revision_of(formula.content())


TABLE = read_shipped_table()
VALUES = {"freezing_point": (-8, 0), "density": (0.4, 1.2), "solids_per_litre": (0.1, 0.6)}


@st.composite
def requests(draw: st.DrawFn) -> tuple[dict[str, Ingredient], list[Target]]:
    """Any ingredients that ship, of which facts are missing too, and any targets at all."""
    names = draw(st.lists(st.sampled_from(sorted(TABLE)), min_size=2, max_size=12, unique=True))
    # Names that are quantities as well.
    pool = {name: TABLE[name] for name in names} | {
        name: replace(TABLE[each], id=name)
        for name, each in (("salt", "usda-02047"), ("fat", "usda-01145"))
    }
    targets: list[Target] = []
    quantities = st.sampled_from(sorted(QUANTITIES))
    for of in draw(st.lists(quantities, min_size=1, max_size=5, unique=True)):
        low, high = VALUES.get(of, (0, 40))
        value = draw(st.floats(low, high))
        form = draw(st.sampled_from(["{:.2f}", "{:.2f}±0.3", ">={:.2f}", "<={:.2f}"]))
        targets.append(read_target(of, form.format(value), pool))
    for name in draw(st.lists(st.sampled_from(sorted(pool)), max_size=3, unique=True)):
        low, high = sorted(draw(st.lists(st.integers(0, 900), min_size=2, max_size=2)))
        targets.append(read_target(name, f"{low}..{high} g", pool))
    return pool, targets


@given(requests(), st.sampled_from([Decimal(10), Decimal(1000), Decimal(900_000)]), st.booleans())
@settings(max_examples=40, deadline=None)
def test_any_request_has_an_answer(
    request: tuple[dict[str, Ingredient], list[Target]], batch_g: Decimal, formula: bool
) -> None:
    pool, targets = request
    present = Formula(
        "x",
        "X",
        tuple(Addition(one, Decimal(100), read_tolerance("1 %")) for one in pool.values()),
    )
    try:
        ask = asked(present if formula else None, pool, targets, batch_g=batch_g,
                    aim="" if formula else "middle", overrun_percent=Decimal(30))  # fmt: skip
        got = solve(ask, Highs())
    except OperatorError as error:
        assert error.code == "no-mix"
        return
    assert draw_solved(got)
    assert list(tell(got))
    assert abs(got.formula.batch_g - batch_g) <= Decimal("0.1") or not got.met
    if got.met:
        assert all(one.met for one in got.reached)
        for one in ask.targets:
            if isinstance(one, AmountTarget):
                least, most = one.in_grams(batch_g)
                assert (least or 0) - Decimal("1e-6") <= got.exact[one.ingredient]
                assert most is None or got.exact[one.ingredient] <= most + Decimal("1e-6")


def test_a_flavour_keeps_its_amount_unless_it_is_named() -> None:
    """Hazelnut paste is fat as well; but a lighter gelato is to taste of hazelnut all the same."""
    paste = TABLE["usda-19165"]  # cocoa: more than half of it is neither fat, milk nor sugar
    extra = Addition(paste, Decimal(100), read_tolerance("1 %"))
    formula = replace(FORMULA, additions=(*FORMULA.additions, extra))
    pool = POOL | {paste.id: paste}
    for texts, kept in (
        (("fat=4..4.1",), True),
        (("fat=4..4.1", f"{paste.id}>=0 g"), False),
        (("fat=4..4.1", "other_solids=1..2"), False),
    ):
        targets: list[Target] = [read_target(*split_target(text), pool) for text in texts]
        got = solve(asked(formula, pool, targets), Highs())
        assert (paste.id in got.kept) == kept
        assert got.met
        if kept:
            assert got.grams[paste.id] == 100
    # Taken from a list by name, it is there to be used.
    free = solve(asked(None, pool, [read_target("fat", "5", pool)]), Highs())
    assert paste.id not in free.kept
