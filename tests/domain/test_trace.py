"""Traces: amounts by mass through any depth, both ways, by worked examples and recomputed."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.lot_uses import Use
from weighd.domain.trace import Trace, trace


def use(batch: str, lot: str, g: str, addition: int = 1) -> Use:
    return Use(batch, addition, lot, f"of-{lot}", Decimal(g), Decimal("0.1"))


def found(uses: Sequence[Use], lot: str) -> Trace:
    return trace(
        lot,
        lambda lots: [one for one in uses if one.lot in lots],
        lambda batches: [one for one in uses if one.batch in batches],
    )


#: Worked by hand, invented: a base of sugar and milk, two batches with the base in them, and a
#: third with the second in it.
USES = [
    use("b-1", "S", "50"),
    use("b-1", "M", "150"),
    use("b-2", "b-1", "80"),
    use("b-2", "C", "20"),
    use("b-3", "b-1", "40"),
    use("b-3", "S", "60"),
    use("b-4", "b-2", "10"),
    use("b-4", "", "90"),
]


def test_forwards_by_shares() -> None:
    """S is a quarter of b-1: 80 g of that bring 20 g into b-2, of which a tenth goes into b-4."""
    told = found(USES, "S")
    assert [(one.batch, one.depth, one.g, one.batch_g) for one in told.forward] == [
        ("b-1", 1, Decimal(50), Decimal(200)),
        ("b-3", 1, Decimal(70), Decimal(100)),  # 60 g itself, and 10 g by way of the base
        ("b-2", 2, Decimal(20), Decimal(100)),
        ("b-4", 3, Decimal(2), Decimal(100)),
    ]
    assert told.forward[0].share == Decimal("0.25")
    assert dict(told.forward[1].through) == {"b-1": Decimal(40), "S": Decimal(60)}
    assert told.back == []  # it was bought


def test_backwards_by_shares() -> None:
    """b-4 has 10 g of b-2: 8 g of that are of b-1, and 2 of those sugar."""
    told = found(USES, "b-4")
    assert [(one.lot, one.depth, one.g, one.made) for one in told.back] == [
        ("", 1, Decimal(90), False),
        ("b-2", 1, Decimal(10), True),
        ("C", 2, Decimal(2), False),
        ("b-1", 2, Decimal(8), True),
        ("M", 3, Decimal(6), False),
        ("S", 3, Decimal(2), False),
    ]
    assert told.forward == []
    assert sum(one.g for one in told.back if not one.made) == 100  # all of it came from somewhere


def test_a_circle_ends_and_is_told() -> None:
    told = found([use("b-1", "b-2", "5"), use("b-2", "b-1", "5"), use("b-1", "S", "5")], "S")
    assert told.circles == ["b-1", "b-2"]
    assert {one.batch for one in told.forward} == {"b-1", "b-2"}
    itself = found([use("b-1", "b-1", "5"), use("b-1", "S", "5")], "b-1")
    assert itself.circles == ["b-1"]


def test_a_long_chain_is_followed_to_its_end() -> None:
    uses = [use("b-1", "S", "100")]
    uses += [use(f"b-{n}", f"b-{n - 1}", "100") for n in range(2, 2001)]
    told = found(uses, "S")
    assert (len(told.forward), told.forward[-1].depth, told.forward[-1].g) == (2000, 2000, 100)
    back = found(uses, "b-2000")
    assert (back.back[-1].lot, back.back[-1].depth, back.back[-1].g) == ("S", 2000, 100)


@st.composite
def kitchens(draw: st.DrawFn) -> list[Use]:
    """Batches in order, each of bought lots and of batches before it."""
    out = []
    for n in range(1, draw(st.integers(1, 9))):
        lots = ["S", "M", *(f"b-{k}" for k in range(1, n))]
        for addition, lot in enumerate(
            draw(st.lists(st.sampled_from(lots), min_size=1, max_size=4)), start=1
        ):
            grams = draw(st.integers(1, 1000))
            out.append(Use(f"b-{n}", addition, lot, lot, Decimal(grams), Decimal(0)))
    return out


def plain(uses: list[Use], batch: str, lot: str) -> Fraction:
    """Grams of a lot in a batch, by recursion in exact fractions."""
    total = Fraction(0)
    for one in uses:
        if one.batch != batch:
            continue
        if one.lot == lot:
            total += Fraction(one.g)
        elif one.lot.startswith("b-"):
            whole = sum(Fraction(it.g) for it in uses if it.batch == one.lot)
            if whole:
                total += Fraction(one.g) * plain(uses, one.lot, lot) / whole
    return total


@given(kitchens())
def test_amounts_are_those_of_a_plain_recursion(uses: list[Use]) -> None:
    told = found(uses, "S")
    for one in told.forward:
        assert abs(Fraction(one.g) - plain(uses, one.batch, "S")) < Fraction(1, 100_000)
    reached = {one.batch for one in told.forward}
    assert reached == {one.batch for one in uses if plain(uses, one.batch, "S") > 0}
    for batch in {one.batch for one in uses}:
        back = found(uses, batch)
        sugar = sum(one.g for one in back.back if one.lot == "S")
        assert abs(Fraction(sugar) - plain(uses, batch, "S")) < Fraction(1, 100_000)
        bought = sum(one.g for one in back.back if not one.made)
        whole = sum(one.g for one in uses if one.batch == batch)
        made_of_nothing = any(one.lot.startswith("b-") and not one.made for one in back.back)
        assert made_of_nothing or abs(bought - whole) < Decimal("0.001")
        assert back.circles == []
