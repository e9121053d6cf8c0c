"""The keys of a check: what they come to, and what is refused with its line."""

from __future__ import annotations

from decimal import Decimal

import pytest

from weighd import config
from weighd.domain.check import Place
from weighd.domain.check_standing import Then
from weighd.domain.errors import ConfigError
from weighd.domain.metrology import Rule
from weighd.domain.weights import WeightClass

SCALE = '[scales.bench]\nmax_g = 6000\ninterval_g = "0.1"\n'
CHECK = """[scales.bench.check]
limit_g = "0.5"
"""
MASS = """[[scales.bench.check.masses]]
name = "K-2"
nominal_g = 2000
r111_class = "M1"
"""


def routine(text: str) -> object:
    made = config.parse(text).scales["bench"].routine(Decimal(2))
    assert made is not None
    return made


def test_without_a_check_nothing_changes() -> None:
    assert config.parse(SCALE).scales["bench"].routine(Decimal(2)) is None


def test_the_smallest_check_is_zero_and_one_weight_every_day_and_flags() -> None:
    made = config.parse(SCALE + CHECK + MASS).scales["bench"].routine(Decimal(2))
    assert made is not None
    assert made.duty.as_json() == {"then": "flags", "every_h": "24", "new_day_utc": None}
    (two,) = made.plan.masses
    assert (two.name, two.mass_g, two.by_class) == ("K-2", 2000, WeightClass.M1)
    assert [one.part for one in made.plan.placements] == ["zero", "mass"]
    assert made.plan.rule is None


def test_everything_that_can_be_said() -> None:
    text = (
        SCALE
        + """[scales.bench.check]
new_day_utc = "03:00"
then = "bars"
zero = false
corners = true
repeatability = 3
repeatability_mass = "K-5"
limit_g = "0.5"
rule = "simple"
[[scales.bench.check.masses]]
name = "K-2"
nominal_g = 2000
mass_g = "2000.02"
u_g = "0.01"
"""
        + MASS.replace("K-2", "K-5").replace("2000", "5000")
    )
    made = config.parse(text).scales["bench"].routine(Decimal(3))
    assert made is not None
    assert (made.duty.then, made.duty.new_day, made.duty.every_h) == (Then.BARS, "03:00", None)
    plan = made.plan
    assert plan.rule == Rule("simple", Decimal(3))
    assert plan.corners is not None and plan.corners.name == "K-2"  # nearest to a third of Max
    assert plan.repeat is not None and plan.repeat.name == "K-5"
    assert [one.place for one in plan.placements if one.part == "corner"] == list(Place)
    assert plan.masses[0].mass_g == Decimal("2000.02")


@pytest.mark.parametrize(
    ("scale", "check", "mass", "line", "says"),
    [
        (SCALE, CHECK, "", 4, "names no weight"),
        (SCALE, CHECK + "every_h = 0\n", MASS, 6, "above 0 and up to"),
        (SCALE, CHECK + "every_h = 9000\n", MASS, 6, "above 0 and up to"),
        (SCALE, CHECK + 'every_h = 8\nnew_day_utc = "03:00"\n', MASS, 7, "beside every_h"),
        (SCALE, CHECK + 'new_day_utc = "3 am"\n', MASS, 6, "time of day in UTC"),
        (SCALE, CHECK + 'then = "shouts"\n', MASS, 6, '"bars" or "flags"'),
        (SCALE, CHECK + "repeatability = 1\n", MASS, 6, "2 placements at least"),
        (SCALE, CHECK + "repeatability = 99\n", MASS, 6, "less than or equal to 30"),
        (SCALE, CHECK + 'corner_mass = "K-2"\n', MASS, 6, "left out"),
        (SCALE, CHECK + 'corners = true\ncorner_mass = "K-9"\n', MASS, 7, "there is: K-2"),
        (SCALE, CHECK + "cornesr = true\n", MASS, 6, 'did you mean "corners"'),
        (SCALE, '[scales.bench.check]\nlimit_g = "0"\n', MASS, 5, "above zero"),
        (SCALE, "[scales.bench.check]\n", MASS, 4, "nothing is stated of this scale"),
        (SCALE, CHECK, MASS + MASS, 11, 'two weights called "K-2"'),
        (SCALE, CHECK, MASS.replace("2000", "300"), 8, "R 111 has no weight of 300 g"),
        (SCALE, CHECK, MASS.replace("2000", "10000"), 8, "more than the scale can weigh"),
        (SCALE, CHECK, MASS.replace("2000", "0"), 8, "above zero"),
        (SCALE, CHECK, MASS.replace('"M1"', '"M9"'), 9, "must be one of"),
        (SCALE, CHECK, MASS + 'error_g = "0.1"\n', 10, "in one way"),
        (SCALE, CHECK, MASS.replace('r111_class = "M1"\n', ""), 7, "in one way"),
        (SCALE, CHECK, MASS + "mass_g = 1800\n", 10, "certificate"),
        (SCALE, CHECK, MASS + 'serial = "7"\n', 10, "is not a key here"),
        (SCALE, CHECK, MASS.replace("K-2", ""), 7, "at least 1 character"),
    ],
)
def test_what_cannot_be_is_named_with_its_line(
    scale: str, check: str, mass: str, line: int, says: str
) -> None:
    with pytest.raises(ConfigError) as caught:
        config.parse(scale + check + mass)
    assert f"line {line}, scales.bench.check" in str(caught.value), str(caught.value)
    assert says in str(caught.value)


def test_a_verified_scale_states_its_own_limits() -> None:
    stated = SCALE.replace('"0.1"', "1") + 'accuracy_class = "III"\n'
    assert routine(stated + "[scales.bench.check]\n" + MASS)
    assert routine(SCALE + 'max_error_g = "0.5"\n[scales.bench.check]\n' + MASS)


def test_a_check_that_is_no_table_is_refused() -> None:
    with pytest.raises(ConfigError, match="check"):
        config.parse(SCALE + "check = 3\n")
    with pytest.raises(ConfigError, match="masses"):
        config.parse(SCALE + CHECK + "masses = 3\n")
