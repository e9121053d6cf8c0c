"""A head in digits: its check digits, and what becomes of a slip of the pen."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.errors import OperatorError
from weighd.domain.short_head import check_digits, read_short_head, short_head

KITCHEN = short_head("kitchen", 1234, "ab" * 32)


def test_the_check_digits_are_those_of_the_standard() -> None:
    """ISO/IEC 7064, MOD 97-10: 794 gets 44 (its own example, from memory). The same scheme is in
    an IBAN (ISO 13616), whose letters count from 10 and whose first four signs go to the end: the
    usual specimen GB82 WEST 1234 5698 7654 32 (from memory)."""
    assert check_digits("794") == "44"
    bank = "".join(str(int(one, 36)) for one in "WEST12345698765432GB")
    assert check_digits(bank) == "82"


def test_it_is_read_as_it_was_copied_down() -> None:
    text = str(KITCHEN)
    assert len(text.replace(" ", "")) == 4 + 30 + 2
    for written in (text, text.replace(" ", ""), text.replace(" ", "-"), f" {text} \n"):
        assert read_short_head(written) == KITCHEN


@given(st.text("0123456789", min_size=1, max_size=6), st.binary(min_size=32, max_size=32))
def test_any_head_has_one_and_it_reads_back(station: str, root: bytes) -> None:
    made = short_head(station, 7, root.hex())
    assert read_short_head(str(made)) == made
    assert made != short_head(station + "x", 7, root.hex())
    assert made.digits != short_head(station, 8, root.hex()).digits


@given(st.data())
def test_one_wrong_digit_or_two_changed_about_are_always_told(data: st.DataObject) -> None:
    """What MOD 97-10 is for (ISO/IEC 7064, from memory): single errors and neighbours swapped."""
    digits = str(KITCHEN).replace(" ", "")
    at = data.draw(st.integers(0, len(digits) - 1))
    wrong = data.draw(st.sampled_from([one for one in "0123456789" if one != digits[at]]))
    slips = [digits[:at] + wrong + digits[at + 1 :], digits[:at] + digits[at + 1 :] + "0"]
    if at + 1 < len(digits) and digits[at] != digits[at + 1]:
        slips.append(digits[:at] + digits[at + 1] + digits[at] + digits[at + 2 :])
    for one in slips[:1] + slips[2:]:
        with pytest.raises(OperatorError) as caught:
            read_short_head(one)
        assert caught.value.code == "misread"


@pytest.mark.parametrize("text", ["", "12", "kitchen 1234", "1" * 32, "1" * 60, str(KITCHEN)[:-3]])
def test_what_is_none_is_told(text: str) -> None:
    with pytest.raises(OperatorError) as caught:
        read_short_head(text)
    assert caught.value.code in ("not-a-head", "misread")
    assert caught.value.remedy


def test_a_head_of_no_entries_is_none_though_its_check_digits_fit() -> None:
    digits = str(KITCHEN).replace(" ", "")[:-2]
    none = "0" + digits[1:]
    with pytest.raises(OperatorError, match="no entries"):
        read_short_head(none + check_digits(none))
