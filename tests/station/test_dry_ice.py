"""What is asked, reckoned and told of freezing with dry ice."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.domain.mixes import OWN, made_of
from weighd.domain.cautions import DRY_ICE, OF_MEANS
from weighd.domain.dry_ice import FIELDS, amounts_of, read_asked, reckon
from weighd.domain.errors import OperatorError
from weighd.domain.formula import Addition, Formula, read_tolerance
from weighd.main.files import read_formula_file
from weighd.station.dry_ice_drawn import draw_dry_ice
from weighd.station.dry_ice_words import tell
from weighd.station.loss import ForLater, draw_loss, read_for_later

CAUTIONS = OF_MEANS[DRY_ICE]
TOLERANCE = read_tolerance("1 %")
OURS = Formula("own", "Our own", tuple(Addition(one, grams, TOLERANCE) for one, grams in OWN))


def drawn(formula: Formula = OURS, **given: str) -> dict[str, Any]:
    asked = {"room_m3": "30", **given}
    return draw_dry_ice(formula, reckon(amounts_of(formula), read_asked(asked)))


def test_our_own_mix_is_reckoned_as_in_the_table() -> None:
    """The figures of fixtures/tables/frozen.json, rounded as they are shown."""
    out = drawn(efficiency_percent="60", release_min="15", air_changes="2")
    assert out["heat"]["total_kj"] == {"value": "304.3"}
    assert out["heat"]["ice_g"] == {"value": "681.1"}
    assert out["heat"]["frozen_percent"] == {"value": "44.0"}
    charge = out["charge"]
    assert charge["most_g"] == "888.1"
    assert charge["ideal_g"] == {"gas_leaves_at_mix": "484.3", "gas_leaves_cold": "532.9"}
    assert "not verified" in charge["efficiency_status"]
    assert charge["powder"]["status"] == "a guess, no source"
    assert charge["rule_of_thumb"]["mix_litres"] == "2.13"
    assert charge["rule_of_thumb"]["status"] == "common practice, no source"
    assert sum(Decimal(one["grams"]) for one in out["portions"]["list"]) == Decimal("888.1")
    assert out["elsewhere"]["freezer_kwh"] == {"value": "0.084"} or out["elsewhere"][
        "freezer_kwh"
    ] == {"value": "0.085"}


def test_the_room_is_that_of_the_table_for_a_charge_of_a_kilogram() -> None:
    room = drawn(charge_g="1000", release_min="15", air_changes="2")["room"]
    assert (room["peak_ppm"], room["shift_ppm"]) == ("14758", "1559")
    assert room["below_5000_after_h"] == "0.83"  # 0.821 h, rounded up
    by = {one["id"]: one for one in room["limits"]}
    assert [by[one]["exceeded"] for one in ("twa-8h", "stel-15min", "idlh")] == [False] * 3
    assert "cannot show that it is safe" in room["warning"]


def test_a_bowl_of_steel_adds_what_it_holds() -> None:
    out = drawn(vessel_g="1500")
    assert out["heat"]["vessel_kj"] == "19.5"
    assert out["heat"]["total_kj"] == {"value": "323.8"}
    own = drawn(vessel_g="1500", vessel_cp="1")
    assert own["heat"]["vessel_kj"] == "39.0"


def test_nothing_known_of_the_air_is_taken_for_the_worst() -> None:
    room = drawn()["room"]
    assert (room["air_changes"], room["ventilation_known"]) == ("0", False)
    assert room["below_5000_after_h"] is None
    assert room["peak_ppm"] == room["quarter_ppm"]
    assert drawn(air_changes="0")["room"]["ventilation_known"] is True
    lines = "\n".join(tell(drawn()))
    assert "not given: taken as none" in lines
    assert "stays above 5000 ppm" in lines


def test_no_room_is_ever_called_safe() -> None:
    for room in ("0.5", "30", "1000000"):
        text = "\n".join(tell(drawn(room_m3=room, air_changes="100"))).lower()
        assert "safe" not in text.replace("cannot show that it is safe", "")
        assert "cannot show that it is safe" in text


def test_what_would_help_is_told_or_that_nothing_does() -> None:
    at_once = drawn(room_m3="5")["room"]
    [idlh] = [one for one in at_once["limits"] if one["id"] == "idlh"]
    assert (idlh["exceeded"], idlh["air_changes_needed"]) == (True, None)
    assert "no ventilation of a room is enough" in "\n".join(tell(drawn(room_m3="5")))
    slowly = drawn(room_m3="5", release_min="60")["room"]
    [idlh] = [one for one in slowly["limits"] if one["id"] == "idlh"]
    needed = idlh["air_changes_needed"]
    assert needed is not None
    enough = drawn(room_m3="5", release_min="60", air_changes=needed)["room"]
    assert not next(one for one in enough["limits"] if one["id"] == "idlh")["exceeded"]


def test_the_cautions_come_first_and_all_of_them() -> None:
    lines = tell(drawn())
    told = [line.strip(" -") for line in lines[3 : 3 + len(CAUTIONS)]]
    assert told == [f"{one.name}: {one.text}" for one in CAUTIONS]
    assert [one["name"] for one in drawn()["cautions"]] == [one.name for one in CAUTIONS]


def test_what_is_a_guess_or_recalled_says_so_in_the_text() -> None:
    text = "\n".join(tell(drawn(vessel_g="500")))
    for said in ("a guess, no source", "common practice, no source", "from memory", "not verified"):
        assert said in text


def test_what_is_missing_makes_a_range_and_is_named() -> None:
    vague = replace(made_of("cream", fat=35, msnf=6, water=59), facts=None)
    formula = replace(OURS, additions=(*OURS.additions, Addition(vague, Decimal(2000), TOLERANCE)))
    with pytest.raises(OperatorError) as told:
        drawn(formula)
    assert told.value.code == "not-enough-known"  # it might be salt
    assert "cream: composition" in told.value.message
    sure = {"fat": 0, "msnf": 0, "whey_solids": 0, "stabiliser": 0, "alcohol": 0, "salt": 0}
    paste = made_of("paste", water=0)
    assert paste.facts is not None
    facts = replace(paste.facts, stated=tuple((key, Decimal(value)) for key, value in sure.items()))
    vague = replace(paste, facts=facts)
    formula = replace(OURS, additions=(*OURS.additions, Addition(vague, Decimal(20), TOLERANCE)))
    out = drawn(formula)
    total = out["heat"]["total_kj"]
    assert Decimal(total["value"]) < Decimal(total["at_most"])
    assert Decimal(out["charge"]["least_g"]) < Decimal(out["charge"]["most_g"])
    assert out["missing"] == {"paste": ["water", "other_solids"]}
    assert " to " in "\n".join(tell(out))


WRONG = [
    ({"room_m3": "0"}, "bad-number", "room_m3"),
    ({"room_m3": "-30"}, "bad-number", "room_m3"),
    ({"room_m3": "NaN"}, "bad-number", "room_m3"),
    ({"room_m3": "Infinity"}, "bad-number", "room_m3"),
    ({"room_m3": "1e3"}, "bad-number", "room_m3"),
    ({"room_m3": ""}, "no-room", "room_m3"),
    ({"air_changes": "-1"}, "bad-number", "air_changes"),
    ({"air_changes": "a few"}, "bad-number", "air_changes"),
    ({"release_min": "-1"}, "bad-number", "release_min"),
    ({"background_ppm": "5000"}, "bad-number", "background_ppm"),
    ({"efficiency_percent": "0"}, "bad-number", "efficiency_percent"),
    ({"efficiency_percent": "101"}, "bad-number", "efficiency_percent"),
    ({"charge_g": "0"}, "bad-number", "charge_g"),
    ({"from_c": "60"}, "bad-number", "from_c"),
    ({"from_c": "-6", "to_c": "5"}, "bad-number", "to_c"),
    ({"from_c": "-6", "to_c": "-6"}, "bad-number", "to_c"),
    ({"to_c": "-20"}, "beyond-method", "to_c"),
    ({"powder_kg_l": "2"}, "bad-number", "powder_kg_l"),
    ({"every_s": "0"}, "bad-number", "every_s"),
    ({"over_min": "240", "every_s": "5"}, "bad-number", "every_s"),
    ({"over_min": "-5"}, "bad-number", "over_min"),
    ({"vessel_g": "-1"}, "bad-number", "vessel_g"),
    ({"vessel_of": "gold"}, "unknown-material", "vessel_of"),
    ({"vessel_cp": "0"}, "bad-number", "vessel_cp"),
    ({"vessel_from_c": "hot"}, "bad-number", "vessel_from_c"),
]


@pytest.mark.parametrize(("given", "code", "field"), WRONG, ids=[str(one[0]) for one in WRONG])
def test_what_cannot_be_names_its_field(given: dict[str, str], code: str, field: str) -> None:
    with pytest.raises(OperatorError) as told:
        drawn(**given)
    assert (told.value.code, told.value.where) == (code, field)
    assert told.value.message.endswith(".")


ODD = st.one_of(
    st.text(max_size=30),
    st.floats(allow_nan=True, allow_infinity=True).map(str),
    st.integers(-(10**12), 10**12).map(str),
    st.sampled_from(["", " ", "0", "-0", "1,5", "٣", "1_000", "0x10", "½", "--6", "−6"]),
)


@given(st.dictionaries(st.sampled_from(FIELDS), ODD, max_size=len(FIELDS)))
def test_whatever_is_typed_is_reckoned_or_refused_in_words(given_: dict[str, str]) -> None:
    try:
        out = drawn(**given_)
    except OperatorError as error:
        assert error.where in (*FIELDS, "composition")
        assert error.message.endswith(".")
    else:
        assert Decimal(out["charge"]["counted_g"]) > 0
        assert all(one["reckoned_ppm"].isdigit() for one in out["room"]["limits"])


def test_every_field_was_tried_with_something_wrong() -> None:
    assert {one[2] for one in WRONG} == set(FIELDS)


def test_beyond_the_table_the_coldest_that_is_told_is_named() -> None:
    with pytest.raises(OperatorError, match=r"ends at -15\.59") as told:
        drawn(to_c="-20")
    coldest = told.value.remedy.removeprefix("Give ").split(" ")[0]
    assert drawn(to_c=coldest)["asked"]["to_c"] == coldest


def test_the_usual_room_counts_where_none_is_given() -> None:
    usual = {"room_m3": "40", "air_changes": "3", "efficiency_percent": ""}
    asked = read_asked({}, usual)
    assert (asked.room_m3, asked.air_changes, asked.ventilation_known) == (40, 3, True)
    assert asked.efficiency_percent == 60
    assert read_asked({"room_m3": "12"}, usual).room_m3 == 12


def test_every_shipped_formula_is_reckoned_or_says_why_not() -> None:
    reckoned = 0
    for file in sorted(Path(str(files("weighd.data") / "formulas")).glob("*.toml")):
        if file.stem in ("ingredients", "limits"):
            continue
        formula = read_formula_file(file)
        try:
            out = drawn(formula, to_c="-5")
        except OperatorError as error:
            assert error.code in ("not-enough-known", "beyond-method")
            continue
        reckoned += 1
        per_kg = float(out["heat"]["total_kj"]["value"]) / float(out["batch_g"]) * 1000
        assert 60 < per_kg < 330, formula.id
    assert reckoned >= 2


def test_a_loss_that_cannot_be_told_says_why() -> None:
    out = draw_loss(None, Decimal("0.1"), ForLater(), None)
    assert (out["loses"], out["grams"]) == (None, None)
    assert "untouched" in out["why"]


@pytest.mark.parametrize(
    ("given", "field"),
    [
        (("0", "", ""), "want_g"),
        (("NaN", "", ""), "want_g"),
        (("10", "-1", ""), "wait_s"),
        (("10", "100000", ""), "wait_s"),
        (("10", "1", "-3"), "tare_g"),
    ],
)
def test_what_cannot_be_wanted_later_names_its_field(
    given: tuple[str, str, str], field: str
) -> None:
    with pytest.raises(OperatorError) as told:
        read_for_later(*given)
    assert (told.value.code, told.value.where) == ("bad-number", field)
