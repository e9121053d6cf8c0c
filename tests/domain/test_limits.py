"""Limits of a class of product: how they are read, and how a mix stands to them."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from tests.domain.mixes import OWN, SUCROSE, WATER, Mix, grams, made_of
from weighd.domain.composition import compose
from weighd.domain.errors import ConfigError
from weighd.domain.facts import Facts
from weighd.domain.formula import Ingredient
from weighd.domain.freezing import freezing
from weighd.domain.limits import Finding, Standing, judged, limits_of, read_limits

SHIPPED = (Path(__file__).parents[2] / "weighd/data/limits.toml").read_text("utf-8")
OURS = """\
[classes.every]
name = "All"
[[classes.every.limits]]
of = "freezing_point"
min = -4
max = -1
source = "ours"
[classes.ice]
name = "Ice"
[[classes.ice.limits]]
of = ["fat", "msnf"]
min = "14,0"
source = "ours"
[[classes.ice.limits]]
of = "density"
min = 0.9
source = "ours"
[[classes.ice.limits]]
of = "msnf_in_serum"
max = 15
source = "ours"
"""


def held(mix: Mix, kind: str = "", text: str = OURS, overrun: str = "") -> list[Finding]:
    composed = compose(mix)
    air = Decimal(overrun) if overrun else None
    return judged(read_limits(text, "limits.toml"), kind, composed, freezing(composed), air)


def test_a_mix_is_held_to_every_limit_of_its_class() -> None:
    point, solids, density, serum = held(OWN, "ice", overrun="30")
    assert (point.kind, point.standing) == ("every", Standing.INSIDE)
    assert solids.standing is Standing.INSIDE
    assert solids.value is not None
    assert round(solids.value.low, 2) == Decimal("14.26")
    # 1.1289 / 1.3 kg/L is below 0.9.
    assert density.standing is Standing.OUTSIDE
    assert serum.standing is Standing.INSIDE
    assert [one.standing for one in held(OWN, "ice", overrun="20")][2] is Standing.INSIDE


def test_without_an_overrun_nothing_is_said_of_density() -> None:
    density = held(OWN, "ice")[2]
    assert (density.standing, density.value) == (Standing.UNKNOWN, None)
    assert density.why == "it needs the overrun"


def test_what_is_missing_may_leave_it_open_or_not() -> None:
    crumbs = Ingredient("b", "B", facts=Facts((("other_solids", Decimal(20)),)))
    text = '[classes.x]\nname = "X"\n[[classes.x.limits]]\nof = "fat"\nsource = "s"\n'
    mix = [(crumbs, Decimal(10)), *grams((made_of("oil", fat=100), 2), (WATER, 88))]

    def standing(limit: str) -> Standing:
        return held(mix, "x", text + limit)[0].standing

    # From 2 % up to 10 %.
    assert standing("min = 1") is Standing.INSIDE
    assert standing("min = 5") is Standing.UNKNOWN
    assert standing("min = 11") is Standing.OUTSIDE
    assert standing("max = 11") is Standing.INSIDE
    assert standing("max = 5") is Standing.UNKNOWN
    assert standing("max = 1") is Standing.OUTSIDE


def test_what_has_no_water_has_neither_sand_nor_a_freezing_point() -> None:
    (point,) = held(grams((SUCROSE, 1)))
    assert (point.standing, point.why) == (Standing.UNKNOWN, "its freezing point is not known")
    (sand,) = held(grams((SUCROSE, 1)), text=SHIPPED)
    assert (sand.standing, sand.why) == (Standing.UNKNOWN, "there is no water in it")
    oil = made_of("oil", fat=100)
    serum = held(grams((oil, 1)), "ice")[3]
    assert serum.why == "there is neither water nor milk in it"


def test_every_limit_that_ships_has_its_source() -> None:
    kinds = read_limits(SHIPPED, "limits.toml")
    assert {"every", "ice-cream", "gelato", "sorbet", "sherbet"} <= set(kinds)
    for kind in kinds.values():
        assert kind.limits, kind.id
        assert all(len(one.source) > 5 for one in kind.limits)


def test_no_such_class() -> None:
    with pytest.raises(ConfigError, match="There are: ice"):
        held(OWN, "custard")


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ('of = "freezing_point"', 'of = "taste"', 4, "names a quantity"),
        ('of = "freezing_point"', "of = []", 4, "names a quantity"),
        ('of = "freezing_point"', 'of = "kcal"', 4, "names a quantity"),
        ('of = "freezing_point"', 'of = [["fat"]]', 4, "names a quantity"),
        ('of = "freezing_point"', "of = { fat = 1 }", 4, "names a quantity"),
        ('of = "freezing_point"', 'of = ["fat", 5]', 4, "names a quantity"),
        ("min = -4", "min = nan", 5, "not a plain number"),
        ("min = -4", "min = -inf", 5, "not a plain number"),
        ("min = -4", 'min = "1e999"', 5, "not a plain number"),
        ("min = -4", 'min = "٤"', 5, "not a plain number"),
        ("min = -4", "min = true", 5, "must be a number"),
        ('[classes.every]\nname = "All"', '[classes.""]\nname = "All"', 1, "a class is named"),
        ('of = "freezing_point"', 'of = ["density", "fat"]', 4, "names a quantity"),
        ("min = -4", 'min = "cold"', 5, "not a plain number"),
        ("min = -4", "min = 1", 5, '"min" is above "max"'),
        ("min = -4\nmax = -1\n", "", 3, 'needs "min" or "max"'),
        ('source = "ours"', "", 3, '"source" must be a line of text'),
        ('source = "ours"', 'sourse = "ours"', 7, "not a field here"),
        ('name = "All"', 'name = ""', 2, '"name" must be a line of text'),
        ("[classes.every]", "kinds = 3\n[classes.every]", 1, "not a field here"),
        ('[classes.every]\nname = "All"', "classes.every = 3\n", 1, "must be a table"),
        ("min = -4", "min = ", 5, "not readable TOML"),
    ],
)
def test_a_wrong_limit_is_named_with_file_and_line(
    old: str, new: str, line: int, says: str
) -> None:
    assert old in OURS
    text = OURS.replace(old, new, 1)
    if new.startswith("classes.every = 3"):
        text = new
    with pytest.raises(ConfigError) as caught:
        read_limits(text, "limits.toml")
    assert caught.value.where.startswith(f"limits.toml, line {line}")
    assert says in str(caught.value)


def test_limits_are_a_list() -> None:
    with pytest.raises(ConfigError, match="is a list"):
        read_limits('[classes.x]\nname = "X"\nlimits = 3\n', "limits.toml")


# The weight of a litre and what is solid in it: ours, by hand.
LITRE = """\
[classes.every]
name = "All"
[[classes.every.limits]]
of = "solids_per_litre"
min = 0.3
source = "ours"
[[classes.every.limits]]
of = "density"
min = 0.5
source = "ours"
"""


def test_solids_in_a_litre_are_their_share_of_what_it_weighs() -> None:
    mix = compose(OWN)
    solids, density = held(OWN, text=LITRE, overrun="60")
    assert solids.value is not None
    assert density.value is not None
    share = mix.percent("total_solids").low / 100
    weighs = mix.mass_g / mix.of("volume_ml").low / Decimal("1.6")
    assert float(density.value.low) == pytest.approx(float(weighs))
    assert float(solids.value.low) == pytest.approx(float(weighs * share))
    # All of it is known, so both ends are the same.
    assert (solids.value.low, density.value.low) == (solids.value.high, density.value.high)
    assert (solids.limit.unit, solids.standing) == (density.limit.unit, Standing.OUTSIDE)
    assert held(OWN, text=LITRE, overrun="20")[0].standing is Standing.INSIDE
    (unknown, _) = held(OWN, text=LITRE)
    assert (unknown.value, unknown.standing) == (None, Standing.UNKNOWN)
    assert "overrun" in unknown.why


def test_limits_of_a_document_that_was_read_are_those_of_its_text() -> None:
    assert limits_of(tomllib.loads(OURS), "limits.toml") == read_limits(OURS, "limits.toml")
    assert {one.id for one in read_limits(OURS, "limits.toml").values()} == {"every", "ice"}
    wrong = OURS.replace('name = "Ice"', "name = 3")
    with pytest.raises(ConfigError) as caught:
        read_limits(wrong, "limits.toml")
    assert caught.value.where == "limits.toml, line 9, classes.ice.name"
    with pytest.raises(ConfigError) as caught:
        limits_of(tomllib.loads(wrong), "limits.toml")
    assert caught.value.where == "limits.toml, classes.ice.name"


def test_a_class_that_nobody_knows_is_named_beside_those_there_are() -> None:
    with pytest.raises(ConfigError) as caught:
        held(OWN, "sherbet")
    assert caught.value.code == "unknown-class"
    assert "sherbet" in caught.value.message
    assert "ice" in caught.value.remedy
    assert "every" not in caught.value.remedy
