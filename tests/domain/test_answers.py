"""What readers answer to what somebody may write, held as a whole against what was read once.

``fixtures/tables/answers.txt`` has a line for each. A line that changes is a change that somebody
who writes formulas, lots or targets will see: ``python -m tests.domain.test_answers`` writes the
file anew, to be read.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import partial
from typing import Any

from tests.domain.answering import answer, besides, edited, short, shown, told
from tests.domain.kept import Kept
from tests.domain.process_world import tables
from weighd.domain.draws import FIELDS as DRAWN
from weighd.domain.draws import as_body, possible, read_draw
from weighd.domain.dry_ice import FIELDS as ASKED
from weighd.domain.dry_ice import read_asked
from weighd.domain.duration import read_duration
from weighd.domain.formula import read_amount, read_tolerance
from weighd.domain.formula_text import read_formula, read_ingredients
from weighd.domain.heat_tables import read_tables
from weighd.domain.ingredient_csv import Look, look, read_csv
from weighd.domain.label_size import read_label_size
from weighd.domain.limits import read_limits
from weighd.domain.lot_record import TEXTS, read_goods
from weighd.domain.pasted_amounts import amount_in, plain, tolerance_in
from weighd.domain.process_text import read_temperatures, read_times
from weighd.domain.sizing import read_size
from weighd.domain.targets import read_target, split_target
from weighd.domain.temperature import read_temperature

KEPT = Kept("answers.txt")

FORMULA = """
name = "Lemon ice"
note = "Churn it cold."
scenario = "An invented shop."
kind = "sorbet"
cautions = ["Hot syrup."]
[product]
keeps_days = 30
storage = "at -18 °C"
gtin = "04012345678901"
[ingredients.sugar]
name = "Sugar"
allergens = ["none"]
caution = "Dusty."
cost_per_kg = 1.2
density_g_ml = 0.9
supplier_code = "S-1"
shelf_life_days = 700
shelf_life_opened_days = 70
source = "label"
composition = { water = 0.1, sugars = { sucrose = 99.9 } }
[ingredients.water]
name = "Water"
[[ingredients.water.instead]]
ingredient = "sugar"
ratio = 0.5
note = "Sweeter."
source = "from memory"
[[additions]]
ingredient = "water"
target = "1 kg"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "300 g"
tolerance = "+1 / -2 g"
method = "by difference"
carrier = "water"
[[steps]]
kind = "heat-treat"
name = "Pasteurise"
how = "Stir."
table = "us-frozen-dessert-mix"
[[steps]]
kind = "cool"
temperature = "at most 4 °C"
time = "within 90 min"
cautions = [{ name = "cold", text = "Gloves." }]
[[steps]]
kind = "age"
time = "4 h to 24 h"
[[steps]]
kind = "freeze"
with = "dry ice"
temperature = "-8 to -5 °C"
"""

HEAT = """
[kitchen]
name = "Kitchen"
note = "Ours."
[[kitchen.pairs]]
temperature = "155 °F"
time = "30 min"
source = "here"
status = "read"
[kitchen.cooling]
temperature = "4 °C"
time = "90 min"
source = "here"
status = "read"
"""

LIMITS = """
[classes.every]
name = "Every"
[classes.ice]
name = "Ice"
[[classes.ice.limits]]
of = ["fat", "msnf"]
min = 10
max = 30
source = "here"
[[classes.ice.limits]]
of = ["freezing_point"]
max = -2
source = "here"
"""

LIST = "name;id;allergens;fat;water;sugars;cost per kg;shelf_life_days"
ROWS = (
    "Cream;;milk | nuts;35,9;57.7;;4.20;9",
    "Cream;cream-1;;1.5;;;n/a;",
    "Crème brûlée;;;;;;;",
    "!;;;;;;;",
    ";x;;;;;;",
    "Cream;Cream;;;;;;",
    "Cream;;;abc;;;;",
    "Cream;;;35;70;;;",
    "Cream;;;;;-1;;",
    "Cream;;;;;;;0",
    "Cream;;;;;;;1.5",
    "Cream;;;;;;-1;",
    "Cream;;;35;;;;;9",
    "Cream\x07;;;;;;;",
    "x" * 120 + ";;;;;;;",
    "x" * 121 + ";;;;;;;",
    '"Cream;;',
)

AMOUNTS = (
    *("120 g", "1,5 kg", "0.001 g", "1 t", "0 g", "-3 g", "−3 g", "3", "g", "1e3 g", "3 cups"),
    *("10000 kg", "10001 kg", "100 mg", "1 oz", "1 lb", "1.2.3 g", "", " 5 g ", "5g", "5 KG"),
)
TOLERANCES = (
    *("2 g", "±2 g", "1 %", "+1 / -2 g", "+0.5 % / -2 g", "+1 g / -2 %", "1 %, at least 0.5 g"),
    *("+1 / -2 g, at least 1 %", "0 g", "-1 g", "100 %", "99.9 %", "2", "+1 / -2", "2 cups", ""),
    *("1 %, at least 0 g", "1 %, at least 2", "1,5 %", "+0 / -1 g"),
)
TARGETS = (
    *("fat=5", "fat = 5 %", "fat=5 g", "fat=5..6", "fat=6..5", "fat=5 % to 6 %", "fat=5..5"),
    *("fat=5 g..6 %", "fat=5±0.1", "fat=5+-0.1", "fat=5±-1", "fat>=5", "fat≥5", "fat<=5", "fat≤5"),
    *("fat:at least 5", "fat=at most 5,5", "fat+msnf=10", "fat+fat=1", "fat+freezing_point=1"),
    *("freezing_point=-2.4±0.1", "freezing_point=−2 °C", "freezing_point=-2 C", "fat=5 C"),
    *("freezing_point=3 %", "cream=200 g", "cream=200", "cream<=2 kg", "cream=10 %", "cream=101 %"),
    *("cream=100 %", "cream=-1 g", "cream=0 g", "cream=100 kg/L", "cream=1 oz", "cream=10001 kg"),
    *("mystery=3", "fat=", "fat", "=3", "", "fat=5..6..7", "FAT=5", "fat=five", "salt=0.1 %"),
)
SIZES = (
    *("2 kg", "500", "500 g", "0", "1.5 L", "1.5 L at 30 % overrun", "12 servings of 80 g"),
    *("12 x 80 mL", "12 servings of 80 ml at 25 %", "12 servings of 80 g at 25 %", "0 x 80 g"),
    *("sugar 300 g", "sugar 300 g, water 2 kg", "sugar 300 g; sugar 1 g", "flour 3 g", "many"),
    *("10001 kg", "1 L at 400 %", "1 L at -1 %", "x" * 301, "sugar 0 g", "sugar 1,5 kg, water 2 g"),
)
DURATIONS = (
    "90 min",
    "1.5 h",
    "25 s",
    "25 sec",
    "240 h",
    "241 h",
    "0 s",
    "-1 s",
    "−1 s",
    "5",
    "5 d",
)
HEATS = ("4 °C", "155 F", "4", "−5 °C", "-5,5 c", "-273.15", "-273.2", "300", "300.1", "x", "572 F")
LIMITED = (
    *("at most 4 °C", "at least 60", "2 to 4 °C", "2 °C to 40 °F", "4 to 2 °C", "4 to 4 °C"),
    *("within 4 °C", "about 4", "", "36 to 40 °F", "2 – 4 C"),
)
TIMED = (
    *("within 90 min", "at least 4 h", "at most 5 s", "4 h to 24 h", "4 to 24 h", "24 h to 4 h"),
    *("4 h to 4 h", "within 0 s", "at least 0 s", "soon", "30 to 90 min", "30 s to 2"),
)
LINES = (
    *(
        "500 g milk",
        "milk 500",
        "1/2 kg",
        "1 1/2 kg flour",
        "½ kg",
        "2 eggs",
        "20 eggs",
        "19 sugar",
    ),
    *(
        "1.234 g",
        "1.234,5 g",
        "1,234,567 g",
        "1,23,4 g",
        "100.000 g",
        "0.123 g",
        "1'000 g",
        "5-6 g",
    ),
    *("5 or 6 g", "-5 g", "x -5 g", "5 gr salt", "250 ml", "2 dl", "1 l", "1 cc", "2 cups"),
    *("5 g and 6 g", "5 6", "5 %", "3 tbsp", "g", "", "5 Gramm", "5 lbs", "1 oz.", "5 kilos"),
    *("1,234 kg", "123.456 kg", "100.001 kg", "1.2.3 g", "7", "007 g"),
)
WITH_TOLERANCE = ("5 g ±1 g", "5 g +/- 2 %", "5 g +1/-2 g", "5 g", "5 g ±0 g", "5 g ± 2 cups")
LABELS = ("62x29", "62 x 29 mm", "62×29", "", "0x5", "5", "10x10", "9x10", "300x300", "301x10")
DRAW_VALUES = ("1 kg", "1,25 L", "500", "0 g", "-1 g", "3 cups", "1000001 g", "1000 L", 5, None)


#: What was read, what was done or written, and the answer.
Answers = Iterator[tuple[str, str, str]]


def content(text: str) -> Any:
    return read_formula(text, "lemon.toml", None, tables()).content()


def answers() -> Answers:
    """Everything that is asked."""
    usual = read_formula(FORMULA.strip(), "lemon.toml", None, tables()).content()
    for done, text in edited(FORMULA):
        read = partial(content, text)
        yield "formula", done, answer(read, besides(usual))
    for name in ("lemon.toml", "Lemon.toml", "a/b/lemon.toml", "lemon-.toml", "lemon"):
        said = answer(lambda name=name: read_formula(FORMULA, name, None, tables()).id)
        yield "formula called", name, said
    for done, text in edited(HEAT):
        yield "heat", done, answer(partial(read_tables, text, "heat.toml"))
    for done, text in edited(LIMITS):
        yield "limits", done, answer(partial(read_limits, text, "limits.toml"))
    yield from of_csv()
    yield from of_fields()
    yield from of_texts()


def of_csv() -> Answers:
    heads = ("", "name", "fat;id", "name;name", "name;colour", "NAME;Cost per KG", "name,fat,water")
    for text in (*(f"{LIST}\n{row}\n" for row in ROWS), *(f"{one}\nX\n" for one in heads), LIST):
        yield "csv", text, answer(partial(read_csv, text, "a.csv"))
    for text in (
        f"{LIST};colour\n" + "\n".join(ROWS[:-1]) + f"\n\n{ROWS[0]}\n",
        "fat\n3\n",
        "",
        "name\n",
    ):
        yield "csv looked at", text, answer(partial(look, text, "a.csv"), looked)
    twice = f"{LIST}\n{ROWS[0]}\n{ROWS[0]}\n"
    yield "csv", "twice", answer(partial(read_csv, twice, "a.csv"))
    kinds = "name;sugars;sugars.sucrose\nSyrup;;70\nOther;60;\nBoth;60;60\n"
    for rows in (kinds, kinds.rpartition("Both")[0]):
        yield "csv", rows, answer(partial(read_csv, rows, "a.csv"))


def looked(found: Look) -> str:
    rows = [
        f"{one.line} {told(one.error) if one.error else shown(one.ingredient)}"
        for one in found.rows
    ]
    return f"{found.columns} strange {found.strange} {sorted(found.understood)} {' / '.join(rows)}"


def drawn(given: dict[str, Any]) -> Any:
    draw = read_draw(given, 1)
    possible(draw)
    return as_body(draw)


def of_fields() -> Answers:
    full = {"weight": "2 kg", "volume": "3 L", "portions": 12, "pieces": "200 g"}
    sample = {"sample_weight": "110 g", "sample_volume": "100 ml"}
    whole: dict[str, Any] = {**full, **sample, "pieces_density": "0.7", "left": "50 g"}
    for key in (*DRAWN, "pieces_density", "portions", "containers", "colour"):
        for value in (*DRAW_VALUES, "0.748", 12, 0, 100_000, 100_001, True):
            for given in ({**whole, key: value}, {key: value}):
                usual = drawn(whole) if len(given) > 1 else {}
                said = answer(partial(drawn, given), besides(usual))
                yield f"draw of {len(given)}", f"{key}={value!r}", said
    cups = {"cup_mix": "110 g", "cup_product": "70 g"}
    for more in (cups, {"containers": 4, "fill": "1.2 L"}, {"containers": 100_000, "fill": "11 L"}):
        for given in (more, {**more, "volume": "3 L"}):
            yield "draw", str(given), answer(partial(drawn, given))
    for pieces, weight, g_ml, volume in (
        ("200 g", "200 g", "0.7", "3 L"),
        ("200 g", "201 g", "0.7", "285 ml"),
        ("200 g", "201 g", "0.7", "286 ml"),
    ):
        given = {"pieces": pieces, "weight": weight, "pieces_density": g_ml, "volume": volume}
        yield "draw", str(given), answer(partial(drawn, given))
    asked = {"room_m3": "30", "charge_g": "400"}
    for key in (*ASKED, "colour"):
        for value in ("", "1", "0", "-1", "−20", "-20", "99999999", "x", "1,5", "copper", "glass"):
            given = {**asked, key: value}
            yield "dry ice", f"{key}={value}", answer(partial(read_asked, given))
    goods = {"ingredient": "sugar", "quantity_g": "25 kg"}
    for key in (*TEXTS, "quantity_g"):
        for value in (
            *("", "x", "2026-02-30", "2026-12-01", "04012345678901", "3.5", "−20,5", "999", "1 kg"),
            *("x" * 81, "x" * 501, "a\x07", "0", "-1", "1e3", "10001 kg", None),
        ):
            given = {**goods, key: value}
            yield "goods", f"{key}={value!r}", answer(partial(read_goods, given))


def of_texts() -> Answers:
    formula = read_formula(FORMULA, "lemon.toml", None, tables())
    known = ("cream", "salt")

    def target(text: str) -> Any:
        name, asked = split_target(text)
        return read_target(name, asked, known)

    for title, read, texts in (
        ("amount", read_amount, AMOUNTS),
        ("tolerance", read_tolerance, TOLERANCES),
        ("target", target, TARGETS),
        ("size", lambda text: read_size(text, formula), SIZES),
        ("duration", read_duration, DURATIONS),
        ("minutes", lambda text: read_duration(text, "min"), DURATIONS),
        ("temperature", read_temperature, HEATS),
        ("in °F", lambda text: read_temperature(text, "°F"), HEATS),
        ("limit", read_temperatures, LIMITED),
        ("time", read_times, TIMED),
        ("line", lambda text: amount_in(plain(text)), LINES),
        ("line with", tolerance_in, WITH_TOLERANCE),
        ("label", read_label_size, LABELS),
        (
            "list",
            lambda text: read_ingredients(text, "list.toml"),
            ("", "[x]", "x = 1", "[ingredients]"),
        ),
    ):
        for text in texts:
            yield title, text, answer(partial(read, text))


def lines() -> list[str]:
    """The file: what is answered alike stands in one line."""
    alike: dict[tuple[str, str], list[str]] = {}
    for what, done, said in answers():
        alike.setdefault((what, said), []).append(short(done))
    return [f"{what} | {said} <- {' ~ '.join(done)}" for (what, said), done in alike.items()]


def test_readers_answer_as_they_did() -> None:
    assert KEPT.beside(lines()) == ([], [])


def test_what_is_wrong_in_a_file_is_told_with_the_line_it_stands_in() -> None:
    kept = KEPT.lines()
    seen = 0
    for line in kept:
        found = re.match(r"(?:formula|heat) \| [a-z-]+ @ \S+, line (\d+), .* <- (.*)", line)
        for done in found[2].split(" ~ ") if found else ():
            number, _, how = done.partition(" ")
            if how == "then other":
                assert int(found[1]) == int(number) + 1, line
            elif "left out" not in how:
                assert found[1] == number, line
            seen += 1
    assert seen > 300


if __name__ == "__main__":
    KEPT.write(lines())
