"""What is stated of a scale's errors, against the tables of OIML R 76-1."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.domain.test_metrology import published
from weighd.domain.accuracy import Accuracy, AccuracyClass, from_json

D = Decimal


@pytest.mark.parametrize(("given", "expected"), published("r76_mpe"))
@pytest.mark.parametrize("e", ["0.1", "1", "5"])
def test_maximum_permissible_errors_in_service(given: Any, expected: Any, e: str) -> None:
    found = AccuracyClass(given["class"]).error_g(D(given["load_in_e"]) * D(e), D(e))
    assert found == D(expected["in_service_e"]) * D(e)
    assert found == 2 * D(expected["mpe_e"]) * D(e)


@pytest.mark.parametrize(("given", "expected"), published("r76_class"))
def test_which_scales_can_be_of_a_class_and_their_min(given: Any, expected: Any) -> None:
    found = AccuracyClass(given["class"]).least_g(D(given["e_g"]), D(given["max_g"]))
    assert (found is not None) == expected["class_possible"]
    assert found == (None if expected["min_g"] is None else D(expected["min_g"]))


@given(st.sampled_from(list(AccuracyClass)), st.sampled_from(["0.01", "0.1", "1", "5"]))
def test_the_error_grows_at_its_steps_and_nowhere_else(by_class: AccuracyClass, e: str) -> None:
    stated = Accuracy(by_class=by_class, e_g=D(e))
    before = D(0)
    for step in stated.steps_g():
        assert stated.error_g(before + D(e)) == stated.error_g(step) < stated.error_g(step + D(e))
        assert stated.error_g(-step) == stated.error_g(step)
        before = step


def test_nothing_is_assumed() -> None:
    assert Accuracy().error_g(D(5000)) == 0
    assert Accuracy().steps_g() == ()
    assert Accuracy(max_error_g=D("0.3")).error_g(D(1)) == D("0.3")


def test_a_class_without_e_takes_the_interval() -> None:
    assert Accuracy(by_class=AccuracyClass.II).on(D("0.01")).e_g == D("0.01")
    assert Accuracy(by_class=AccuracyClass.II, e_g=D("0.1")).on(D("0.01")).e_g == D("0.1")
    assert Accuracy().on(D("0.01")).e_g is None


@pytest.mark.parametrize(
    "stated",
    [
        Accuracy(),
        Accuracy(D("0.05"), D("0.3"), creep_g=D("0.02")),
        Accuracy(by_class=AccuracyClass.IIII, e_g=D(5)),
    ],
)
def test_a_record_keeps_it(stated: Accuracy) -> None:
    assert from_json(stated.as_json()) == stated


def test_a_record_from_before_had_only_repeatability() -> None:
    assert from_json({"driver": "serial", "repeatability_g": "0.05"}) == Accuracy(D("0.05"))
    for wrong in (
        {"accuracy_class": "V"},
        {"accuracy_class": "II"},
        {"accuracy_class": "II", "verification_interval_g": "0"},
        {"creep_g": "a lot"},
    ):
        with pytest.raises(ValueError, match=r"class|number|V"):
            from_json(wrong)
