"""Lengths of time as they are written and told."""

from __future__ import annotations

from decimal import Decimal

import pytest

from weighd.domain.duration import read_duration, words


@pytest.mark.parametrize(
    ("text", "unit", "seconds"),
    [
        ("90 min", "", "5400"),
        ("1.5 h", "", "5400"),
        ("1,5 H", "", "5400"),
        (" 25 sec ", "", "25"),
        ("0.125s", "", "0.125"),
        ("4", "h", "14400"),
        ("4 s", "h", "4"),
        ("240 h", "", "864000"),  # ten days, and no more
        ("0 s", "", "0"),
    ],
)
def test_a_length_of_time_is_read(text: str, unit: str, seconds: str) -> None:
    assert read_duration(text, unit) == Decimal(seconds)


LONG = "a long while, until it is cold all through"


@pytest.mark.parametrize(
    ("text", "unit", "says"),
    [
        ("-4 h", "", '"-4 h" is negative; a time is not'),
        ("−4 h", "", '"−4 h" is negative; a time is not'),
        ("4.1234 h", "", '"4.1234 h" is not a length of time; write it like "90 min"'),
        (LONG, "", f'"{LONG[:40]}" is not a length of time; write it like "90 min"'),
        ("4", "", 'the time "4" has no unit; write it like "90 min"'),
        ("4", "weeks", '"weeks" is no unit of time; write it like "90 min"'),
        ("240.001 h", "", '"240.001 h" is longer than ten days'),
        ("\u017f 4", "", '"\u017f 4" is not a length of time; write it like "90 min"'),
    ],
)
def test_what_is_none_is_told_in_its_own_words(text: str, unit: str, says: str) -> None:
    with pytest.raises(ValueError) as caught:  # noqa: PT011 -- the words are compared
        read_duration(text, unit)
    assert str(caught.value) == says


@pytest.mark.parametrize(
    ("seconds", "told"),
    [
        ("0", "0 s"),
        ("0.5", "0.5 s"),
        ("60", "1 min"),
        ("119", "119 s"),
        ("119.5", "119.5 s"),
        ("121", "2 min 1 s"),
        ("3600", "1 h"),
        ("3601", "1 h"),
        ("5400", "90 min"),
        ("5401", "1 h 30 min"),
        ("7199.9", "1 h 59 min"),
        ("86400", "24 h"),
        ("179.9", "2 min 59 s"),
        ("120.5", "2 min"),
    ],
)
def test_it_is_told_in_the_largest_unit_that_is_exact_or_nearly_so(seconds: str, told: str) -> None:
    assert words(Decimal(seconds)) == told
