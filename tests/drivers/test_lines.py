"""Every print a scale may make: whole, byte by byte, after half a line, before rubbish."""

from __future__ import annotations

import pytest

from tests.drivers.line_cases import (
    BODY,
    BYTE_BEFORE_END,
    CASES,
    FIXED,
    HEX_BEFORE_END,
    IMPLIED,
    PLAIN,
    Case,
    own,
    said,
    xor,
)
from weighd.domain.mass import Unit
from weighd_drivers.lines import KEPT, LineDecoder
from weighd_drivers.shape_text import named, shipped
from weighd_drivers.shapes import Check, Frame, WireShape

each_case = pytest.mark.parametrize("case", CASES, ids=str)


@each_case
def test_a_whole_report_is_read(case: Case) -> None:
    decoder = LineDecoder(case.value(), joined=True)
    readings = decoder.feed(1.5, case.report * 3)
    assert [said(one) for one in readings] == [case.says()] * 3
    assert {one.t for one in readings} == {1.5}
    assert decoder.rejected == 0


@each_case
def test_byte_by_byte_it_reads_the_same(case: Case) -> None:
    whole = LineDecoder(case.value(), joined=True).feed(0, case.report * 3)
    decoder = LineDecoder(case.value(), joined=True)
    bytewise = [one for code in case.report * 3 for one in decoder.feed(0, bytes([code]))]
    assert bytewise == list(whole)


@each_case
def test_its_raw_bytes_alone_read_as_the_same_grams(case: Case) -> None:
    (reading,) = LineDecoder(case.value(), joined=True).feed(0, case.report)
    (again,) = LineDecoder(case.value(), joined=True).feed(9, reading.raw)
    assert (again.grams, again.raw) == (reading.grams, reading.raw)
    assert reading.raw in case.report


@each_case
def test_opened_in_the_middle_of_a_report_only_whole_ones_are_read(case: Case) -> None:
    for cut in range(1, len(case.report)):
        decoder = LineDecoder(case.value())
        readings = decoder.feed(0, case.report[cut:] + case.report * 2)
        # Cut within CR LF, the first line cannot be told from a tail.
        fewest = 1 if case.report[cut:] == b"\n" else 2
        assert fewest <= len(readings) <= 2, cut
        assert {said(one) for one in readings} == {case.says()}, cut
        assert decoder.rejected == 0, cut


@each_case
def test_after_a_loss_half_a_report_is_forgotten(case: Case) -> None:
    decoder = LineDecoder(case.value(), joined=True)
    decoder.feed(0, case.report + case.report[:-2])
    decoder.reset()
    readings = decoder.feed(0, case.report[-2:] + case.report * 2)
    assert [said(one) for one in readings] == [case.says()] * 2


@each_case
def test_rubbish_between_reports_is_counted_and_never_a_weight(case: Case) -> None:
    decoder = LineDecoder(case.value(), joined=True)
    readings = decoder.feed(0, case.report + b"??\r\n" + case.report + case.report)
    assert all(said(one) == case.says() for one in readings)
    assert len(readings) >= 2
    assert decoder.rejected >= 1
    assert b"?" in decoder.last_rejected


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("digits-unit", b"12.3 gr\r"),  # gram or grain: not told apart, so not read
        ("digits-unit", b"12.3 xy\r"),
        ("digits-unit", b"1 2.3 g\r"),
        ("digits-unit", b"12.3.4 g\r"),
        ("digits-unit", b"12. g\r"),
        ("digits-unit", b" g\r"),
        ("digits-unit", b"12.3 g x\r"),
        ("digits-unit", b"--12.3 g\r"),
        ("digits-unit", b"1,234.5 g\r"),
        ("digits", b"1e3\r"),
        ("digits", b"1_000\r"),
        ("digits", b"\xb2\r"),
        ("digits", "٣\r".encode()),
        ("status-digits-unit", b"XX,+ 12.3 g\r"),
        ("status-digits-unit", b"ST,+ 12.3\r"),
        ("status-digits-unit", b"ST,+ ------ g\r"[:5] + b"\r"),
        ("unit-when-stable", b"+  1.2 kg\r"),
        ("scp-0499", b"\n?\r"),
        ("scp-0499", b"\n 1T       5.025lb \r"),  # a tare value is no weight on the scale
        ("scp-0499", b"\n 4G       5.025lb \r"),
        ("scp-0499", b"\n 1G       5.025lb\r"),
        ("scp-0499", b"\n 1G      5.025lb \r"),
        ("scp-0499", b"\n 1G     5.0 25lb \r"),
        ("framed-xor", b"\x02S+   125.0 g \x03\x15"),
        ("framed-xor", b"\x02S+   125.1 g \x03\x14"),
    ],
)
def test_what_does_not_wholly_fit_is_refused(name: str, line: bytes) -> None:
    told: list[str] = []
    decoder = LineDecoder(
        shipped()[name], joined=True, on_reject=lambda _offset, _data, why: told.append(why)
    )
    assert decoder.feed(0, line) == []
    assert (decoder.rejected, len(told)) == (1, 1)
    assert decoder.last_rejected == line


