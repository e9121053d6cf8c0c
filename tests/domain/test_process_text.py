"""Steps written in a formula file: what can be read, and an error that names the line and field."""

from __future__ import annotations

import pytest

from tests.domain.process_world import HEAD, STEPS, formula, tables
from weighd.domain.cautions import DRY_ICE, OF_MEANS
from weighd.domain.errors import FormulaError
from weighd.domain.formula_text import read_formula
from weighd.domain.formula_writing import formula_toml
from weighd.domain.process import MOST_STEPS, limits_in_words
from weighd.domain.process_text import read_temperatures, read_times
from weighd.domain.temperature import read_temperature

STEP_LINE = HEAD.count("\n") + 1


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("at most 4 °C", "None, 4 °C"),
        ("at most 4", "None, 4 °C"),
        ("at least 60C", "60 °C, None"),
        ("2 to 4 °C", "2 °C, 4 °C"),
        ("-14 to -11 °C", "-14 °C, -11 °C"),
        ("−14 °C – −11 °C", "-14 °C, -11 °C"),
        ("36 to 40 F", "36 °F, 40 °F"),
    ],
)
def test_limits_of_temperature(text: str, found: str) -> None:
    assert ", ".join(str(one) for one in read_temperatures(text)) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("within 90 min", (None, 5400)),
        ("at most 1.5 h", (None, 5400)),
        ("at least 25 s", (25, None)),
        ("4 h to 24 h", (14400, 86400)),
        ("4 to 24 h", (14400, 86400)),
        ("45 min to 2 h", (2700, 7200)),
    ],
)
def test_limits_of_time(text: str, found: tuple[int | None, int | None]) -> None:
    assert read_times(text) == found


@pytest.mark.parametrize(
    ("step", "code", "field", "line"),
    [
        ('kind = "boil"', "unknown-step-kind", "kind", 1),
        ('name = "x"', "missing-field", "kind", 0),
        ('kind = "mix"\nminutes = 5', "unknown-field", "minutes", 2),
        ('kind = "mix"\nhow = 5', "bad-field", "how", 2),
        ('kind = "cool"', "missing-field", "temperature", 0),
        ('kind = "cool"\ntemperature = "at least 4 °C"', "missing-field", "temperature", 2),
        ('kind = "age"', "missing-field", "time", 0),
        ('kind = "cool"\ntemperature = "cold"', "bad-step-limit", "temperature", 2),
        ('kind = "cool"\ntemperature = "at most nan"', "bad-step-limit", "temperature", 2),
        ('kind = "cool"\ntemperature = "at most -300 °C"', "bad-step-limit", "temperature", 2),
        ('kind = "cool"\ntemperature = "at most 400 °C"', "bad-step-limit", "temperature", 2),
        ('kind = "temper"\ntemperature = "4 to 2 °C"', "bad-step-limit", "temperature", 2),
        ('kind = "age"\ntime = "24 h to 4 h"', "bad-step-limit", "time", 2),
        ('kind = "age"\ntime = "at least -4 h"', "bad-step-limit", "time", 2),
        ('kind = "age"\ntime = "within 0 min"', "bad-step-limit", "time", 2),
        ('kind = "age"\ntime = "within 90"', "bad-step-limit", "time", 2),
        ('kind = "heat-treat"', "missing-field", "table", 0),
        ('kind = "heat-treat"\ntable = "mine"', "unknown-heat-table", "table", 2),
        ('kind = "mix"\ntable = "uk-1995"', "bad-field", "table", 2),
        (
            'kind = "heat-treat"\ntable = "uk-1995"\ntemperature = "at least 60 °C"',
            "bad-field",
            "temperature",
            3,
        ),
        ('kind = "mix"\ncautions = ["hot"]', "bad-field", "cautions", 2),
        ('kind = "mix"\ncautions = [{ name = "hot" }]', "missing-field", "text", 2),
        (
            'kind = "mix"\ncautions = [{ name = "a", text = "x" }, { name = "a", text = "y" }]',
            "bad-field",
            "name",
            2,
        ),
    ],
)
def test_what_is_wrong_is_named_with_its_line_and_field(
    step: str, code: str, field: str, line: int
) -> None:
    with pytest.raises(FormulaError) as caught:
        formula(f"[[steps]]\n{step}\n")
    assert caught.value.code == code
    assert caught.value.where.startswith("test-ice.toml, line ")
    assert caught.value.where.endswith(field)
    if line:
        assert f"line {STEP_LINE + line}," in caught.value.where


