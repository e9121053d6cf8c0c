"""Published time-temperature pairs: as they were printed, and never anything between them."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.domain.process_world import tables
from weighd.domain.duration import read_duration, words
from weighd.domain.errors import ConfigError
from weighd.domain.heat_tables import HeatTable, Pair, read_tables, satisfied, table_of
from weighd.domain.temperature import CELSIUS, FAHRENHEIT, Temperature, read_temperature

ROOT = Path(__file__).parents[2]
#: fixtures/tables/heat_treatments.json has the sources.
CHECKS = {
    row["name"]: row
    for row in json.loads((ROOT / "fixtures/tables/heat_treatments.json").read_text("utf-8"))[
        "checks"
    ]
}
OF = {
    "us-frozen-dessert-mix": ("pasteurisation_us_frozen_dessert_mix", "pairs_F_s", FAHRENHEIT),
    "connecticut": ("pasteurisation_connecticut", "pairs_F_s", FAHRENHEIT),
    "uk-1995": ("pasteurisation_uk_1995", "pairs_C_s", CELSIUS),
}


@pytest.mark.parametrize("name", sorted(OF))
def test_the_pairs_are_those_that_were_published(name: str) -> None:
    check, key, unit = OF[name]
    found = [(one.temperature, one.time_s) for one in tables()[name].pairs]
    expected = [
        (Temperature(Decimal(str(hot)), unit), Decimal(seconds))
        for hot, seconds in CHECKS[check]["expected"][key]
    ]
    assert found == expected, CHECKS[check]["source"]


def test_sterilised_and_cooled_as_was_published() -> None:
    """SI 1995/1372 (Scotland), Schedule 6, Parts V and VI: read."""
    published = CHECKS["pasteurisation_uk_1995"]["expected"]
    (only,) = tables()["uk-1995-sterilised"].pairs
    assert [float(only.temperature.value), int(only.time_s)] == published["sterilised_scotland_C_s"]
    cooling = tables()["uk-1995"].cooling
    assert cooling is not None
    assert cooling.at_most == Temperature(Decimal(str(published["cool_to_C"])))
    assert cooling.within_s == Decimal(str(published["within_h"])) * 3600


def test_the_pairs_lie_on_no_line_so_that_nothing_may_lie_between_them() -> None:
    """z = dT / log10(t1/t2) differs from pair to pair: derived, and why rule 1 stands."""
    from math import log10

    implied = CHECKS["pasteurisation_implied_z"]["expected"]
    us, uk = tables()["us-frozen-dessert-mix"].pairs, tables()["uk-1995"].pairs

    def z(one: Pair, other: Pair) -> float:
        hotter = float(other.temperature.value - one.temperature.value)
        return hotter / log10(one.time_s / other.time_s)

    found = [z(us[0], us[1]), z(us[1], us[2]), z(uk[0], uk[1]), z(uk[1], uk[2])]
    assert found == pytest.approx(list(implied.values()), abs=0.02)


def test_every_pair_says_where_it_is_from_and_whether_it_was_read() -> None:
    for table in tables().values():
        for one in (*table.pairs, *((table.cooling,) if table.cooling else ())):
            assert one.source
            assert one.status.startswith("read") or "memory" in one.status


hot = st.decimals("0", "300", places=1).map(Temperature)
time = st.decimals("0", "7200", places=1)


@given(st.sampled_from(sorted(tables())), hot, time)
def test_a_hold_satisfies_what_it_exceeds_in_both_and_nothing_else(
    name: str, lowest: Temperature, held: Decimal
) -> None:
    pairs = tables()[name].pairs
    found = satisfied(pairs, lowest, held)
    for one in pairs:
        reached = one.temperature <= lowest and one.time_s <= held
        assert (one in found) is reached


@given(
    st.sampled_from(sorted(set(tables()) - {"uk-1995-sterilised"})),
    st.data(),
)
def test_nothing_is_interpolated(name: str, data: st.DataObject) -> None:
    """Between two neighbours, hotter than the cooler one and longer than the shorter, but short
    of each in one thing: refused, wherever between them it lies."""
    pairs = tables()[name].pairs
    n = data.draw(st.integers(0, len(pairs) - 2))
    cool, warm = pairs[n], pairs[n + 1]
    share_t = data.draw(st.floats(0.001, 0.999))
    share_s = data.draw(st.floats(0.001, 0.999))
    degrees = cool.temperature.value + (warm.temperature.value - cool.temperature.value) * Decimal(
        share_t
    )
    held = warm.time_s + (cool.time_s - warm.time_s) * Decimal(share_s)
    assert satisfied(pairs, Temperature(degrees, cool.temperature.unit), held) == ()


@pytest.mark.parametrize(
    ("degrees", "enough"), [("68.3", False), ("68.33", False), ("68.34", True), ("68.4", True)]
)
def test_155_fahrenheit_is_not_rounded_down(degrees: str, enough: bool) -> None:
    """155 °F is 68 3/9 °C, exactly."""
    found = satisfied(
        tables()["us-frozen-dessert-mix"].pairs, read_temperature(degrees), Decimal(1800)
    )
    assert bool(found) is enough
    assert read_temperature("155 F").celsius_at_least() == "68.4 °C"


def test_a_table_comes_back_from_its_content() -> None:
    for table in tables().values():
        assert table_of(json.loads(json.dumps(table.content()))) == table


TOO_HOT = """[one]
name = "x"
[[one.pairs]]
temperature = "900 °C"
time = "1 s"
source = "s"
status = "read"
"""


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ('[one]\nname = "x"\n', "line 1, one.pairs"),
        ('[one]\nname = ""\n[[one.pairs]]\ntemperature = "70 °C"\n', "one.pairs"),
        (
            TOO_HOT,
            "line 4",
        ),
        ("[one", "tables.toml"),
    ],
)
def test_a_table_that_is_none_names_the_line(text: str, where: str) -> None:
    with pytest.raises(ConfigError) as caught:
        read_tables(text, "tables.toml")
    assert caught.value.code == "bad-heat-tables"
    assert where in caught.value.where


@pytest.mark.parametrize("text", ["nan", "NaN", "-274", "-273.16 °C", "300.1", "572.1 F", "x", ""])
def test_what_nothing_can_have_is_no_temperature(text: str) -> None:
    with pytest.raises(ValueError, match=r"temperature|colder|hotter"):
        read_temperature(text)


@pytest.mark.parametrize("text", ["nan", "-5", "−5 min", "12", "11 days", "241 h", ""])
def test_what_is_no_length_of_time(text: str) -> None:
    with pytest.raises(ValueError, match=r"time|negative|ten days"):
        read_duration(text)


def test_temperatures_are_compared_across_their_units() -> None:
    assert read_temperature("212 F") == read_temperature("100 °C")
    assert read_temperature("32,0 °F") == read_temperature("-0")
    assert read_temperature("−5 °C") < read_temperature("24 F")
    assert str(read_temperature("155f")) == "155 °F"


@given(st.integers(0, 864_000))
def test_a_length_of_time_is_told_to_the_second_or_in_whole_units(seconds: int) -> None:
    told = words(Decimal(seconds))
    parts = told.split()
    total = sum(
        int(n) * {"s": 1, "min": 60, "h": 3600}[unit]
        for n, unit in zip(parts[::2], parts[1::2], strict=True)
    )
    assert 0 <= seconds - total < 60


def test_a_pair_is_found_by_its_name() -> None:
    table: HeatTable = tables()["us-frozen-dessert-mix"]
    assert table.pair("155 °F, 30 min") is table.pairs[0]
    assert table.pair("160 °F, 15 min") is None
