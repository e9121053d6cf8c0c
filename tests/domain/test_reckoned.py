"""Whole reckonings of a few mixes, and of people and pasted lists: every figure kept as it is.

``fixtures/tables/reckoned.txt`` has them; what the figures should be is checked against published
ones in the tests of each part. A line that changes is a change to what a cook is told:
``python -m tests.domain.test_reckoned`` writes the file anew, to be read.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from decimal import Decimal
from functools import partial
from typing import Any

from tests.domain.answering import answer, shown
from tests.domain.kept import Kept
from tests.domain.process_world import tables
from tests.domain.test_pasted import KNOWN
from tests.station.putting_right import SUCROSE_LAST, own_mix
from weighd.domain.against_plan import compared
from weighd.domain.as_weighed import Part
from weighd.domain.charts import bias, capability, chart, student
from weighd.domain.composition import of_formula
from weighd.domain.draws import Draw, possible, read_draw
from weighd.domain.dry_ice import amounts_of, read_asked, reckon
from weighd.domain.formula import Formula
from weighd.domain.formula_beside import beside
from weighd.domain.formula_changes import changes
from weighd.domain.formula_text import read_formula
from weighd.domain.formula_writing import formula_toml
from weighd.domain.freezing import freezing
from weighd.domain.limits import judged, read_limits
from weighd.domain.pasted import read_pasted
from weighd.domain.people import (
    ALL,
    Person,
    Right,
    added,
    check_pin,
    retired,
    rights_of,
    wait_s,
    with_rights,
)
from weighd.domain.refrigerant import elsewhere, portions
from weighd.domain.scan import read_scan
from weighd.domain.yields import density_of, drawn_as_json, found_as_json, reckoned

KEPT = Kept("reckoned.txt")
D = Decimal
LIMITS = """
[classes.every]
name = "Every"
[[classes.every.limits]]
of = ["lactose_in_water"]
max = 9.7
source = "here"
[classes.ice]
name = "Ice"
[[classes.ice.limits]]
of = ["fat", "msnf"]
min = 15
source = "here"
[[classes.ice.limits]]
of = ["freezing_point"]
min = -2.6
max = -2.2
source = "here"
[[classes.ice.limits]]
of = ["solids_per_litre"]
min = 0.2
source = "here"
[[classes.ice.limits]]
of = ["msnf_in_serum"]
max = 10
source = "here"
"""


def mix(**other: str) -> Formula:
    """Our own mix, with some of its lines in other words."""
    text = own_mix()
    for old, new in other.items():
        text = text.replace(old, new)
    return read_formula(text, "own.toml", None, tables())


OWN = mix()
UNKNOWN = read_formula(own_mix().replace("composition = { salt = 100 }", ""), "own.toml")
BOOZY = read_formula(
    own_mix()
    .replace("composition = { water = 100 }", "composition = { water = 60, alcohol = 40 }")
    .replace("[ingredients.sucrose]", "[ingredients.sucrose]\ndensity_g_ml = 0.9"),
    "own.toml",
)


def figures(value: Any) -> str:
    """Decimals to ten digits: more say nothing."""
    if is_dataclass(value) and not isinstance(value, type):
        parts = [f"{one.name}={figures(getattr(value, one.name))}" for one in fields(value)]
        return f"({', '.join(parts)})"
    if isinstance(value, Decimal):
        return f"{value:.10g}" if value else "0"
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {figures(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(figures(one) for one in value) + "]"
    return str(value)


def mixes() -> Iterator[tuple[str, str]]:
    for name, one in (("own", OWN), ("salt unknown", UNKNOWN), ("with alcohol", BOOZY)):
        made = of_formula(one)
        frozen = freezing(made)
        yield f"{name} | amounts", figures(dict(made.sums))
        yield f"{name} | missing", figures(made.missing)
        yield f"{name} | in water, density", figures((made.in_water, made.density_g_ml))
        for solution in (frozen.thin, frozen.thick):
            if solution is None:
                yield f"{name} | freezes", "not known"
                continue
            ice = [(c, solution.frozen(D(c))) for c in ("0", "-1", "-3", "-6", "-12", "-18", "-30")]
            yield f"{name} | freezes", figures([solution.depression(), solution.end, ice])
            yield f"{name} | corners", figures(solution.corners(D(-10), D(-2)))
        kinds = read_limits(LIMITS, "limits.toml")
        for kind in ("", "ice", "jam"):
            for overrun in (None, D(30)):
                judge = partial(judged, kinds, kind, made, frozen, overrun)
                yield f"{name} | limits {kind} {overrun}", answer(judge, figures)
        for given in (
            {"room_m3": "30", "charge_g": "400"},
            {"room_m3": "30", "air_changes": "2", "to_c": "-8", "vessel_g": "1000"},
            {"room_m3": "12.5", "from_c": "20", "efficiency_percent": "40", "release_min": "5"},
            {"room_m3": "30", "to_c": "-45"},
        ):
            asked = partial(lambda g, it: reckon(amounts_of(it), read_asked(g)), given, one)
            yield f"{name} | dry ice {given}", answer(asked, frozen_with)
    for every, over in ((30, 300), (7, 60), (60, 60)):
        yield f"portions every {every} s", figures(portions(D("1234.5"), every, over))
    yield "without dry ice", figures(elsewhere(D(500)))


def frozen_with(it: Any) -> str:
    room = it.room
    told = {"least": it.least, "most": it.most, "vessel": it.vessel_kj, "charge": it.charge}
    told["counted"] = it.counted_g
    told["room"] = (room.whole_ppm, room.peak_ppm, room.quarter_ppm, room.shift_ppm)
    told["hours"] = [room.hours_until_below(D(ppm)) for ppm in (500, 1000, 5000, 30000)]
    told["at"] = [room.at(D(one)) for one in ("0", "0.05", "0.5", "2")]
    return figures(told)


def formulas() -> Iterator[tuple[str, str]]:
    reordered = read_formula(own_mix(SUCROSE_LAST), "own.toml")
    less = read_formula(own_mix(SUCROSE_LAST[:-1]), "own.toml")
    other = mix(**{'target = "330 g"': 'target = "300 g"', 'name = "Milk"': 'name = "Whole milk"'})
    for name, now in (("reordered", reordered), ("less", less), ("other", other), ("same", OWN)):
        for one, two, way in ((OWN, now, "then"), (now, OWN, "back")):
            told = changes(one, two)
            yield f"changes | {name} {way} | texts", figures(told.texts)
            for pair in (*told.additions, *told.steps):
                yield f"changes | {name} {way} | addition", pair_in(pair)
        both = beside(OWN, now, prices={"milk": D("1.1"), "sucrose": D("0.9"), "water": D(0)})
        for shift in both.shifts:
            yield f"beside | {name} | {shift.of} {shift.at_c or ''}", figures(shift) + shift.told
    yield "written", json.dumps(formula_toml(other), ensure_ascii=False)
    parts = [
        Part(
            n,
            one.ingredient,
            one.target_g,
            one.target_g + (D(5) if n == 4 else D(0)),
            D("0.1") * n,
            D(3) if n == 9 else D(0),
        )
        for n, one in enumerate(OWN.additions, start=1)
    ]
    for name, rows in (("own", parts), ("salt unknown", unknown_salt(parts))):
        for prices in (None, {"milk": D("1.1")}):
            it = compared(rows, prices=prices)
            yield f"against plan | {name} | missing", figures(it.missing)
            for one in it.differences:
                yield f"against plan | {name} | {one.of} {one.at_c or ''}", figures(one)
    yield from yields(parts)


def unknown_salt(parts: list[Part]) -> list[Part]:
    return [
        replace(one, ingredient=replace(one.ingredient, facts=None))
        if one.ingredient.id == "salt"
        else one
        for one in parts
    ]


def pair_in(pair: Any) -> str:
    told = {one.name: getattr(pair, one.name) for one in fields(pair)}
    told |= {key: None if told[key] is None else told[key].n for key in ("then", "now")}
    return f"{pair.how} {figures(told)}"


def yields(parts: list[Part]) -> Iterator[tuple[str, str]]:
    first = {"weight": "1.2 kg", "volume": "1.6 L", "portions": 12}
    cases: tuple[list[dict[str, Any]], ...] = (
        [],
        [first],
        [first, {"weight": "1100 g", "volume": "1,5 L", "left": "60 g"}],
        [{"weight": "2.5 kg"}],
        [{"volume": "3 L"}],
        [{**first, "pieces": "200 g", "pieces_density": "0.75"}],
        [{**first, "pieces": "200 g"}],
        [{"cup_mix": "110 g", "cup_product": "72 g"}, first],
        [{"sample_weight": "112 g", "sample_volume": "100 ml"}, first],
        [{"containers": 4, "fill": "400 ml", "weight": "1.3 kg"}],
        [{"weight": "1.2 kg", "volume": "0.9 L"}],
    )
    for name, some in (("own", parts), ("salt unknown", unknown_salt(parts))):
        for case in cases:
            draws = [read_draw(one, n) for n, one in enumerate(case, start=1)]
            for one in draws:
                possible(one)
            found = reckoned(some, draws)
            told = json.dumps(case)
            yield f"yield | {name} | {told} | density", figures(density_of(some, draws))
            yield f"yield | {name} | {told} | told", f"{found.told} {figures(found.loss_percent)}"
            for one, each in zip(draws, found.each, strict=True):
                row = {**found_as_json(found, one), **drawn_as_json(each)}
                yield f"yield | {name} | {told} | {one.n}", json.dumps(row)
    yield "yield | of nothing", answer(partial(reckoned, [], [Draw(1)]))


def others() -> Iterator[tuple[str, str]]:
    values = [10.0, 10.2, 9.9, 10.1, 10.4, 10.0, 9.8, 10.1, 12.5, 10.3, 10.2, 10.1, 10.0, 9.9, 9.8]
    rising = [1 + k / 10 for k in range(9)]
    for name, row in (("steady", values[:8]), ("one out", values), ("rising", rising)):
        seen = chart(row)
        yield f"chart | {name}", figures((seen.centre, seen.sigma, seen.limits, seen.most_range))
        yield f"chart | {name} | signals", figures(seen.signals)
        for least, most in ((9.0, 11.0), (0.0, 1.0), (1.0, 100.0)):
            yield f"capability | {name} {least} {most}", figures(capability(seen, least, most))
        yield f"bias | {name}", f"{figures(bias(row))} {bias(row).sure}"
    yield "student", figures([student(n) for n in (1, 2, 10, 29, 30, 31, 100)])
    yield from people()
    for text in PASTED:
        read = partial(read_pasted, text, KNOWN, {"sweet": "sugar"})
        yield f"pasted | {text!r}", answer(read, lambda it: shown(it.lines) + shown(it.sum_g))
    for raw in SCANS:
        yield f"scan | {raw!r}", answer(partial(read_scan, raw, 2026))


def people() -> Iterator[tuple[str, str]]:
    ada = Person("Ada", ALL, "hash", "2026-01-01")
    bo = Person("Bo", frozenset({Right.ACCEPT}), "hash", "2026-01-01")
    gone = replace(bo, name="Cleo", retired="2026-05-05T00:00:00Z", rights=frozenset())
    crew = [ada, bo, gone]
    for pin in ("1357", "135", "1" * 4, "1212", "123123", "1234", "7890", "9876", "0123456789135",
                "135790246813", "13a7", "١٣٥٧", " 1357 ", "3210", "1324"):  # fmt: skip
        yield f"pin {pin!r}", answer(partial(check_pin, pin))
    yield "waits", figures([wait_s(n) for n in range(15)])
    for name in ("Dora", " dora  li ", "ada", "CLEO", "", "x" * 80, "x" * 81, "a\x07", "Station"):
        yield f"added {name!r}", answer(partial(added, crew, name, {Right.LOTS}, "h", "now"))
    yield "first", answer(partial(added, [], "Ada", {Right.LOTS}, "h", "now"))
    many = [replace(ada, name=f"n{k}") for k in range(500)]
    yield "499 before", answer(partial(added, many[:-1], "Eve", (), "h", "now"))
    yield "500 before", answer(partial(added, many, "Eve", (), "h", "now"))
    for name in ("Ada", "Bo", "Cleo", "nobody"):
        for rights in (frozenset(), frozenset({Right.PEOPLE})):
            yield (
                f"{name} with {sorted(rights)}",
                answer(partial(with_rights, crew, name, rights), who),
            )
        yield f"{name} retired", answer(partial(retired, crew, name, "2026-09-09"), who)
    for words in (["all"], ["Correct", " release  LOTS"], ["fly"], []):
        yield f"rights {words}", answer(partial(rights_of, words), lambda it: str(sorted(it)))


def who(one: Person) -> str:
    return f"{one.name} {sorted(one.rights)} {one.pin!r} {one.retired!r}"


PASTED = (
    "820 g buttermilk\n120 g sugar\n\nTotal 940 g",
    "For the base:\n- 250 g cream\n2 eggs\n1 tsp salt",
    "100 ml water\n200 ml buttermilk\n50 ml unknown stuff",
    "sweet 30 g ±1 g\nsalt to taste\nsome sugar\n5 % salt",
    "0 g sugar\n20000 kg sugar\n3 kg cream, 36 % fat",
    "***\nStir well until it is smooth and cold.\nsugar",
    "10-20 g sugar",
    "x\n" * 501,
)
SCANS = (
    *("R-0001", "kitchen-0001", "04012345678901", "4012345678901", "5000112637922", "", " x "),
    *(
        "(01)04012345678901(10)L7(17)261224",
        "010401234567890110L7\x1d17261224",
        "]C10104012345678901",
    ),
    *(
        "(01)04012345678902",
        "(17)261300",
        "(17)261200",
        "(15)991231(10)A",
        "(99)x",
        "(10)" + "x" * 21,
    ),
)


def lines() -> list[str]:
    return [f"{what} | {said}" for part in (mixes, formulas, others) for what, said in part()]


def test_what_is_reckoned_is_what_was() -> None:
    assert KEPT.beside(lines()) == ([], [])


if __name__ == "__main__":
    KEPT.write(lines())