def test_a_tail_that_reads_as_another_weight_is_dropped() -> None:
    """ "1234.5" opened late is "4.5": a misread byte must not become a weight."""
    told: list[tuple[int, bytes, str]] = []
    decoder = LineDecoder(shipped()["digits"], on_reject=lambda *one: told.append(one))
    assert [one.shown for one in decoder.feed(0, b"4.5\r\n 1234.5\r\n")] != []
    assert told == [(0, b"4.5\r", "the first line may be the tail of a report")]
    assert decoder.rejected == 0


def test_the_end_of_a_line_before_the_first_is_no_part_of_it() -> None:
    """Opened within CR LF: with the CR the first line would be as long as the next one."""
    told: list[bytes] = []
    decoder = LineDecoder(IMPLIED, on_reject=lambda _offset, data, _why: told.append(data))
    assert [one.raw for one in decoder.feed(0, b"\r250 -\r\n 250 -\r\n")] == [b" 250 -\r\n"]
    assert told == [b"\r250 -\r\n"]
    decoder = LineDecoder(IMPLIED)
    raw = [one.raw for one in decoder.feed(0, b"\r250 -\r\n251 -\r\n")]
    assert raw == [b"250 -\r\n", b"251 -\r\n"]


def test_a_first_line_as_long_as_the_next_is_no_tail_and_is_read_with_its_time() -> None:
    decoder = LineDecoder(shipped()["digits-unit"])
    assert decoder.feed(1.0, b"  123.4 g\r\n") == []
    readings = decoder.feed(2.0, b"  -23.5 g\r\n")
    assert [(one.t, str(one.shown)) for one in readings] == [(1.0, "123.4"), (2.0, "-23.5")]


@pytest.mark.parametrize("second", [b"999.9 g\r\n", b"  12.5 g\r\n", b"rubbish\r\n"])
def test_a_first_line_that_may_be_a_tail_is_dropped(second: bytes) -> None:
    """The first is 1000.1 cut short, in a print without padding."""
    told: list[int] = []
    decoder = LineDecoder(
        shipped()["digits-unit"], on_reject=lambda offset, _data, _why: told.append(offset)
    )
    readings = decoder.feed(0, b"000.1 g\r\n" + second + b"1.5 g\r\n")
    assert "0.1" not in [format(one.shown or 0, "f") for one in readings]
    assert told[0] == 0


def test_a_first_line_that_cannot_be_a_tail_is_read() -> None:
    decoder = LineDecoder(shipped()["status-sign-digits-unit"])
    assert len(decoder.feed(0, b"ST,+   1234.5 g\r\n")) == 1


@pytest.mark.parametrize("frame", [b"%s\r\n", b"\x02%s", b"%s"])
def test_an_endless_line_is_discarded_once_and_memory_stays_small(frame: bytes) -> None:
    shape = named("framed" if frame[:1] == b"\x02" else "digits-unit")
    decoder = LineDecoder(shape, joined=True)
    for _ in range(1000):
        assert decoder.feed(0, b"9" * 100) == []
        assert len(decoder._rest) < 600
    assert decoder.rejected == 1
    assert len(decoder.last_rejected) <= KEPT
    good = b"\x02S+   125.0 g \x03" if frame[:1] == b"\x02" else b"\r12.5 g\r"
    assert len(decoder.feed(0, good)) == 1


def test_a_long_line_is_counted_once_however_it_is_cut() -> None:
    stream = b"9" * 300 + b"\r\n1.5 g\r\n"
    whole = LineDecoder(shipped()["digits-unit"], joined=True)
    cut = LineDecoder(shipped()["digits-unit"], joined=True)
    assert len(whole.feed(0, stream)) == 1
    assert sum(len(cut.feed(0, stream[n : n + 7])) for n in range(0, len(stream), 7)) == 1
    assert whole.rejected == cut.rejected == 1