def test_steps_are_tables_and_not_too_many() -> None:
    with pytest.raises(FormulaError) as caught:
        read_formula('steps = "mix"\n' + HEAD, "test-ice.toml")
    assert "steps" in caught.value.where
    with pytest.raises(FormulaError, match="too many"):
        formula('[[steps]]\nkind = "mix"\n' * (MOST_STEPS + 1))


def test_without_tables_no_treatment_is_known() -> None:
    with pytest.raises(FormulaError) as caught:
        read_formula(HEAD + '[[steps]]\nkind = "heat-treat"\ntable = "uk-1995"\n', "test-ice.toml")
    assert caught.value.code == "unknown-heat-table"


def test_limits_are_told_in_words() -> None:
    told = [limits_in_words(one) for one in formula().steps]
    assert told == [
        "at least 2 min",
        "155 °F, 30 min or 175 °F, 25 s or 180 °F, 15 s",
        "at most 4 °C, within 90 min",
        "at most 4 °C, 4 h to 24 h",
        "at most -5 °C",
        "",
        "at most -18 °C, within 12 h",
        "-14 °C to -11 °C",
    ]


def test_a_step_without_a_name_has_the_usual_one() -> None:
    named = [one.name for one in formula().steps]
    assert named[:3] == [
        "Mix until dissolved",
        "Heat-treat",
        "Cool",
    ]
    assert formula('[[steps]]\nkind = "mix"\nname = "Whisk"\n').steps[0].name == "Whisk"


def test_every_shipped_table_can_be_followed() -> None:
    for name in tables():
        step = formula(f'[[steps]]\nkind = "heat-treat"\ntable = "{name}"\n').steps[0]
        assert step.table == tables()[name]


@pytest.mark.parametrize(
    "steps",
    [
        STEPS,
        "",
        '[[steps]]\nkind = "cool"\ntemperature = "at most 39,2 F"\ntime = "within 100 s"\n',
        '[[steps]]\nkind = "mix"\ntime = "90 s to 1.5 h"\nhow = "Say \\"now\\"."\n',
        '[[steps]]\nkind = "freeze"\nwith = "dry ice"\ncautions = [{ name = "x", text = "y" }]\n',
    ],
)
def test_steps_that_are_written_are_read_as_the_same(steps: str) -> None:
    made = formula(steps)
    assert read_formula(formula_toml(made), "test-ice.toml", None, tables()) == made


@pytest.mark.parametrize("written", ["dry ice", "Dry Ice", "dry-ice", "DRY  ICE"])
def test_dry_ice_brings_its_cautions_however_it_is_written(written: str) -> None:
    (step,) = formula(f'[[steps]]\nkind = "freeze"\nwith = "{written}"\n').steps
    assert step.means == DRY_ICE
    assert step.cautions == OF_MEANS[DRY_ICE]


def test_a_limit_in_the_other_unit_allows_nothing_more() -> None:
    # °C = (°F - 32) × 5/9, exactly: 155 °F is 68.3333... °C, 4.44 °C is 39.992 °F.
    assert read_temperature("155 °F").celsius_at_least() == "68.4 °C"
    assert read_temperature("40 °F").celsius_at_most() == "4.4 °C"
    assert read_temperature("4.44 °C").fahrenheit_at_most() == "39.9 °F"
    assert read_temperature("4.44 °C").fahrenheit_at_least() == "40.0 °F"
    assert read_temperature("-6 °C").fahrenheit_at_most() == "21.2 °F"
    assert read_temperature("155 °F").fahrenheit_at_most() == "155 °F"


@pytest.mark.parametrize(
    "text", ["within 0 min", "at most 0 s", "2 h to 1 h", "1 h to 1 h", "soon"]
)
def test_what_leaves_no_time_or_is_none(text: str) -> None:
    with pytest.raises(ValueError, match=r"leaves no time|begins where it ends|no limit of time"):
        read_times(text)


def test_no_more_cautions_than_anybody_reads() -> None:
    many = ", ".join(f'{{ name = "c{n}", text = "t" }}' for n in range(100))
    with pytest.raises(FormulaError, match="more than anybody reads"):
        read_formula(f'{HEAD}[[steps]]\nkind = "mix"\ncautions = [{many}]\n', "ice.toml")
