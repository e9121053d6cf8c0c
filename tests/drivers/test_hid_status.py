"""A status in a report of its own, and statuses that are a bit each.

Usages as in the HID Point of Sale Usage Tables 1.02 (page 0x8D: Scale Status Report 33, Scale
Status 70, its selectors 71 to 78); the descriptors are made for these tests.
"""

from __future__ import annotations

import json
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.drivers.fake_usb import FakeBackend, FakeDevice
from tests.drivers.hid_descriptors import (
    APART,
    APART_FLAGS,
    ARRAY,
    TOGETHER,
    WEIGHT,
    described,
)
from tests.drivers.watcher import Watcher
from weighd_drivers.hid import DESCRIPTOR, REPORT, HidDecoder, framed, redecoder_for
from weighd_drivers.hid_descriptor import parse
from weighd_drivers.hid_layout import Flags, weight_report
from weighd_drivers.usb_find import Wanted
from weighd_drivers.usb_hid import UsbSource


def weight(tenths: int) -> bytes:
    return framed(REPORT, bytes([3, 2, 0xFF]) + tenths.to_bytes(2, "little"))


def status(code: int) -> bytes:
    return framed(REPORT, bytes([4, code]))


def opened(descriptor: bytes) -> HidDecoder:
    decoder = HidDecoder()
    first = bytes([3, 2, 0xFF, 0, 0]) if descriptor is not TOGETHER else bytes([8, 2, 0xFF, 0, 0])
    decoder.feed(0, framed(DESCRIPTOR, descriptor) + framed(REPORT, first))
    return decoder


def test_a_status_in_its_own_report_holds_for_the_weights_after_it() -> None:
    decoder = opened(APART)
    stream = weight(10) + status(3) + weight(20) + weight(21) + status(4) + weight(21) + status(2)
    got = decoder.feed(1, stream + weight(1))
    assert [(one.grams, one.stable) for one in got] == [
        (Decimal("1.0"), None),  # nothing was told yet
        (Decimal("2.0"), False),
        (Decimal("2.1"), False),
        (Decimal("2.1"), True),
        (Decimal(0), True),  # at zero, whatever noise the weight shows
    ]
    assert decoder.rejected == 0


@pytest.mark.parametrize(
    ("code", "over", "fault"),
    [
        (1, False, "fault"), (5, False, "under"), (6, True, ""),
        (7, False, "requires calibration"), (8, False, "requires rezeroing"),
    ],
)  # fmt: skip
def test_a_status_without_a_number_is_told_at_once_and_forbids_weights(
    code: int, over: bool, fault: str
) -> None:
    decoder = opened(APART)
    told = decoder.feed(1, status(code) + weight(10))
    assert [(one.grams, one.over, one.fault) for one in told] == [(None, over, fault)] * 2
    assert [one.grams for one in decoder.feed(2, status(4) + weight(10))] == [Decimal("1.0")]


def test_a_status_without_a_meaning_forbids_weights_until_the_next() -> None:
    decoder = opened(APART)
    assert decoder.feed(1, status(4) + status(9) + weight(10)) == []
    assert decoder.rejected == 2
    assert len(decoder.feed(1, status(4) + weight(10))) == 1


def test_what_was_told_before_an_unplug_holds_no_longer() -> None:
    decoder = opened(APART)
    decoder.feed(1, status(6))
    decoder.reset()
    (reading,) = decoder.feed(2, weight(10))
    assert (reading.grams, reading.stable) == (Decimal("1.0"), None)
    decoder.feed(3, status(6) + framed(DESCRIPTOR, APART) + weight(9))
    assert [one.stable for one in decoder.feed(4, weight(10))] == [None]


