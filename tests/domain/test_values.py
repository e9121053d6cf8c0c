"""Small values that other modules pass about, each by its law."""

from __future__ import annotations

from dataclasses import fields, replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.domain.process_world import World
from weighd.domain import errors
from weighd.domain.check_standing import Last, Outcome, Past
from weighd.domain.errors import OperatorError, RecordError, WeighdError
from weighd.domain.following import check_made, not_recordable
from weighd.domain.formula import Addition, Formula, Ingredient, read_tolerance
from weighd.domain.scale_steps import to_steps
from weighd.domain.temperature import CELSIUS, FAHRENHEIT, Temperature
from weighd.domain.verify_report import Report

# --- errors ---------------------------------------------------------------------------------------

KINDS = [one for one in vars(errors).values() if isinstance(one, type) and one is not WeighdError]


@pytest.mark.parametrize("kind", KINDS)
def test_an_error_says_where_what_and_what_to_do_next(kind: type[WeighdError]) -> None:
    assert issubclass(kind, WeighdError)
    whole = kind("a-code", "It fell.", where="batch 7", remedy="Pick it up.")
    assert (whole.code, str(whole)) == ("a-code", "batch 7: It fell. Pick it up.")
    assert str(kind("a-code", "It fell.")) == "It fell."
    assert str(kind("a-code", "It fell.", where="batch 7")) == "batch 7: It fell."
    assert str(kind("a-code", "It fell.", remedy="Pick it up.")) == "It fell. Pick it up."


def test_an_error_of_nobody_s_is_none() -> None:
    with pytest.raises(TypeError, match="whose fault"):
        WeighdError("a-code", "It fell.")


# --- what does not follow -------------------------------------------------------------------------


def test_the_first_field_by_name_that_is_another_is_named() -> None:
    entry = World().entries[0]
    check_made(entry, {"a": 1, "b": 2}, {"b": 2, "a": 1}, "it gives")
    for kept, made, named in (
        ({"a": 1, "b": 2}, {"a": 1, "b": 3}, "b is 2, where it gives 3"),
        ({"b": 1, "a": 1}, {"b": 2, "a": 2}, "a is 1, where it gives 2"),
        ({"a": 1}, {"a": 1, "b": 2}, "b is None, where it gives 2"),
        ({"a": 1, "b": 2}, {"a": 1}, "b is 2, where it gives None"),
    ):
        with pytest.raises(RecordError) as caught:
            check_made(entry, kept, made, "it gives")
        assert (caught.value.code, named in caught.value.message) == ("does-not-follow", True)
        assert "1" in caught.value.where


def test_what_would_have_been_refused_is_told_with_the_refusal() -> None:
    error = not_recordable(World().entries[0], OperatorError("x", "The pan is full."))
    assert (error.code, "The pan is full." in error.message) == ("does-not-follow", True)


# --- reports --------------------------------------------------------------------------------------

COUNTS = [one.name for one in fields(Report) if one.type == "int"]
REPORTS = st.builds(
    lambda numbers, unread, signed, archives: Report(
        **dict(zip(COUNTS, numbers, strict=True)),
        unread=unread,
        signed=signed,
        archives=archives,
    ),
    st.lists(st.integers(0, 99), min_size=len(COUNTS), max_size=len(COUNTS)),
    st.sets(st.sampled_from("abc")),
    st.dictionaries(st.sampled_from("kl"), st.integers(1, 9)),
    st.dictionaries(st.sampled_from("xy"), st.sampled_from("12")),
)


@given(REPORTS, REPORTS)
def test_two_verifications_together_have_what_both_have(one: Report, other: Report) -> None:
    both = one.and_also(other)
    for name in COUNTS:
        assert getattr(both, name) == getattr(one, name) + getattr(other, name)
    assert both.unread == one.unread | other.unread
    assert set(both.signed) == {*one.signed, *other.signed}
    assert sum(both.signed.values()) == sum(one.signed.values()) + sum(other.signed.values())
    assert set(both.archives) == {*one.archives, *other.archives}
    assert all(both.archives[key] == other.archives[key] for key in other.archives)
    assert both.under is None


# --- checks ---------------------------------------------------------------------------------------


def test_the_newest_check_and_the_newest_that_passed_are_kept() -> None:
    def last(n: int, outcome: Outcome) -> Last:
        return Last(n, f"h{n}", "2026-03-01T09:00:00.000Z", outcome)

    bad, good = (
        next(one for one in Outcome if (one is Outcome.PASS) is it) for it in (False, True)
    )
    first, second, third = last(1, good), last(2, bad), last(3, good)
    past = Past()
    assert (past.last, past.good) == (None, None)
    past = past.then(first)
    assert (past.last, past.good) == (first, first)
    past = past.then(second)
    assert (past.last, past.good) == (second, first)
    past = past.then(third)
    assert (past.last, past.good) == (third, third)
    assert Past().then(second).good is None


# --- temperatures ---------------------------------------------------------------------------------


@given(st.integers(-2000, 3000), st.sampled_from([CELSIUS, FAHRENHEIT]))
def test_rounded_up_reaches_it_and_rounded_down_does_not_pass_it(tenths: int, unit: str) -> None:
    """Exact: °F = 9/5 °C + 32."""
    one = Temperature(Decimal(tenths) / 10, unit)

    def read(text: str) -> Temperature:
        number, named = text.split(" ")
        return Temperature(Decimal(number), CELSIUS if "C" in named else FAHRENHEIT)

    step = Temperature(one.value + Decimal("0.2"), unit).ninths - one.ninths
    for low, high in (
        (one.celsius_at_most(), one.celsius_at_least()),
        (one.fahrenheit_at_most(), one.fahrenheit_at_least()),
    ):
        assert read(low).ninths <= one.ninths <= read(high).ninths
        assert read(high).ninths - read(low).ninths <= step


# --- steps of scales ------------------------------------------------------------------------------


def test_an_addition_without_a_scale_keeps_its_amount() -> None:
    one = Addition(Ingredient("a", "A"), Decimal("123.4"), read_tolerance("10 %"))
    whole = Formula("it", "It", (one, replace(one, ingredient=Ingredient("b", "B"))))
    stepped, told = to_steps(whole, {2: "bench"}, {"bench": Decimal(5)})
    assert [it.target_g for it in stepped.additions] == [Decimal("123.4"), Decimal(125)]
    assert [(it.n, it.scale, it.before_g, it.after_g, it.kept) for it in told] == [
        (2, "bench", Decimal("123.4"), Decimal(125), False)
    ]
    assert told[0].as_json() == {
        "n": 2,
        "scale": "bench",
        "interval_g": "5",
        "exact_g": "123.4",
        "target_g": "125",
    }
