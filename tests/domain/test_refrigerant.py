"""Dry ice as a refrigerant: published values, a reference library, and laws that must hold."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.domain.fluids import fluid
from tests.domain.published import CHECKS, near
from weighd.domain import refrigerant
from weighd.domain.cautions import DRY_ICE, OF_MEANS
from weighd.domain.refrigerant import (
    CONSTANTS,
    FUSION,
    GAS_M3_KG,
    MATERIALS,
    SUBLIMATION,
    SUBLIMES_C,
    charge,
    elsewhere,
    gas_heat_kj_kg,
    portions,
    vessel_heat_kj,
)

CAUTIONS = OF_MEANS[DRY_ICE]
HEAT = Decimal("304.27")
KELVIN = Decimal("273.15")
ATM = 101325


def test_the_charge_of_our_own_mix() -> None:
    found = charge(HEAT, HEAT, Decimal(-6), Decimal(100))
    near("own_mix_dry_ice_100pct", found.most_g, "g_gas_leaves_at_minus78")
    near("own_mix_dry_ice_100pct", found.least_g, "g_gas_leaves_at_minus6")
    row = CHECKS["own_mix_dry_ice_with_efficiency"]
    got = [
        charge(HEAT, HEAT, Decimal(-6), Decimal(str(share * 100))).most_g
        for share in row["inputs"]["efficiency"]
    ]
    near("own_mix_dry_ice_with_efficiency", got, "g")


def test_a_steel_bowl_counts() -> None:
    bowl = vessel_heat_kj(Decimal(1500), MATERIALS["steel"], Decimal(20), Decimal(-6))
    near("bowl_allowance", bowl, "kJ")
    near("bowl_allowance", bowl / SUBLIMATION.value * 1000, "dry_ice_g")
    assert vessel_heat_kj(Decimal(1500), MATERIALS["steel"], Decimal(-20), Decimal(-6)) == 0


def test_the_heat_of_sublimation_is_on_the_safe_side_of_what_is_known() -> None:
    row = CHECKS["co2_enthalpy_of_sublimation"]
    near("co2_enthalpy_of_sublimation", SUBLIMATION.value, "kJ_per_kg")
    assert float(SUBLIMATION.value) <= row["expected"]["kJ_per_kg"]
    btu_lb = 2.326  # kJ/kg, exactly by definition of the pound and the Btu (IT)
    told = CHECKS["dry_ice_total_to_32F"]["expected"]
    assert float(SUBLIMATION.value) / btu_lb == pytest.approx(told["sublimation_btu_lb"], rel=0.02)
    gas = float(gas_heat_kj_kg(Decimal(0))) / btu_lb
    assert gas == pytest.approx(told["gas_btu_lb"], rel=0.02)


def test_it_sublimes_where_the_published_line_says() -> None:
    """The sublimation line of Span & Wagner (1996), coefficients from memory, solved for 1 atm."""
    triple_k, triple_pa = fluid("TTRIPLE", "CO2"), fluid("PTRIPLE", "CO2")

    def pressure(kelvin: float) -> float:
        x = 1 - kelvin / triple_k
        powers = -14.740846 * x + 2.4327015 * x**1.9 - 5.3061778 * x**2.9
        return float(triple_pa * math.exp(triple_k / kelvin * powers))

    low, high = 180.0, triple_k
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if pressure(middle) < ATM else (low, middle)
    near("co2_sublimation_temperature_1atm", low, "T_K")
    assert float(SUBLIMES_C.value + KELVIN) == pytest.approx(low, abs=0.03)
    # Clapeyron along that line, with the second virial coefficient of the equation of state; the
    # solid's volume, 1/1562 m3/kg, is from memory and matters by a hundredth of a percent.
    slope = (pressure(low + 0.01) - pressure(low - 0.01)) / 0.02
    virial = fluid("BVIRIAL", "T", low, "D|gas", 1e-5, "CO2")
    volume = (8.314462618 * low / ATM + virial) / 0.0440098
    heat = low * (volume - 1 / 1562) * slope / 1000
    assert heat == pytest.approx(574.3, rel=0.001)
    near("co2_enthalpy_of_sublimation", heat, "kJ_per_kg")


def test_at_the_triple_point_melting_and_boiling_ask_for_less_than_subliming_when_colder() -> None:
    """Another road to the heat of sublimation: of fusion (CRC, by way of a library) and of
    vaporisation (CoolProp) where all three phases meet, 22 degrees warmer. From there down it rises
    by the heat capacity of the solid, 1.3 to 1.5 kJ/(kg K) (from memory), less that of the gas."""
    row = CHECKS["co2_triple_point"]
    kelvin, pascal = fluid("TTRIPLE", "CO2"), fluid("PTRIPLE", "CO2")
    assert kelvin == pytest.approx(row["expected"]["T_K"], abs=row["tolerance"]["abs_T"])
    assert pascal == pytest.approx(row["expected"]["p_Pa"], abs=row["tolerance"]["abs_p"])
    boiling = fluid("H", "T", kelvin + 1e-4, "Q", 1, "CO2")
    boiling -= fluid("H", "T", kelvin + 1e-4, "Q", 0, "CO2")
    melting = CHECKS["co2_hfus"]["expected"]["J_per_mol"] / 0.0440098
    warm = (boiling + melting) / 1000
    assert warm == pytest.approx(555.3, abs=0.5)
    colder = kelvin - 194.685
    assert warm + (1.3 - 0.79) * colder < float(SUBLIMATION.value) < warm + (1.5 - 0.75) * colder


@pytest.mark.parametrize(
    ("kelvin", "wanted"),
    list(
        zip(
            CHECKS["co2_gas_cp"]["inputs"]["T_K"],
            CHECKS["co2_gas_cp"]["expected"]["J_per_kgK"],
            strict=True,
        )
    ),
)
def test_the_gas_takes_up_what_its_equation_of_state_says(kelvin: float, wanted: float) -> None:
    assert fluid("C", "T", kelvin, "P", ATM, "CO2") == pytest.approx(wanted, abs=0.2)
    at, step = Decimal(str(kelvin)) - KELVIN, Decimal("0.01")
    ours = (gas_heat_kj_kg(at + step) - gas_heat_kj_kg(at - step)) / (2 * step) * 1000
    assert float(ours) == pytest.approx(wanted, rel=0.0015)


def test_the_gas_warms_to_the_mix() -> None:
    row = CHECKS["co2_gas_sensible_from_sublimation"]
    got = [gas_heat_kj_kg(Decimal(str(one)) - KELVIN) for one in row["inputs"]["T2_K"]]
    near("co2_gas_sensible_from_sublimation", got, "kJ_per_kg")
    for kelvin in (230.0, 267.15, 293.15):  # from the triple point up, the library has it too
        wanted = fluid("H", "T", kelvin, "P", ATM, "CO2") - fluid("H", "T", 217, "P", ATM, "CO2")
        ours = gas_heat_kj_kg(Decimal(str(kelvin)) - KELVIN) - gas_heat_kj_kg(217 - KELVIN)
        assert float(ours) == pytest.approx(wanted / 1000, rel=0.001)


def test_the_volume_of_the_gas() -> None:
    near("co2_gas_volume", GAS_M3_KG.value, "m3_per_kg_ideal")
    real = 1 / fluid("D", "T", 293.15, "P", ATM, "CO2")
    near("co2_gas_volume", real, "m3_per_kg_real")
    assert float(GAS_M3_KG.value) > real  # more gas is the safe side
    row = CHECKS["dry_ice_expansion"]
    for kg, cubic in zip(row["inputs"]["kg"], row["expected"]["m3"], strict=True):
        assert float(GAS_M3_KG.value) * kg == pytest.approx(cubic, rel=row["tolerance"]["rel"])


EFFICIENCY = st.integers(1, 100).map(Decimal)


@given(EFFICIENCY, EFFICIENCY, st.integers(-15, 5).map(Decimal))
def test_the_charge_falls_with_the_efficiency(one: Decimal, other: Decimal, to_c: Decimal) -> None:
    poor, good = sorted((one, other))
    less, more = charge(HEAT, HEAT, to_c, good), charge(HEAT, HEAT, to_c, poor)
    assert less.most_g <= more.most_g and less.least_g <= more.least_g
    assert less.least_g < less.most_g


@given(st.integers(1, 10_000).map(Decimal), EFFICIENCY)
def test_the_charge_grows_with_the_heat(heat_kj: Decimal, share: Decimal) -> None:
    once = charge(heat_kj, heat_kj, Decimal(-6), share)
    twice = charge(2 * heat_kj, 2 * heat_kj, Decimal(-6), share)
    assert float(twice.most_g) == pytest.approx(2 * float(once.most_g), rel=1e-12)


@pytest.mark.parametrize("share", ["0", "-5", "100.1", "NaN"])
def test_an_efficiency_that_cannot_be(share: str) -> None:
    with pytest.raises((ValueError, ArithmeticError)):
        charge(HEAT, HEAT, Decimal(-6), Decimal(share))


@given(
    st.integers(1, 100_000).map(lambda n: Decimal(n) / 10),
    st.integers(5, 600),
    st.integers(0, 3600),
)
def test_portions_are_all_of_it(grams: Decimal, every_s: int, over_s: int) -> None:
    rows = portions(grams, every_s, over_s)
    assert sum((one.grams for one in rows), Decimal(0)) == grams
    assert len({one.grams for one in rows[:-1]}) <= 1
    assert [one.at_s for one in rows] == [n * every_s for n in range(len(rows))]
    assert all(one.grams >= 0 for one in rows)


def test_common_practice_is_a_portion_every_half_minute_over_five_minutes() -> None:
    rows = portions(Decimal(888), refrigerant.PORTION_EVERY_S, refrigerant.ADDED_OVER_S)
    assert (len(rows), rows[0].grams, rows[-1].at_s) == (10, Decimal("88.8"), 270)
    for wrong in ((Decimal(0), 30, 300), (HEAT, 0, 300), (HEAT, 30, -1)):
        with pytest.raises(ValueError, match="above zero"):
            portions(*wrong)


def test_the_same_heat_without_dry_ice() -> None:
    """0.085 kWh and 0.91 kg of ice for 304 kJ: by the units, and the heat of fusion."""
    found = elsewhere(HEAT)
    assert float(found.freezer_kwh) == pytest.approx(0.0845, abs=0.0005)
    assert float(found.melted_ice_kg) == pytest.approx(0.9126, abs=0.001)
    assert FUSION.value == Decimal("333.43")


def test_every_constant_says_where_it_is_from_and_how_it_is_known() -> None:
    assert all(one.source and one.status and one.unit for one in CONSTANTS)
    guesses = {one.name for one in CONSTANTS if one.status == refrigerant.GUESS}
    assert guesses == {
        "share of the cold that ends in the mix",
        "bulk density of powdered dry ice",
    }


def test_every_caution_that_matters_is_there() -> None:
    told = " ".join(f"{one.name} {one.text}".lower() for one in CAUTIONS)
    for word in (
        "local codes", "licensed", "ventilate", "low", "cellar", "car", "burns", "gloves",
        "eye protection", "closed container", "never eat", "serve", "children", "food-grade",
    ):  # fmt: skip
        assert word in told, word
    assert len({one.name for one in CAUTIONS}) == len(CAUTIONS)
