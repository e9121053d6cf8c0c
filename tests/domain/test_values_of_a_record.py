"""Small values as a record has them: what comes back, and what cannot be one."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from tests.domain.process_world import World, formula, tables
from tests.domain.test_vessels import planned
from weighd.domain import metrology_before, overrun
from weighd.domain.errors import ConfigError, RecordError
from weighd.domain.formula_writing import formula_toml
from weighd.domain.heat_tables import read_tables, table_of
from weighd.domain.mass import Unit
from weighd.domain.metrology import Level, level
from weighd.domain.plan_words import Into, Role
from weighd.domain.process import limits_in_words, step_of_content
from weighd.domain.reading import Reading, steps_of
from weighd.domain.steps import Step, stands_tared
from weighd.domain.whose import check_names
from weighd.domain.zero import Moved, Stood, as_body, new_tare, of_body

D = Decimal

# --- readings -------------------------------------------------------------------------------------


def test_a_display_in_another_unit_keeps_what_it_steps_in_where_that_is_coarser() -> None:
    ounces = Reading(1.23456, D("283.49523125"), Unit.OZ, shown=D("10.00"), raw=b"\x01ab")
    assert ounces.step_g == D("0.28349523125")
    assert ounces.is_coarser(D("0.1"))
    kept = ounces.as_evidence(D("0.1"))
    assert kept == {
        "t": 1.235,
        "raw": "016162",
        "grams": "283.49523125",
        "step_g": "0.28349523125",
    }
    for interval in (D("0.28349523125"), D(1), None):
        assert "step_g" not in ounces.as_evidence(interval)
    assert steps_of(D("0.1"), [kept, {"t": 1}]) == D("0.28349523125")
    assert steps_of(D("0.5"), [kept]) == D("0.5")


@pytest.mark.parametrize(
    "reading",
    [Reading(0, None, over=True), Reading(0, D(1), Unit.G), Reading(0, D(1), None, shown=D(1)),
     Reading(0, None, Unit.G, shown=D("NaN"))],
)  # fmt: skip
def test_without_a_number_there_is_no_step(reading: Reading) -> None:
    assert reading.step_g is None
    assert not reading.is_coarser(D("0.1"))


# --- zeros ----------------------------------------------------------------------------------------


def test_what_stood_comes_back_from_a_body_and_says_whether_it_stood_still() -> None:
    one = Stood(level([D("50.0"), D("50.1")] * 3, D("0.1")), False, {"decoder": {}, "readings": []})
    after = replace(one, settled=True)
    body = as_body(one, after)
    assert (of_body(body, "before"), of_body(body, "after")) == (one, after)
    assert of_body({}, "before") is None
    assert of_body(as_body(None, after), "before") is None
    with pytest.raises(TypeError, match="settled"):
        of_body({**body, "settled": "no"}, "before")


def lev(grams: str, u: str) -> Level:
    return Level(D(grams), D(u), D(u), D(0))


def test_the_tare_on_a_new_zero() -> None:
    """By hand. Known before and after: the zero moved by their difference. Known only by how much
    the addition changed the display: what shows less that. Not even that: what shows."""
    tare, before, after = lev("200", "0.1"), lev("250", "0.2"), lev("40", "0.3")
    new, by = new_tare(Moved.TARE_KEY, tare, None, before, after, None, D("0.1"))
    assert (new.grams, by.grams) == (-10, -210)
    assert float(by.u_g) == pytest.approx((0.2**2 + 0.3**2) ** 0.5, abs=1e-4)
    assert float(new.u_g) == pytest.approx((0.1**2 + 0.2**2 + 0.3**2) ** 0.5, abs=1e-4)
    new, by = new_tare(Moved.TARE_KEY, tare, None, None, after, D(50), D("0.1"))
    assert (new.grams, by.grams) == (-10, -210)
    new, by = new_tare(Moved.TARE_KEY, tare, None, None, after, None, D("0.1"))
    assert (new, by.grams) == (after, -160)
    emptied, back = new_tare(Moved.EMPTIED, tare, by, None, after, None, D("0.1"))
    assert (emptied.grams, back.grams) == (360, 160)
    with pytest.raises(ValueError, match="has not moved"):
        new_tare(Moved.EMPTIED, tare, None, None, after, None, D("0.1"))


def test_a_level_of_one_reading_as_it_was_reckoned_before() -> None:
    """sqrt(d² / 12) and nothing else, to a tenth of a milligram."""
    assert metrology_before.level([D("7.0")], D("0.1")).u_g == D("0.0289")
    two = metrology_before.level([D("7.0"), D("7.2")], D("0.1"))
    # s² = 0.02, of two readings: sqrt(0.01 + 0.01 / 12)
    assert (two.grams, two.u_g) == (D("7.0"), D("0.1041"))


# --- overrun --------------------------------------------------------------------------------------


@pytest.mark.parametrize("bad", ["0", "-1", "NaN", "Infinity"])
def test_no_overrun_of_what_is_not_there(bad: str) -> None:
    one, other = D(bad), D(1)
    for asked in (
        lambda: overrun.by_volume(one, other),
        lambda: overrun.by_volume(other, one),
        lambda: overrun.by_weight(other, one),
        lambda: overrun.in_a_cup(one, other),
        lambda: overrun.in_a_cup(other, one - 100),
        lambda: overrun.product_ml(other, one, other),
        lambda: overrun.product_ml(other, other, one - 100),
        lambda: overrun.product_ml(other, other, other, other, one),
        lambda: overrun.ceiling(one, other),
    ):
        with pytest.raises(ValueError, match="above zero"):
            asked()
    with pytest.raises(ValueError, match="above zero"):
        overrun.product_ml(other, other, other, other, None)  # pieces of no known density


# --- vessels of a plan ----------------------------------------------------------------------------


def test_a_vessel_stands_tared_where_it_was_weighed_into_last_and_nothing_was_tipped() -> None:
    def step(into: Into, vessel: int = 0, role: Role = Role.WHOLE) -> Step:
        return Step(1, into, vessel, role, 1, 1, 0, D(1), D(1), D(1))

    bowl = planned(1, "10", step=step(Into.BOWL))
    dish = planned(2, "10", step=step(Into.DISH, 1), scale="fine")
    other = planned(3, "10", step=step(Into.DISH, 2), scale="fine")
    assert not stands_tared([bowl], 0, bowl)
    assert stands_tared([bowl, bowl], 1, bowl)
    assert stands_tared([bowl, dish, dish], 2, dish)
    assert not stands_tared([bowl, dish, other], 2, other)  # another dish
    assert not stands_tared([bowl, dish, bowl], 2, bowl)  # the dish was tipped into it
    fine = planned(2, "10", scale="fine")
    assert not stands_tared([bowl, fine, bowl], 2, bowl)  # no plan: who knows
    plain = planned(4, "10")
    assert stands_tared([plain, fine, plain], 2, plain)
    assert not stands_tared([fine, plain], 1, plain)


# --- steps after weighing -------------------------------------------------------------------------

LIMITS = """
[[steps]]
kind = "age"
temperature = "at least 2 °C"
time = "at least 90 s"
[[steps]]
kind = "age"
temperature = "2 to 4 °C"
time = "4 h to 24 h"
[[steps]]
kind = "harden"
temperature = "at most -18 °C"
time = "within 95 min"
"""


def test_limits_of_every_kind_are_told_and_written_as_they_were_read() -> None:
    made = formula(LIMITS)
    assert [limits_in_words(one) for one in made.steps] == [
        "at least 2 °C, at least 90 s",
        "2 °C to 4 °C, 4 h to 24 h",
        "at most -18 °C, within 95 min",
    ]
    written = formula_toml(made)
    for line in ("at least 2 °C", "at least 90 s", "2 °C to 4 °C", "4 h to 24 h", "within 95 min"):
        assert f'"{line}"' in written
    assert [step_of_content(one.content()) for one in made.steps] == list(made.steps)


def test_a_heat_treatment_has_a_table_and_nothing_else_has() -> None:
    treated = next(one for one in formula().steps if one.table is not None).content()
    mixed = formula().steps[0].content()
    for wrong in ({**mixed, "table": treated["table"]}, {**mixed, "kind": treated["kind"]}):
        with pytest.raises(ValueError, match="table"):
            step_of_content(wrong)


TABLE = """[one]
name = "x"
[one.cooling]
temperature = "4 °C"
source = "s"
status = "read"
[[one.pairs]]
temperature = "70 °C"
time = "1 s"
source = "s"
status = "read"
"""


@pytest.mark.parametrize(
    ("old", "new", "where", "says"),
    [
        ('time = "1 s"', 'time = "soon"', "line 9, one.pairs[1].time", "time"),
        ('time = "1 s"', 'time = "1 s"\ncolour = "red"', "colour", "not a field"),
        ('[one.cooling]\ntemperature = "4 °C"\nsource = "s"\nstatus = "read"\n', "cooling = 4\n",
         "one.cooling", "table"),
        ('name = "x"', 'name = " "', "line 2, one.name", "not empty"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_heat_table_is_named(
    old: str, new: str, where: str, says: str
) -> None:
    assert read_tables(TABLE, "tables.toml")["one"].pairs
    with pytest.raises(ConfigError) as caught:
        read_tables(TABLE.replace(old, new, 1), "tables.toml")
    assert where in caught.value.where
    assert says in caught.value.message


def test_a_table_without_pairs_is_none_and_cooling_need_not_have_a_time() -> None:
    cooling = read_tables(TABLE, "tables.toml")["one"].cooling
    assert cooling is not None
    assert (cooling.within_s, str(cooling)) == (None, "at most 4 °C")
    timed = read_tables(TABLE.replace('e = "4 °C"', 'e = "4 °C"\ntime = "90 min"', 1), "t.toml")
    assert str(timed["one"].cooling) == "at most 4 °C within 90 min"
    content: dict[str, Any] = {**next(iter(tables().values())).content(), "pairs": []}
    with pytest.raises(ValueError, match="without pairs"):
        table_of(content)


# --- names ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"by": ""}, "Nobody is named"),
        ({"by": "", "proved": {"Ada": "pin"}}, "named"),
        ({"proved": {}}, "proved"),
        ({"proved": ["Ada"]}, "proved"),
        ({"proved": {"Ada": "a wink"}}, "a wink"),
        ({"proved": {"Bo": "pin"}}, "no part"),
        ({"proved": {"Ada": "pin"}, "allowed_by": ""}, "allowed_by"),
        ({"proved": {"Ada": "pin"}, "allowed_by": 7}, "allowed_by"),
        ({"proved": {"Ada": "pin"}, "allowed_by": "ada"}, "did not let"),
        ({"proved": {"Ada": "pin"}, "allowed_by": "Bo"}, "did not let"),
    ],
)
def test_a_name_that_was_not_proved_as_it_says_does_not_verify(
    more: dict[str, Any], says: str
) -> None:
    entry = World().do("begin step").entries[-1]
    check_names(entry)
    for good in (
        {"proved": {"Ada": "pin"}},
        {"proved": {"ada": "pin"}},
        {"proved": {"Bo": "pin"}, "allowed_by": "Bo"},
        {"proved": {"Ada": "pin", "Bo": "pin"}, "allowed_by": "Bo"},
    ):
        check_names(replace(entry, body={**entry.body, **good}))
    with pytest.raises(RecordError, match=says):
        check_names(replace(entry, body={**entry.body, **more}))
