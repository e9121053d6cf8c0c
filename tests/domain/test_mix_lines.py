"""A wish for a mix as the lines that a solver is given, and other small sums: whole, as they are.

``fixtures/tables/lines.txt`` has them; that the lines mean what they should is checked in
``tests/solver``. ``python -m tests.domain.test_mix_lines`` writes the file anew, to be read.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from functools import partial
from typing import Any

from tests.domain.answering import answer, shown
from tests.domain.kept import Kept
from tests.domain.mixes import SALT, SKIM_POWDER, SUCROSE, WATER, dairy, made_of
from tests.domain.test_lot_answers import kitchen
from weighd.domain.accuracy import Accuracy
from weighd.domain.conflict import holding, ties_of
from weighd.domain.contents import row_of
from weighd.domain.formula import Addition, Formula, Ingredient, read_tolerance
from weighd.domain.freezing import PIECES
from weighd.domain.limits import Limit
from weighd.domain.metrology import Level
from weighd.domain.mix_lines import holds, lines_of, quotient_of, thawings
from weighd.domain.needs import most_of, needs
from weighd.domain.problem import Line, Problem, Unknown, broken, quotient, total
from weighd.domain.vessels import Vessel, beside, far_off, gross, which, why_none
from weighd.domain.wishes import Wishes, changed, hard, least_change, nearest

KEPT = Kept("lines.txt")
D = Decimal
STARCH = Ingredient("starch", "Starch")
SOME = {one.id: one for one in (dairy("milk", "3.25"), SKIM_POWDER, SUCROSE, SALT, WATER)}
RUM = made_of("rum", alcohol=40, water=60)
ROWS = {name: row_of(one.facts) for name, one in SOME.items()}
MORE = {**ROWS, "rum": row_of(RUM.facts)}
PARTLY = {**ROWS, "starch": row_of(STARCH.facts)}
GRAMS = {"milk": D(600), "powder": D(40), "sucrose": D(150), "salt": D(1), "water": D(209)}
QUANTITIES = (
    *(("fat",), ("fat", "msnf"), ("lactose_in_water",), ("msnf_in_serum",), ("density",)),
    *(("solids_per_litre",), ("total_solids",), ("protein",)),
)


def plain(value: Any) -> str:
    """Weights in order, Decimals to twelve digits."""
    if isinstance(value, Decimal):
        return f"{value:.12g}" if value else "0"
    if isinstance(value, Line):
        weights = ", ".join(f"{key} {plain(one)}" for key, one in value.weights.items())
        return f"[{value.name}: {plain(value.least)} <= {weights} <= {plain(value.most)}]"
    if isinstance(value, Problem):
        price = ", ".join(f"{key} {plain(one)}" for key, one in value.price.items())
        return " ".join((shown(value.unknowns), *map(plain, value.lines), f"price {price}"))
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {plain(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list | tuple):
        return " ".join(map(plain, value))
    return str(value)


def limits() -> Iterator[tuple[str, str]]:
    for name, rows in (("known", ROWS), ("starch unknown", PARTLY)):
        for of in QUANTITIES:
            for overrun in (None, D(30)):
                title = f"{name} | {' + '.join(of)} {overrun or ''}".rstrip()
                made = partial(quotient_of, of, rows, overrun)
                yield f"{title} | at", answer(made, lambda it: f"{it.known} {plain(it.at(GRAMS))}")
                for least, most in ((D(1), None), (None, D(2)), (D(1), D(2))):
                    one = Limit(of, least, most, "ours")
                    lines = partial(lines_of, one, rows, overrun, short="s", past="p")
                    yield f"{title} | {least} {most}", answer(lines, plain)
    for name, rows in (("known", ROWS), ("with rum", MORE), ("starch unknown", PARTLY)):
        for least, most in ((D("-2.5"), None), (None, D(-2)), (D("-2.5"), D(-2)), (None, None)):
            one = Limit(("freezing_point",), least, most, "ours")
            yield (
                f"{name} | freezing {least} {most}",
                answer(partial(thawings, one, rows, short="s", past="p"), thawed),
            )


def thawed(found: Any) -> str:
    ends, lines = found
    told = [plain(lines)]
    for one in ends:
        told.append(f"{one.at_most} {one.at_least} {one.short}{one.past}")
        told.append(plain(one.depression(GRAMS)))
        told += [plain(one.lines(PIECES[n])) for n in (0, 3, len(PIECES) - 1)]
    for water in ("100", "209", "400"):
        for slack in ("0", "500"):
            values = {**GRAMS, "water": D(water), "s": D(slack), "p": D(slack)}
            told.append(f"{water} {slack} {holds(ends, values)}")
    return " | ".join(told)


def wished() -> Iterator[tuple[str, str]]:
    amounts = tuple(
        Unknown(name, D(1) if name == "salt" else D(0), D(50) if name == "powder" else None)
        for name in ROWS
    )
    fat = Limit(("fat",), D(2), D(3), "ours")
    cold = Limit(("freezing_point",), D("-2.5"), D(-2), "ours")
    sweet = Limit(("sugars",), D(14), None, "ours")
    for name, some in (("fat", (fat,)), ("all", (fat, cold, sweet)), ("none", ())):
        for batch in (None, D(1000)):
            wishes = Wishes(ROWS, amounts, some, batch)
            title = f"wishes | {name} {batch or ''}".rstrip()
            yield f"{title} | hard", mixed(hard(wishes, {"milk": D(2)}))
            for loose in (False, True):
                for about in (None, GRAMS):
                    told = f"{title} | nearest{' loose' * loose}{' about' * bool(about)}"
                    yield told, mixed(nearest(wishes, about, amounts=loose))
            yield f"{title} | changed", mixed(changed(wishes, GRAMS, {"milk": D("0.5")}))
            ties = ties_of(wishes)
            yield f"{title} | ties", shown(ties)
            for n in range(len(ties)):
                kept = holding(wishes, ties[n : n + 2])
                yield f"{title} | holding {n}", f"{shown(kept.amounts)} {shown(kept.limits)}"
    few = Problem((Unknown("a"), Unknown("b", None, D(9))), (Line("c", {"a": D(2)}, D(1), D(4)),))
    yield "changes", plain(least_change(few, {"a": D(3)}, {}))
    line = Line("even", {"a": D(1), "b": D(-1)}, D(0), D(0))
    yield "quotient", plain(quotient(few.also(line), {"a": D(1)}, {"b": D(3), "a": D(1)}))
    yield "total", plain(total({"a": D(2), "b": D(3)}, {"a": D(5)}))
    for a, b in (
        ("0.5", "9"),
        ("2", "9"),
        ("2.0000001", "9"),
        ("2.1", "9"),
        ("1", "9.1"),
        ("-1", "0"),
    ):
        yield f"broken {a} {b}", plain(broken(few, {"a": D(a), "b": D(b)}))
    for name, made in bad_problems():
        yield f"no problem | {name}", answer(made, plain)


def mixed(one: Any) -> str:
    band = shown(one.band) if one.band else "no band"
    return f"{plain(one.problem)} {band} {one.short}/{one.past}"


def bad_problems() -> Iterator[tuple[str, Any]]:
    a = Unknown("a")
    for name, unknowns, lines, price in (
        ("twice", (a, a), (), {}),
        ("no such", (a,), (), {"b": D(1)}),
        ("no such in a line", (a,), (Line("c", {"b": D(1)}),), {}),
        ("no number", (a,), (), {"a": D("NaN")}),
        ("no end", (Unknown("a", D("Infinity")),), (), {}),
        ("crossed", (Unknown("a", D(2), D(1)),), (), {}),
        ("crossed line", (a,), (Line("c", {"a": D(1)}, D(2), D(1)),), {}),
        ("one value", (Unknown("a", D(2), D(2)),), (), {}),
    ):
        yield name, partial(Problem, unknowns, lines, price)


def larder() -> Iterator[tuple[str, str]]:
    books, _ = kitchen()
    tolerance = read_tolerance("1 %")
    for title, wants in (
        ("there", (("sugar", 500), ("milk", 1000))),
        ("over several lots", (("sugar", 24000), ("sugar", 500), ("milk", 1000))),
        ("too much", (("sugar", 30000), ("milk", 2500), ("cream", 10))),
        ("not booked", (("salt", 3), ("sugar", 5))),
        ("nothing booked", (("salt", 3),)),
    ):
        additions = tuple(
            Addition(Ingredient(name, name.capitalize()), D(grams), tolerance)
            for name, grams in wants
        )
        formula = Formula("mix", "Mix", additions)
        for day in ("2026-11-26", "2026-11-29", "2027-01-01"):
            found = [
                f"{one.n} {one.name} {one.needed_g} {one.stocked} "
                f"{[(lot.code, str(g)) for lot, g in one.takes]} {one.short_g} "
                f"{[lot.code for lot in one.aside]}"
                for one in needs(formula, books.book, day)
            ]
            yield f"needs | {title} | {day}", "; ".join(found)
            yield f"most | {title} | {day}", shown(most_of(formula, books.book, day))


def vessels() -> Iterator[tuple[str, str]]:
    bowl = Vessel("bowl", D(400), D("0.5"), D(1))
    jug = Vessel("jug", D("402.4"), D("0.1"))
    stated = Accuracy(repeatability_g=D("0.2"))
    for grams in ("396", "397.9", "398", "400", "402", "402.1", "402.7", "1000"):
        stands = gross(Level(D(grams), D("0.03"), D("0.03")), D("0.1"), stated)
        inside = Level(D(2), D("0.4"))
        one = beside(bowl, stands, inside)
        told = f"{one.differs_g} {one.limit_g} {one.fits} {one.too_light}"
        yield f"vessel | {grams}", f"{stands.u_g} {told} {far_off(bowl, stands, inside)}"
        yield f"which | {grams}", " ".join(it.vessel.name for it in which([bowl, jug], stands))
    for name, change in (
        ("fine", {}),
        ("no name", {"name": " "}),
        ("spaced", {"name": " bowl"}),
        ("40 long", {"name": "x" * 40}),
        ("41 long", {"name": "x" * 41}),
        ("unseen", {"name": "a\x07"}),
        ("no mass", {"mass_g": D(0)}),
        ("as heavy as can be", {"mass_g": D(1_000_000)}),
        ("too heavy", {"mass_g": D(1_000_001)}),
        ("less than known", {"u_g": D(-1)}),
        ("known to itself", {"u_g": D(400)}),
        ("allowed itself", {"allow_g": D(400)}),
        ("allowed less", {"allow_g": D(-1)}),
        ("allowed nearly", {"allow_g": D("399.9")}),
    ):
        wrong = why_none(replace(bowl, **change))
        yield f"no vessel | {name}", "none" if not wrong else "wrong" + shown(wrong[:30])


def lines() -> list[str]:
    parts = (limits, wished, larder, vessels)
    return [f"{what} | {said}".rstrip() for part in parts for what, said in part()]


def test_what_is_divided_by_nothing_has_no_number() -> None:
    """Sugar alone has no water that lactose could be in, and nothing that could freeze."""
    one = quotient_of(("lactose_in_water",), ROWS)
    assert one.at({"sucrose": D(150)}) is None
    assert one.at({"sucrose": D(150), "water": D(209)}) == (D(0), D(0))
    any_at_all = Limit(("freezing_point",), D(-99), D(0), "ours")
    (end,), _ = thawings(any_at_all, ROWS)
    assert end.depression({"sucrose": D(150)}) is None
    assert not holds([end], {"sucrose": D(150)})
    assert holds([end], {"sucrose": D(150), "water": D(209)})


def test_lines_and_sums_are_what_they_were() -> None:
    assert KEPT.beside(lines()) == ([], [])


if __name__ == "__main__":
    KEPT.write(lines())
