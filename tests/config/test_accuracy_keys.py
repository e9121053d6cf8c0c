"""What can be stated of a scale's errors: read, contradicted by its plate, and carried along."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from weighd import config
from weighd.domain.accuracy import Accuracy, AccuracyClass
from weighd.domain.errors import ConfigError
from weighd.main.drivers import session_decoder
from weighd.main.plugging import plug
from weighd.station.replay import setup

D = Decimal


def stated(keys: str) -> Accuracy:
    return config.parse(f"[scales.bench]\n{keys}").scales["bench"].accuracy


def test_nothing_is_stated_of_a_scale_by_itself() -> None:
    assert stated("interval_g = '0.1'\nmax_g = 6000") == Accuracy()


def test_figures_are_read_and_e_is_d_where_it_is_not_given() -> None:
    assert stated("max_error_g = 0.3\ncreep_g = '0.05'\nrepeatability_g = 0.02") == Accuracy(
        D("0.02"), D("0.3"), creep_g=D("0.05")
    )
    assert stated("accuracy_class = 'III'\ninterval_g = 1\nmax_g = 6000") == Accuracy(
        by_class=AccuracyClass.III, e_g=D(1)
    )
    fine = "accuracy_class = 'II'\ninterval_g = '0.01'\nverification_interval_g = '0.1'"
    assert stated(fine).e_g == D("0.1")
    assert stated("accuracy_class = 'II'").e_g is None  # until the scale is heard


@pytest.mark.parametrize(
    ("keys", "line", "said"),
    [
        ("accuracy_class = 'V'", 2, '"I", "II", "III" or "IIII"'),
        ("creep_g = '-1'", 2, "not a number of grams"),
        ("verification_interval_g = 1", 2, "belongs to accuracy_class"),
        ("accuracy_class = 'II'\nmax_error_g = 1", 3, "cannot stand beside accuracy_class"),
        ("accuracy_class = 'II'\nverification_interval_g = 0", 3, "above zero"),
        # Table 3: n = 15000 is more than a class III scale may have.
        (
            "interval_g = '0.1'\nmax_g = 1500\naccuracy_class = 'III'",
            4,
            "no scale of class III has e = 0.1 g and Max = 1500 g",
        ),
    ],
)
def test_what_does_not_go_together_is_named_with_its_line(keys: str, line: int, said: str) -> None:
    with pytest.raises(ConfigError) as caught:
        stated(keys)
    assert f"line {line}, scales.bench." in caught.value.where
    assert said in caught.value.message


@pytest.mark.parametrize(
    "keys",
    [
        "",
        "max_error_g = '0.3'\ncreep_g = '0.05'\nrepeatability_g = '0.02'",
        "accuracy_class = 'III'\ninterval_g = '1'\nmax_g = '6000'\nmin_g = '20'",
    ],
)
def test_a_recorded_session_carries_them(keys: str) -> None:
    """What the header of a recording holds gives the same scale when it is replayed."""
    text = f"[scales.bench]\ndriver = 'serial'\nport = '/dev/nowhere'\n{keys}"
    [one] = plug(config.parse(text, Path("weighd.toml")))
    again = setup("bench", one.settings, session_decoder)
    assert again.accuracy == one.setup.accuracy
    assert (again.min_g, again.max_g) == (one.setup.min_g, one.setup.max_g)
    assert again.interval_g == one.setup.interval_g
