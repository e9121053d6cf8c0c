"""Reports of USB's scale class against published values, and against anything else."""

from __future__ import annotations

import json
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.drivers.hid_descriptors import CHECKS, LISTED, PUBLISHED, SIZES
from weighd.domain.errors import ScaleError
from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd_drivers.hid import DESCRIPTOR, REPORT, HidDecoder, framed, redecoder_for
from weighd_drivers.hid_descriptor import DescriptorError, parse, report_bytes
from weighd_drivers.hid_facts import max_grams, zero_command
from weighd_drivers.hid_layout import UNITS, weight_report

REPORTS = [one for name, one in CHECKS.items() if name.startswith("hid_report3")]
UNIT_CHECKS = [one for name, one in CHECKS.items() if name.startswith("hid_unit")]


def opened(descriptor: bytes = PUBLISHED) -> HidDecoder:
    """A decoder that has seen the descriptor and the report that is dropped after it."""
    decoder = HidDecoder()
    decoder.feed(0, framed(DESCRIPTOR, descriptor))
    decoder.feed(0, framed(REPORT, bytes.fromhex("030402000200")))
    return decoder


@pytest.mark.parametrize("check", REPORTS, ids=lambda one: str(one["name"]))
def test_a_report_reads_as_the_usage_tables_have_it(check: dict[str, Any]) -> None:
    """HID Point of Sale Usage Tables 1.02; what was seen and what computed, the table says."""
    decoder, expected = opened(), check["expected"]
    readings = decoder.feed(2, framed(REPORT, bytes.fromhex(check["inputs"]["hex"])))
    status = expected.get("status", 4)
    if status == 9:
        assert readings == []
        assert decoder.rejected == 1
        return
    (reading,) = readings
    assert reading.over is (status == 6)
    assert (reading.fault == "under") is (status == 5)
    if status in {5, 6}:
        assert reading.grams is None
        return
    assert reading.shown == Decimal(expected["value"])
    assert reading.stable is (status != 3)


@pytest.mark.parametrize("check", UNIT_CHECKS, ids=lambda one: str(one["expected"]["unit"]))
def test_units_are_those_of_the_usage_tables(check: dict[str, Any]) -> None:
    """Codes as seen in HUT; factors exact by definition (NIST SP 811, from memory)."""
    decoder = opened()
    code = check["inputs"]["unit_code"]
    readings = decoder.feed(0, framed(REPORT, bytes([3, 4, code, 0, 1, 0])))
    kilograms = check["expected"]["kg"]
    if kilograms is None:  # tael, avoirdupois ton: no single definition
        assert readings == []
        assert decoder.rejected == 1
    else:
        assert [one.grams for one in readings] == [Decimal(kilograms) * 1000]


def test_no_unit_but_those_of_the_tables_is_read() -> None:
    assert len(UNITS) == sum(one["expected"]["kg"] is not None for one in UNIT_CHECKS)
    for code in (0, 13, 200):
        decoder = opened()
        assert decoder.feed(0, framed(REPORT, bytes([3, 4, code, 0, 1, 0]))) == []


def test_the_published_descriptor_has_the_published_sizes_and_zero_command() -> None:
    fields, expected = parse(PUBLISHED), SIZES["expected"]
    for name, size in expected["payload_bytes"].items():
        kind, report = name.split("_")
        assert report_bytes(fields, kind, int(report)) == size
    command = zero_command(fields)
    assert command is not None
    assert bytes([command[0]]) + command[1] == bytes.fromhex(expected["zero_command_output_report"])


def test_the_weight_limit_is_max() -> None:
    limit = weight_report(parse(PUBLISHED), "feature")
    assert max_grams(limit, bytes.fromhex("0502007017")) == 6000
    assert max_grams(limit, bytes.fromhex("0503ff3c00")) == 6000
    for nothing in ("", "05", "0502000000", "0509007017", "0602007017"):
        assert max_grams(limit, bytes.fromhex(nothing)) is None


@pytest.mark.parametrize(
    ("code", "fault"),
    [(1, "fault"), (5, "under"), (7, "requires calibration"), (8, "requires rezeroing")],
)
def test_a_status_without_a_number_is_told_as_it_is(code: int, fault: str) -> None:
    (reading,) = opened().feed(0, framed(REPORT, bytes([3, code, 2, 0, 9, 0])))
    assert (reading.grams, reading.fault, reading.over) == (None, fault, False)


@pytest.mark.parametrize("code", [0, 9, 0x10, 0x11, 255])
def test_a_status_without_a_meaning_is_refused(code: int) -> None:
    decoder = opened()
    assert decoder.feed(0, framed(REPORT, bytes([3, code, 2, 0, 9, 0]))) == []
    assert decoder.rejected == 1


def test_where_things_stand_is_taken_from_the_descriptor() -> None:
    decoder = HidDecoder()
    decoder.feed(0, framed(DESCRIPTOR, LISTED))
    decoder.feed(0, framed(REPORT, bytes.fromhex("0000ff0402")))
    (reading,) = decoder.feed(0, framed(REPORT, bytes.fromhex("e204ff0403")))
    assert (reading.grams, reading.unit) == (Decimal("125000.0"), Unit.KG)
    # The unit that this descriptor does not list is none, though the tables have it.
    assert decoder.feed(0, framed(REPORT, bytes.fromhex("e204ff0404"))) == []