@pytest.mark.parametrize("descriptor", [APART, APART_FLAGS, TOGETHER])
def test_the_evidence_reads_again_by_itself(descriptor: bytes) -> None:
    decoder = opened(descriptor)
    stream = b""
    for bit in range(8):
        if descriptor is TOGETHER:
            stream += framed(REPORT, bytes([1 << bit, 2, 0xFF, 7, 0]))
        elif descriptor is APART:
            stream += status(bit + 1) + weight(7)
        else:
            stream += framed(REPORT, bytes([4, 1 << bit, *bytes(6)])) + weight(7)
    readings = decoder.feed(1, stream)
    assert len(readings) >= 8
    spec = json.loads(json.dumps(decoder.spec))
    for reading in readings:
        assert redecoder_for(spec).feed(1, reading.raw) == [reading]


@pytest.mark.parametrize(
    ("bits", "grams", "stable", "over", "fault"),
    [
        (0b0000_1000, "0.7", True, False, ""),
        (0b0000_0100, "0.7", False, False, ""),
        (0b0000_0010, "0", True, False, ""),
        (0b0000_1010, "0", True, False, ""),  # at zero and at rest
        (0b0000_0110, "0.7", False, False, ""),  # passing zero is not being there
        (0b0000_1100, "0.7", False, False, ""),
        (0b0000_0000, "0.7", False, False, ""),  # not at rest
        (0b0010_1000, None, None, True, ""),
        (0b0010_0001, None, None, False, "fault"),
        (0b0100_1000, None, None, False, "requires calibration"),
        (0b0001_0100, None, None, False, "under"),
    ],
)
def test_of_several_flags_the_one_counts_that_says_most(
    bits: int, grams: str | None, stable: bool | None, over: bool, fault: str
) -> None:
    (one,) = opened(TOGETHER).feed(1, framed(REPORT, bytes([bits, 2, 0xFF, 7, 0])))
    assert one.grams == (None if grams is None else Decimal(grams))
    assert (one.stable, one.over, one.fault) == (stable, over, fault)


def test_a_flag_for_motion_alone_says_rest_by_being_clear() -> None:
    motion, zero = Flags((3,), (0x73,)), Flags((0,), (0x72,))
    assert [motion.selected(bytes([one])) for one in (0, 8)] == [0x74, 0x73]
    assert [zero.selected(bytes([one])) for one in (0, 1)] == [None, 0x72]


def test_a_longer_report_than_that_of_the_weight_is_read_whole() -> None:
    flags = bytes([4, 0b0000_0100, *bytes(6)])
    reports = [bytes([3, 2, 0xFF, 9, 9]), flags, bytes([3, 2, 0xFF, 7, 0])]
    device = FakeDevice(APART_FLAGS, list(reports), packet=8)
    source = UsbSource(Wanted(), lambda: FakeBackend([device]), via="libusb")
    with Watcher(source) as watcher:
        (reading,) = watcher.readings(HidDecoder(), 1)
    assert (reading.grams, reading.stable) == (Decimal("0.7"), False)


def test_a_scale_with_its_status_beside_the_weight_is_kept_as_before() -> None:
    """A status report besides is not needed then; the layout in old records has no key for it."""
    both = described("0933a1028504", ARRAY, "c0", WEIGHT.replace("8503", "8503" + ARRAY))
    assert weight_report(parse(both)).apart is None
    decoder = HidDecoder()
    decoder.feed(0, framed(DESCRIPTOR, both))
    assert "apart" not in decoder.spec["report"]  # type: ignore[operator]


frames = st.one_of(
    st.integers(0, 255).map(status), st.integers(0, 999).map(weight), st.binary(max_size=6)
)


@given(st.lists(frames, max_size=10).map(b"".join), st.lists(st.integers(0, 90), max_size=9))
@settings(max_examples=150, deadline=None)
def test_any_chunks_give_the_same_readings(stream: bytes, at: list[int]) -> None:
    whole, cut = opened(APART), opened(APART)
    expected = list(whole.feed(1, stream))
    edges = sorted({0, len(stream), *(one for one in at if one < len(stream))})
    got = [r for begin, end in pairwise(edges) for r in cut.feed(1, stream[begin:end])]
    assert got == expected
    assert cut.rejected == whole.rejected
