"""Which shape it is: chosen by a rule that is written down, and then kept."""

from __future__ import annotations

import pytest

from tests.drivers.line_cases import CASES, said
from weighd.domain.errors import ScaleError
from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd_drivers.auto import ENOUGH, PATIENCE, AutoDecoder, decoder_for, redecoder_for
from weighd_drivers.shape_text import shape_names


@pytest.mark.parametrize("name", shape_names())
def test_every_shipped_shape_is_recognised_from_its_own_prints(name: str) -> None:
    mine = [one for one in CASES if one.shape == name]
    assert mine, "a shape without a case"
    stream = b"".join(one.report for one in mine) * 30
    decoder = AutoDecoder(joined=True)
    readings = [one for code in stream for one in decoder.feed(0, bytes([code]))]
    assert decoder.spec["shape"] == name
    assert [said(one) for one in readings] == [one.says() for one in mine] * 30
    assert decoder.rejected == 0


def test_no_reading_is_lost_while_it_is_open_and_each_keeps_its_time() -> None:
    decoder = AutoDecoder()
    readings: list[Reading] = []
    for n in range(ENOUGH + 3):
        readings += decoder.feed(float(n), b"ST,+%9.1f g\r\n" % n)
    assert [(one.t, int(one.shown or 0)) for one in readings] == [(n, n) for n in range(ENOUGH + 3)]
    assert decoder.spec == {"shape": "status-sign-digits-unit"}


def test_of_several_that_fit_the_one_that_says_most_is_taken() -> None:
    decoder = AutoDecoder(joined=True)
    decoder.feed(0, b"+  123.4 g\r\n" * ENOUGH)
    assert decoder.spec == {"shape": "digits-unit"}


def test_one_that_prints_its_unit_only_when_stable_takes_over_from_one_that_always_does() -> None:
    decoder = AutoDecoder(joined=True)
    first = list(decoder.feed(0, b"  1.20 kg\r\n" * 8))
    assert decoder.spec == {"shape": "digits-unit"}
    later = list(decoder.feed(1, b"  1.31\r\n  1.42\r\n  1.44 kg\r\n"))
    assert decoder.spec == {"shape": "unit-when-stable", "unit": "kg"}
    assert [one.stable for one in later] == [False, False, True]
    assert decoder.rejected == 0
    for one in [*first, *later]:
        (again,) = redecoder_for(decoder.spec).feed(0, one.raw)
        assert again.grams == one.grams


def test_digits_wait_for_a_unit_that_may_yet_be_shown() -> None:
    decoder = AutoDecoder(joined=True)
    assert decoder.feed(0, b" 1.2\r\n" * (PATIENCE - 1)) == []
    readings = decoder.feed(0, b" 1.2 lb\r\n" * ENOUGH)
    assert len(readings) == PATIENCE - 1 + ENOUGH
    assert {one.unit for one in readings} == {Unit.LB}


def test_digits_alone_are_in_the_implied_unit() -> None:
    decoder = AutoDecoder(Unit.KG, joined=True)
    readings = decoder.feed(0, b" 1.2\r\n" * PATIENCE)
    assert decoder.spec == {"shape": "digits", "unit": "kg"}
    assert len(readings) == PATIENCE
    assert readings[0].grams == 1200


def test_a_shape_once_chosen_stays() -> None:
    decoder = AutoDecoder(joined=True)
    decoder.feed(0, b"ST,+    123.4 g\r\n" * ENOUGH)
    decoder.reset()
    assert decoder.feed(0, b"  1.2 kg\r\n" * 40) == []
    assert decoder.spec == {"shape": "status-sign-digits-unit"}
    assert decoder.rejected == 39  # the first line after a loss may be a tail


def test_damaged_lines_before_the_choice_only_put_it_off() -> None:
    decoder = AutoDecoder(joined=True)
    stream = (b"ST,+    123.4 g\r\n" * 3 + b"S\xff,+  ?\r\n") * 2 + b"ST,+    123.4 g\r\n" * ENOUGH
    readings = decoder.feed(0, stream)
    assert len(readings) == 6 + ENOUGH
    assert decoder.rejected == 2


def test_a_few_lines_are_enough_when_no_more_will_come() -> None:
    told: list[str] = []
    decoder = AutoDecoder(joined=True, on_reject=lambda *one: told.append(one[2]))
    assert decoder.feed(0, b"12.5 g\r\n") == []
    assert [str(one.grams) for one in decoder.end()] == ["12.5"]
    assert told == []


def test_a_damaged_last_line_costs_no_other() -> None:
    told: list[int] = []
    decoder = AutoDecoder(on_reject=lambda *one: told.append(one[0]))
    assert decoder.feed(0, b"3.5 g\r\n  123.5 g\r\nxx\r\n") == []
    assert [str(one.grams) for one in decoder.end()] == ["123.5"]
    assert told == [0, 18]


def test_what_fits_no_shape_is_told_and_counted() -> None:
    told: list[int] = []
    decoder = AutoDecoder(joined=True, on_reject=lambda *one: told.append(one[0]))
    assert decoder.feed(0, b"hello\r\nscale\r\n" * 50) == []
    assert decoder.spec == {"shape": "auto"}
    assert decoder.rejected == 100
    assert list(decoder.end()) == []
    assert told[:2] == [0, 7]


def test_memory_is_bounded_while_nothing_is_chosen() -> None:
    decoder = AutoDecoder(joined=True)
    for _ in range(500):
        # Bare digits and a word in turn: no run grows long enough.
        decoder.feed(0, b" 1.2\r\nword\r\n")
    assert all(len(one.pending) <= 256 and len(one.untold) <= 256 for one in decoder._candidates)


@pytest.mark.parametrize("given", [None, "auto"])
def test_without_a_name_the_shape_is_worked_out(given: str | None) -> None:
    assert isinstance(decoder_for(given), AutoDecoder)


def test_an_unknown_name_is_refused_with_those_that_are_known() -> None:
    with pytest.raises(ScaleError) as raised:
        decoder_for("no-such-shape")
    assert raised.value.code == "unknown-shape"
    assert "digits-unit" in str(raised.value)


@pytest.mark.parametrize("covers_end", [False, True])
def test_a_check_character_that_a_known_shape_has_no_place_for_is_found_in_a_short_stream(
    covers_end: bool,
) -> None:
    stream = b""
    for n in range(40):
        text = b"%c+%8.1f g" % (b"SM"[n % 3 > 0], 12.3 + 1.7 * n)
        check = 0x03 if covers_end else 0
        for code in text:
            check ^= code
        stream += b"\x02" + text + b"\x03" + bytes([check])
    decoder = AutoDecoder(joined=True, patient=True)
    readings = [*decoder.feed(0, stream), *decoder.end()]
    assert [float(one.grams or 0) for one in readings] == [
        pytest.approx(12.3 + 1.7 * n) for n in range(40)
    ]
    assert decoder.rejected == 0
    # With the check in the shape, one digit changed is no weight.
    damaged = bytearray(stream[:15])
    damaged[9] ^= 0x01
    again = redecoder_for(decoder.spec)
    assert again.feed(0, bytes(damaged)) == []