def test_the_first_report_after_opening_may_be_old_and_is_dropped() -> None:
    decoder = HidDecoder()
    stream = framed(DESCRIPTOR, PUBLISHED) + framed(REPORT, bytes.fromhex("030402000200")) * 3
    assert len(decoder.feed(0, stream)) == 2
    assert len(decoder.feed(0, stream)) == 2  # opened again
    assert decoder.rejected == 0


def test_a_report_before_any_descriptor_is_refused() -> None:
    decoder = HidDecoder()
    assert decoder.spec == {"report": None}
    assert decoder.feed(0, framed(REPORT, bytes.fromhex("030402000200"))) == []
    assert decoder.rejected == 1


def test_reports_of_another_id_are_passed_over_if_declared() -> None:
    other = bytes.fromhex("85040980750895018102")
    decoder = opened(PUBLISHED[:-1] + other + b"\xc0")
    assert decoder.feed(0, framed(REPORT, bytes.fromhex("0401"))) == []
    assert decoder.rejected == 0
    assert decoder.feed(0, framed(REPORT, bytes.fromhex("0901"))) == []
    assert decoder.rejected == 1


@pytest.mark.parametrize("length", range(8))
def test_only_a_whole_report_is_read(length: int) -> None:
    decoder = opened()
    data = bytes.fromhex("0304020002000000")[:length]
    readings = decoder.feed(0, framed(REPORT, data))
    assert len(readings) == (length >= 6)
    assert decoder.rejected == (0 < length < 6)


def test_bytes_after_a_report_that_are_no_padding_are_refused() -> None:
    decoder = opened()
    assert decoder.feed(0, framed(REPORT, bytes.fromhex("03040200020001"))) == []


@pytest.mark.parametrize("scaling", [11, 127, -11, -127])
def test_a_scaling_that_no_scale_has_is_refused(scaling: int) -> None:
    decoder = opened()
    assert decoder.feed(0, framed(REPORT, bytes([3, 4, 2, scaling & 0xFF, 9, 0]))) == []


def test_a_large_scaling_is_written_out() -> None:
    (reading,) = opened().feed(0, framed(REPORT, bytes([3, 4, 2, 2, 9, 0])))
    assert str(reading.shown) == "900"


@pytest.mark.parametrize("descriptor", [PUBLISHED, LISTED])
def test_raw_bytes_alone_read_again_with_what_the_spec_says(descriptor: bytes) -> None:
    decoder = opened(descriptor)
    body = bytes.fromhex("030402ffe204" if descriptor is PUBLISHED else "e204ff0402")
    for reading in decoder.feed(0, framed(REPORT, body) * 2):
        spec = json.loads(json.dumps(decoder.spec))
        (again,) = redecoder_for(spec).feed(0, reading.raw)
        assert again == reading


@pytest.mark.parametrize(
    "spec", [{}, {"shape": "digits"}, {"report": 3}, {"report": {}}, {"report": {"unit": 1}}]
)
def test_a_spec_that_is_not_ours_is_a_key_error(spec: dict[str, object]) -> None:
    with pytest.raises(KeyError):
        redecoder_for(spec)


def test_a_device_without_a_weight_is_no_scale() -> None:
    with pytest.raises(ScaleError) as raised:
        weight_report(parse(bytes.fromhex("05010906a101c0")))
    assert raised.value.code == "not-a-hid-scale"
    decoder = HidDecoder()
    decoder.feed(0, framed(DESCRIPTOR, bytes.fromhex("05010906a101c0")))
    assert decoder.rejected == 1


frames = st.one_of(
    st.sampled_from(REPORTS).map(lambda one: framed(REPORT, bytes.fromhex(one["inputs"]["hex"]))),
    st.just(framed(DESCRIPTOR, PUBLISHED)),
    st.just(framed(REPORT, b"")),
    st.binary(max_size=12),
)


@given(st.lists(frames, max_size=12).map(b"".join), st.lists(st.integers(0, 900), max_size=20))
@settings(max_examples=200, deadline=None)
def test_any_chunks_give_the_same_readings(stream: bytes, at: list[int]) -> None:
    stream = framed(DESCRIPTOR, PUBLISHED) + stream
    whole, cut = HidDecoder(), HidDecoder()
    expected = list(whole.feed(0, stream))
    edges = sorted({0, len(stream), *(one for one in at if one < len(stream))})
    got: list[Reading] = []
    for begin, end in pairwise(edges):
        got += cut.feed(0, stream[begin:end])
    assert got == expected
    assert (cut.rejected, cut.spec) == (whole.rejected, whole.spec)


@given(st.binary(max_size=400))
@settings(max_examples=300, deadline=None)
def test_any_bytes_are_a_descriptor_or_told_to_be_none(data: bytes) -> None:
    try:
        fields = parse(data)
        weight_report(fields)
    except (DescriptorError, ScaleError):
        pass
    decoder = HidDecoder()
    decoder.feed(0, framed(DESCRIPTOR, data) + data)
    assert len(decoder._rest) <= 5000


@given(st.integers(0, len(PUBLISHED) - 1), st.integers(0, 255), st.binary(min_size=6, max_size=6))
@settings(max_examples=300, deadline=None)
def test_a_damaged_descriptor_never_raises(at: int, code: int, report: bytes) -> None:
    damaged = PUBLISHED[:at] + bytes([code]) + PUBLISHED[at + 1 :]
    decoder = HidDecoder()
    decoder.feed(0, framed(DESCRIPTOR, damaged) + framed(REPORT, report) * 2)
    assert json.dumps(decoder.spec)
