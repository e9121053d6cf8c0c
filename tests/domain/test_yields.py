"""Yield: overrun, density with air, loss; published numbers, and what cannot be."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from tests.domain.mixes import OWN, grams, made_of
from tests.domain.published import CHECKS, near
from weighd.domain.as_weighed import Part
from weighd.domain.draws import (
    FIELDS,
    Draw,
    Draws,
    Quantity,
    as_body,
    draw_of,
    entered,
    possible,
    read_draw,
)
from weighd.domain.errors import OperatorError
from weighd.domain.formula import Ingredient
from weighd.domain.overrun import by_volume, by_weight, ceiling, in_a_cup, product_ml
from weighd.domain.yields import How, Told, density_of, found_as_json, reckoned

G_PER_LB, L_PER_GAL = Decimal("453.59237"), Decimal("3.785411784")


def parts(u: str = "0.1") -> list[Part]:
    """Our own mix, all in."""
    return [
        Part(n, one, mass, mass, Decimal(u), Decimal(0))
        for n, (one, mass) in enumerate(OWN, start=1)
    ]


def draw(n: int = 1, **given: Any) -> Draw:
    return read_draw(given, n)


# --- published --------------------------------------------------------------------------------


def test_overrun_by_volume_and_by_weight() -> None:
    near("overrun_by_volume", by_volume(Decimal(1), Decimal("1.5")), "overrun_pct")
    near("overrun_by_weight", by_weight(Decimal(1090), Decimal(560)), "overrun_pct")


@pytest.mark.parametrize("name", ["overrun_cup_table", "overrun_cup_table_end"])
def test_the_table_of_a_cup(name: str) -> None:
    given = CHECKS[name]["inputs"]
    net, tare = Decimal(given["cup_mix_net_g"]), Decimal(given["cup_tare_g"])
    gross = [tare + in_a_cup(net, Decimal(one)) for one in given["overrun_pct"]]
    near(name, gross, "gross_g")


def test_pieces_put_in_after_freezing() -> None:
    """9 % candy of 0.748 kg/L in 100 kg: as printed, and back again from what was drawn."""
    mix, pieces = Decimal(91000), Decimal(9000)
    volume = product_ml(mix, Decimal("1.1"), Decimal(100), pieces, Decimal("0.748"))
    near("overrun_with_pieces", volume / 1000, "volume_L")
    near("overrun_with_pieces", 100_000_000 / volume, "g_per_L")
    one = draw(
        weight="100 kg",
        volume=f"{volume / 1000:.3f} L",
        pieces="9 kg",
        pieces_density="0,748",
        sample_weight="1100 g",
        sample_volume="1 L",
    )
    it = reckoned(parts(), [one]).each[0]
    assert it.overrun is not None
    assert it.overrun.value == pytest.approx(Decimal(100), abs=Decimal("0.01"))
    assert it.mix_g == mix
    assert it.air_g_ml == pytest.approx(Decimal("0.5634"), abs=Decimal("0.0001"))


def test_the_highest_overrun_that_a_least_density_allows() -> None:
    given = CHECKS["overrun_ceiling"]["inputs"]
    found = [
        ceiling(
            Decimal(str(given["mix_kg_per_L"])), Decimal(str(one)) * G_PER_LB / 1000 / L_PER_GAL
        )
        for one in given["lb_per_gal"]
    ]
    near("overrun_ceiling", found, "overrun_pct")


def test_our_own_mix_at_30_percent() -> None:
    """frozen.json, own_mix_density and own_mix_yield_30pct_overrun, from what was weighed in."""
    it = reckoned(parts(), [])
    assert it.density.how is How.RECKONED
    near("own_mix_density", it.density.value, "kg_per_L")
    density = it.density.value
    assert density is not None
    volume = product_ml(Decimal(2400), density, Decimal(30))
    near("own_mix_yield_30pct_overrun", volume / 1000, "product_L")
    near("own_mix_yield_30pct_overrun", Decimal(2_400_000) / volume, "g_per_L")
    one = draw(weight="2.400 kg", volume="2,764 L")
    found = reckoned(parts(), [one])
    assert found.overrun is not None
    assert found.overrun.value == pytest.approx(Decimal(30), abs=Decimal("0.05"))
    assert found.told is Told.NONE


def test_the_density_of_a_mix_is_that_of_the_published_formula() -> None:
    """frozen.json, mix_density_formula: 12 % fat, 38.3 % solids, 61.7 % water."""
    mix = grams((made_of("mix", water="61.7", fat=12, other_solids="26.3"), 1000))
    it = reckoned([Part(1, mix[0][0], mix[0][1], mix[0][1], Decimal(0), Decimal(0))], [])
    near("mix_density_formula", it.density.value, "kg_per_L")


@given(
    st.integers(1000, 100_000),
    st.integers(200, 900),
    st.integers(900, 1300),
)
def test_by_volume_and_by_weight_of_one_volume_are_the_same(
    mix_g: int, product_ratio: int, density: int
) -> None:
    """With one density both published formulas are one: mass over volume of the same product."""
    mix_g_ml = Decimal(density) / 1000
    product = Decimal(mix_g)
    volume = product / (mix_g_ml * Decimal(product_ratio) / 1000)
    one = by_volume(product / mix_g_ml, volume)
    other = by_weight(mix_g_ml * volume, product)
    assert abs(one - other) < Decimal("1e-20")


# --- loss -------------------------------------------------------------------------------------


def test_what_went_in_came_out_or_is_left_or_lost() -> None:
    it = reckoned(parts(), [draw(weight="1250 g", volume="1.4 L"), draw(2, weight="1,10 kg")])
    assert it.loss_g is not None
    assert (it.loss_g.value, it.told) == (Decimal(50), Told.LOSS)
    assert it.loss_percent == pytest.approx(Decimal("2.083"), abs=Decimal("0.001"))
    left = reckoned(
        parts(), [draw(weight="1250 g"), draw(2, weight="1.10 kg"), draw(3, left="50 g")]
    )
    assert left.told is Told.NONE
    assert left.loss_g is not None
    assert left.loss_g.value == 0


def test_more_out_than_in_is_a_contradiction_beyond_what_weighing_explains() -> None:
    assert reckoned(parts(), [draw(weight="2400.5 g")]).told is Told.NONE
    gained = reckoned(parts(), [draw(weight="2404 g")])
    assert gained.told is Told.GAIN
    # Typed to whole kilograms, nothing may be said of 100 g.
    assert reckoned(parts(), [draw(weight="2 kg"), draw(2, left="0.5 kg")]).told is Told.NONE


def test_pieces_are_not_mix_that_came_out() -> None:
    it = reckoned(parts(), [draw(weight="2500 g", pieces="100 g")])
    assert it.loss_g is not None
    assert it.loss_g.value == 0
    assert it.pieces_g == 100


def test_a_draw_without_weight_leaves_the_loss_open() -> None:
    it = reckoned(parts(), [draw(weight="1 kg", volume="1 L"), draw(2, volume="1 L")])
    assert it.told is Told.UNKNOWN
    assert it.loss_percent is None
    assert it.product_ml == 2000
    assert it.overrun is None
    assert it.each[1].why == "no weight"
    # Portions counted apart are no draw that has no weight.
    counted = reckoned(parts(), [draw(weight="2400 g"), draw(2, portions=20)])
    assert (counted.portions, counted.told) == (20, Told.NONE)


@given(
    st.integers(1000, 3000),
    st.integers(1000, 5000),
    st.integers(1, 500),
    st.integers(1, 99),
)
def test_uncertainties_are_those_of_a_general_package(
    weight: int, volume: int, pieces: int, left: int
) -> None:
    """Against the package ``uncertainties``: overrun with pieces, and loss."""
    one = draw(
        weight=f"{weight} g",
        volume=f"{volume} mL",
        pieces=f"{pieces} g",
        pieces_density="0.8",
        left=f"{left} g",
        sample_weight="1090 g",
        sample_volume="1000 mL",
    )
    if volume - pieces / 0.8 <= 10:
        return
    it = reckoned(parts("0.5"), [one])
    digit = 1 / 12**0.5
    w, v, p, r = (ufloat(x, digit) for x in (weight, volume, pieces, left))
    density = ufloat(1090, digit) / ufloat(1000, digit)
    overrun = 100 * ((v - p / Decimal("0.8").__float__()) / ((w - p) / density) - 1)
    theirs = ufloat(2400, 0.5 * len(OWN) ** 0.5) - (w - p) - r
    assert it.overrun is not None
    assert it.loss_g is not None
    assert float(it.overrun.value) == pytest.approx(overrun.n, abs=0.02)
    assert float(it.overrun.u) == pytest.approx(overrun.s, rel=2e-3)
    assert float(it.loss_g.u) == pytest.approx(theirs.s, rel=1e-4)


def test_overrun_by_volume_and_by_a_cup_are_compared() -> None:
    agree = draw(weight="868 g", volume="1000 mL", cup_mix="113 g", cup_product="87 g")
    it = reckoned(parts(), [agree]).each[0]
    assert not it.disagrees
    assert not it.impossible
    off = draw(weight="868 g", volume="1000 mL", cup_mix="113.0 g", cup_product="70.0 g")
    assert reckoned(parts(), [off]).each[0].disagrees


def test_a_product_denser_than_its_mix_cannot_be() -> None:
    it = reckoned(parts(), [draw(weight="1300 g", volume="1000 mL")]).each[0]
    assert it.impossible
    assert it.overrun is not None
    assert it.overrun.value < 0
    near_nothing = reckoned(parts(), [draw(weight="1129 g", volume="1000 mL")]).each[0]
    assert not near_nothing.impossible


def test_without_facts_the_density_has_to_be_measured() -> None:
    plain = [Part(1, Ingredient("x", "X"), Decimal(1000), Decimal(1000), Decimal(0), Decimal(0))]
    it = reckoned(plain, [draw(weight="900 g", volume="1.2 L")])
    assert it.density.how is How.UNKNOWN
    assert it.each[0].why == "the density of the mix is not known"
    assert it.told is Told.LOSS
    measured = draw(2, sample_weight="550 g", sample_volume="500 mL")
    again = reckoned(plain, [it.each[0].draw, measured])
    assert (again.density.how, again.density.value) == (How.MEASURED, Decimal("1.1000"))
    assert again.each[0].overrun is not None
    found = found_as_json(again, measured)
    assert found["density"] == "measured"


# --- what is entered --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "field", "grams", "u"),
    [
        ("1250g", "weight", "1250", "0.288675"),
        (" 1,25 kg ", "weight", "1250", "2.886751"),
        ("12 oz", "weight", "340.1942775", "8.183802"),
        ("2.5 LB", "weight", "1133.980925", "13.094085"),
        ("1.4 L", "volume", "1400", "28.867513"),
        ("350 ml", "volume", "350", "0.288675"),
    ],
)
def test_what_is_typed_is_read_with_its_unit(text: str, field: str, grams: str, u: str) -> None:
    found = entered(text, field)
    assert found.value == Decimal(grams)
    assert found.u == pytest.approx(Decimal(u), abs=Decimal("0.000002"))
    assert found.typed == text.strip()


@pytest.mark.parametrize(
    "text",
    [
        *("", "12", "g", "-3 g", "0 g", "0.0 kg", "NaN g", "inf g", "1e999 g", "1e3 g", "١٢ g"),
        *("12 st", "12 L", "1.2.3 g", "1 000 g", "99999999999 g", "1001 kg", "12\u00a0g"),
        *(None, 12, 1.5, True),
    ],
)
def test_what_is_no_mass_is_refused_by_field(text: object) -> None:
    with pytest.raises(OperatorError) as caught:
        entered(text, "left")
    assert (caught.value.code, caught.value.where) == ("bad-draw", "left")
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"colour": "12 g"}, "colour"),
        ({"tare": "12 g"}, "tare"),
        ({"volume": "12 g"}, "volume"),
        ({"weight": "1 L"}, "weight"),
        ({"fill": "350 mL"}, "containers"),
        ({"fill": "350 mL", "containers": 3, "volume": "1 L"}, "volume"),
        ({"containers": 0}, "containers"),
        ({"containers": 100_000, "fill": "900 L"}, "containers"),
        ({"containers": True}, "containers"),
        ({"containers": "3"}, "containers"),
        ({"portions": -1}, "portions"),
        ({"portions": 1.5}, "portions"),
        ({"portions": 10**9}, "portions"),
        ({"cup_mix": "110 g"}, "cup_product"),
        ({"sample_volume": "1 L"}, "sample_weight"),
        ({"pieces_density": "0.7"}, "pieces"),
        ({"pieces": "9 g", "pieces_density": "0"}, "pieces_density"),
        ({"pieces": "9 g", "pieces_density": "NaN"}, "pieces_density"),
        ({"pieces": "9 g", "pieces_density": "1e999"}, "pieces_density"),
        ({"pieces": "9 g", "pieces_density": 0.7}, "pieces_density"),
        ({"weight": "10 g", "pieces": "10 g"}, "pieces"),
        ({"volume": "10 mL", "pieces": "10 g", "pieces_density": "0.7"}, "pieces"),
        ({"sample_weight": "10 kg", "sample_volume": "1 mL"}, "sample_weight"),
    ],
)
def test_what_cannot_go_together_is_refused_by_field(given: dict[str, Any], field: str) -> None:
    with pytest.raises(OperatorError) as caught:
        possible(read_draw(given, 1))
    assert (caught.value.code, caught.value.where) == ("bad-draw", field)


NUMBERS = st.builds(
    lambda n, d, unit: f"{n}{d}{unit}",
    st.integers(0, 10**7),
    st.sampled_from(["", ".5", ",25", ".000001"]),
    st.sampled_from(["g", " kg", "oz", "lb", "mL", " L", "", " st"]),
)
VALUES = NUMBERS | st.text(max_size=12) | st.integers(-2, 10**6) | st.none() | st.floats()


@given(
    st.lists(
        st.dictionaries(
            st.sampled_from([*FIELDS, "pieces_density", "containers", "portions", "colour"]),
            VALUES,
            max_size=6,
        ),
        max_size=3,
    )
)
def test_whatever_is_typed_is_refused_or_reckoned_with(rows: list[dict[str, Any]]) -> None:
    """Nothing but a refusal that names a field; what is taken comes back from its entry."""
    taken = []
    for n, row in enumerate(rows, start=1):
        try:
            one = read_draw(row, n)
            possible(one)
        except OperatorError as error:
            assert error.code == "bad-draw"
            assert error.where
            continue
        taken.append(one)
        assert draw_of({**as_body(one), "by": "", "draw": n}) == one
    it = reckoned(parts(), taken)
    for one in taken:
        assert json.loads(json.dumps(found_as_json(it, one)))["batch"]["told"]


def test_containers_filled_to_a_mark_make_a_volume() -> None:
    one = draw(containers=4, fill="350 mL")
    assert one.volume == Quantity(Decimal(1400), entered("350 mL", "fill").u * 4)


def test_a_number_is_used_once_and_a_draw_is_replaced_by_its_hash() -> None:
    first, second = (Draw(n, hash=f"h{n}", weight=Quantity(Decimal(n), Decimal(0))) for n in (1, 2))
    draws = Draws().plus(first).plus(second)
    better = Draw(7, hash="h3", weight=Quantity(Decimal(9), Decimal(0)))
    after = draws.plus(better, "h1")
    assert [(one.n, one.hash) for one in after.standing] == [(1, "h3"), (2, "h2")]
    gone = after.plus(Draw(2, hash="h4"), "h2")
    assert [one.n for one in gone.standing] == [1]
    assert gone.made == 2
    with pytest.raises(ValueError, match="no draw stands"):
        gone.plus(better, "h2")


def test_of_nothing_there_is_no_yield() -> None:
    with pytest.raises(ValueError, match="nothing went in"):
        reckoned([replace(one, in_g=Decimal(0)) for one in parts()], [draw(weight="10 g")])
    assert density_of([], []).how is How.UNKNOWN


def test_pieces_of_no_known_density_leave_the_overrun_unknown_and_say_so() -> None:
    one = draw(weight="560 g", volume="1 L", pieces="60 g")
    it = reckoned(parts(), [one])
    assert it.each[0].overrun is it.overrun is None
    assert "density of the pieces" in it.each[0].why
    assert it.each[0].mix_g == 500
    with_density = draw(weight="560 g", volume="1 L", pieces="60 g", pieces_density="0.7")
    assert reckoned(parts(), [with_density]).overrun is not None


def test_only_overrun_known_in_both_ways_can_disagree() -> None:
    by_cup = draw(cup_mix="100 g", cup_product="80 g")
    both = draw(weight="500.0 g", volume="1000.0 mL", cup_mix="100 g", cup_product="80 g")
    assert not reckoned(parts(), [by_cup]).each[0].disagrees
    assert not reckoned(parts(), [draw(weight="500 g", volume="1 L")]).each[0].disagrees
    # 1.1289 g/mL at 0.5 g/mL is 126 %; the cup says 25 %.
    assert reckoned(parts(), [both]).each[0].disagrees