def test_a_check_byte_that_looks_like_the_end_is_still_a_check_byte() -> None:
    """The report is sought whose sum is a carriage return."""
    shape = own(Frame(end="CR", length=10), Check(kind="sum", place="after data"))
    body = next(b"S+%6d g" % n for n in range(999_999) if sum(b"S+%6d g" % n) % 256 == 0x0D)
    report = body + b"\x0d\r"
    decoder = LineDecoder(shape, joined=True)
    readings = [one for code in report * 2 for one in decoder.feed(0, bytes([code]))]
    assert [one.raw for one in readings] == [report] * 2
    assert decoder.rejected == 0


@pytest.mark.parametrize(
    ("shape", "report"),
    [
        (HEX_BEFORE_END, BODY + b"%02X\r\n" % ((sum(BODY) + 1) % 256)),
        (BYTE_BEFORE_END, BODY + bytes([xor(BODY) ^ 1]) + b"\r"),
        (own(Frame(start="STX", end="ETX"), Check(kind="xor")), b"\x02" + BODY + b"\x03\x00"),
    ],
)
def test_a_wrong_check_is_refused(shape: WireShape, report: bytes) -> None:
    decoder = LineDecoder(shape, joined=True)
    assert decoder.feed(0, report) == []
    assert decoder.rejected == 1


def test_a_report_cut_off_by_the_next_costs_one() -> None:
    decoder = LineDecoder(shipped()["framed"], joined=True)
    readings = decoder.feed(0, b"\x02S+  12\x02S+   125.0 g \x03\x02S+   125.0 g \x03")
    assert len(readings) == 2
    assert decoder.rejected == 1


def test_a_fixed_length_without_an_end_finds_its_way_back() -> None:
    decoder = LineDecoder(FIXED, joined=True)
    readings = decoder.feed(0, b"\x02S+ 12x.0 g" + b"\x02S+ 1" + (b"\x02" + BODY) * 3)
    assert len(readings) >= 2
    assert {said(one)[0] for one in readings} == {"125.0"}


def test_the_implied_unit_may_be_set() -> None:
    decoder = LineDecoder(named("digits", Unit.KG), joined=True)
    assert decoder.spec == {"shape": "digits", "unit": "kg"}
    assert [str(one.grams) for one in decoder.feed(0, b"1.250\r\n")] == ["1250.000"]
    assert LineDecoder(named("digits-unit", Unit.KG)).spec == {"shape": "digits-unit"}


def test_offsets_of_what_was_not_read_are_of_the_stream() -> None:
    told: list[int] = []
    decoder = LineDecoder(
        PLAIN, joined=True, on_reject=lambda offset, _data, _why: told.append(offset)
    )
    stream = BODY + b"\r" + b"bad\r" + BODY + b"\r" + b"worse\r" + b"half"
    for n in range(0, len(stream), 3):
        decoder.feed(0, stream[n : n + 3])
    decoder.end()
    assert told == [11, 26, 32]


@each_case
def test_what_stands_where_is_told_of_each_report(case: Case) -> None:
    decoder = LineDecoder(case.value(), joined=True)
    (reading,) = decoder.feed(0, case.report)
    marks = decoder.marks(reading.raw)
    ends = [0]
    for what, begin, end in marks:
        assert ends[-1] <= begin < end <= len(reading.raw), what  # in order, and none over another
        ends.append(end)
    digits = "".join(
        bytes(code & 0x7F for code in reading.raw[b:e]).decode()
        for what, b, e in marks
        if what == "number"
    )
    if case.shown is not None and len([what for what, *_ in marks if what == "number"]) == 1:
        told = "".join(filter(str.isdigit, digits)).lstrip("0")
        assert told.rstrip("0") == "".join(filter(str.isdigit, case.shown)).strip("0")


def test_a_line_is_told_apart_into_word_digits_and_unit() -> None:
    decoder = LineDecoder(named("status-digits-unit"), joined=True)
    (reading,) = decoder.feed(0, b"ST,GS,+  123.4 g\r\n")
    assert [(what, reading.raw[b:e]) for what, b, e in decoder.marks(reading.raw)] == [
        ("status", b"ST,GS"),
        ("number", b"+  123.4"),
        ("unit", b"g"),
    ]
    assert decoder.marks(b"what is this\r\n") == []
