"""What a USB scale tells of itself: attribute, limit and control reports, and none of them.

Usages as in the HID Point of Sale Usage Tables 1.02 and the HID Usage Tables, page 0x8D; the
descriptors are a published one and some made for these tests.
"""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.drivers.fake_hidraw import FakeHidraw
from tests.drivers.fake_usb import FakeBackend, FakeDevice, usb_error
from tests.drivers.hid_descriptors import BARE, FULL, PUBLISHED, ZERO_AS_FEATURE
from tests.drivers.watcher import Watcher
from weighd.domain import mass
from weighd.domain.mass import Unit
from weighd.station.ports import Lost
from weighd.station.scale import ScaleState, Setup
from weighd_drivers import usb_hidraw
from weighd_drivers.hid import HidDecoder
from weighd_drivers.hid_descriptor import DescriptorError, parse
from weighd_drivers.hid_facts import facts_of, zero_command
from weighd_drivers.usb_find import Wanted
from weighd_drivers.usb_hid import UsbSource
from weighd_drivers.usb_hidraw import Hidraw

Answers = dict[int, bytes | int]


def asked(descriptor: bytes, answers: Answers) -> dict[str, str]:
    def ask(report: int, size: int) -> bytes:
        answer = answers.get(report, errno.EPIPE)
        if isinstance(answer, int):
            raise usb_error(answer)
        return answer

    return facts_of(parse(descriptor), ask)


def libusb(device: FakeDevice) -> UsbSource:
    return UsbSource(Wanted(), lambda: FakeBackend([device]), Path("/none"), "libusb")


def hidraw(kernel: Hidraw) -> UsbSource:
    return UsbSource(Wanted(), lambda: None, Path("/none"), "hidraw", kernel)


def test_all_that_it_says_is_told() -> None:
    answers: Answers = {1: bytes.fromhex("010302ff"), 5: bytes.fromhex("0503ff3c00")}
    assert asked(FULL, answers) == {
        "max_g": "6000.0", "accuracy_class": "III metric", "unit": "g", "interval_g": "0.1",
    }  # fmt: skip


def test_the_published_descriptor_begins_its_classes_with_the_usage_of_the_class() -> None:
    """So that 4 is class III there, where 3 is in a descriptor that begins with class I."""
    found = [asked(PUBLISHED, {1: bytes([1, code, 2])}).get("accuracy_class") for code in range(12)]
    assert found == [
        None, None, "I metric", "II metric", "III metric", "IIIL metric", "IV metric",
        "III English", "IIIL English", "IV English", "generic", None,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("unit", "scaling", "interval"),
    [(1, 0, "0.001"), (2, -2, "0.01"), (3, -3, "1.000"), (11, -1, "2.8349523125"), (2, 1, "10")],
)
def test_the_last_digit_is_worth_what_unit_and_scaling_say(
    unit: int, scaling: int, interval: str
) -> None:
    answer = bytes([1, 3, unit, scaling & 0xFF])
    assert asked(FULL, {1: answer})["interval_g"] == interval


@pytest.mark.parametrize(
    "answer",
    [
        b"", b"\x05", bytes.fromhex("0502"), bytes.fromhex("05020070"),  # short
        bytes.fromhex("0602007017"),  # of another report
        bytes.fromhex("050200701701"),  # longer, and no padding
        bytes.fromhex("0500007017"), bytes.fromhex("0505007017"), bytes.fromhex("050d007017"),
        bytes.fromhex("05020b7017"), bytes.fromhex("0502800100"),  # a scaling of no scale
        bytes.fromhex("0502000000"),  # Max 0
        bytes.fromhex("0501010101"),  # 2.57 g a scale may have, 2570 mg scaled by ten: yes
        bytes(5), b"\xff" * 5, b"\x05" * 5,
        errno.EPIPE, errno.EIO, errno.EPROTO, errno.ETIMEDOUT, errno.EOVERFLOW,
    ],
)  # fmt: skip
def test_an_answer_that_is_none_is_as_good_as_no_answer(answer: bytes | int) -> None:
    told = asked(FULL, {5: answer})
    assert told in ({}, {"max_g": "2.570"})
    assert asked(PUBLISHED, {5: answer}).items() >= {"zero_command": "report 2"}.items()


@pytest.mark.parametrize("limit", ["0501ff0900", "05080a ffff".replace(" ", "")])
def test_a_max_that_no_scale_has_is_rubbish(limit: str) -> None:
    assert "max_g" not in asked(FULL, {5: bytes.fromhex(limit)})


@pytest.mark.parametrize("answer", ["01", "010302", "020302ff", "01030205", "0103027f", "01030500"])
def test_attributes_that_do_not_fit_tell_nothing_wrong(answer: str) -> None:
    told = asked(FULL, {1: bytes.fromhex(answer)})
    assert "max_g" not in told
    if answer == "01030205":  # 10**5 g is within what is let pass
        assert told["interval_g"] == "100000"
    else:
        assert "interval_g" not in told


def test_a_device_that_does_not_answer_in_time_is_asked_once() -> None:
    device = FakeDevice(FULL, [], features={1: errno.ETIMEDOUT, 5: errno.ETIMEDOUT})
    with Watcher(
        UsbSource(Wanted(), lambda: FakeBackend([device]), Path("/none"), "libusb")
    ) as one:
        (found,) = one.found()
    assert found.facts == {}
    assert device.asked == [(5, 5)]


def test_a_stall_at_one_question_leaves_the_other() -> None:
    answers: Answers = {1: bytes.fromhex("010302ff"), 5: errno.EPIPE}
    assert asked(FULL, answers)["interval_g"] == "0.1"
    assert asked(FULL, {5: bytes.fromhex("0502007017")}) == {"max_g": "6000"}


def test_a_device_that_goes_away_while_it_is_asked_is_gone() -> None:
    with pytest.raises(OSError, match="scripted"):
        asked(FULL, {5: errno.ENODEV})
    device = FakeDevice(FULL, [], features={5: errno.ENODEV})
    with Watcher(
        UsbSource(Wanted(), lambda: FakeBackend([device]), Path("/none"), "libusb")
    ) as one:
        one.lost()
    assert device.log[-2:] == ["attach", "close"]


def test_without_ids_all_of_the_answer_is_data() -> None:
    assert asked(BARE, {0: bytes.fromhex("02007017")}) == {"max_g": "6000"}
    device = FakeDevice(BARE, [], features={0: bytes.fromhex("02007017")})
    with Watcher(
        UsbSource(Wanted(), lambda: FakeBackend([device]), Path("/none"), "libusb")
    ) as one:
        (found,) = one.found()
    assert found.facts == {"max_g": "6000"}
    assert device.asked == [(0, 4)]


@pytest.mark.parametrize(
    ("report", "left_by_the_kernel", "answer"),
    [(5, "0502007017", "0502007017"), (0, "0002007017", "02007017"), (5, "0502", "0502")],
)
def test_hidraw_gives_the_answer_without_what_the_kernel_adds(
    report: int, left_by_the_kernel: str, answer: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """HIDIOCGFEATURE(len) is _IOC(read and write, 'H', 7, len), as linux/hidraw.h has it (from
    memory); usbhid counts the byte of an id that is none."""
    seen: list[tuple[int, int, bytes]] = []

    def ioctl(fd: int, request: int, buffer: bytearray) -> int:
        seen.append((fd, request, bytes(buffer)))
        data = bytes.fromhex(left_by_the_kernel)
        buffer[: len(data)] = data
        return len(data)

    monkeypatch.setattr(usb_hidraw.fcntl, "ioctl", ioctl)
    assert Hidraw().feature(9, report, 4) == bytes.fromhex(answer)
    assert seen == [(9, 3 << 30 | 5 << 16 | ord("H") << 8 | 7, bytes([report, 0, 0, 0, 0]))]


def test_through_hidraw_it_tells_the_same(tmp_path: Path) -> None:
    kernel = FakeHidraw(tmp_path)
    plug = kernel.plug(FULL)
    plug.features = {1: bytes.fromhex("010302ff"), 5: bytes.fromhex("0503ff3c00")}
    with Watcher(hidraw(kernel)) as one:
        (found,) = one.found()
    assert found.facts == {
        "max_g": "6000.0", "accuracy_class": "III metric", "unit": "g", "interval_g": "0.1",
    }  # fmt: skip


@pytest.mark.parametrize("number", [errno.ETIMEDOUT, errno.EPIPE, errno.EIO, errno.EINVAL])
def test_through_hidraw_no_answer_is_harmless(tmp_path: Path, number: int) -> None:
    kernel = FakeHidraw(tmp_path)
    plug = kernel.plug(FULL)
    plug.features = {1: number, 5: number}
    with Watcher(hidraw(kernel)) as one:
        (found,) = one.found()
        plug.send(bytes([3, 2, 0xFF, 0, 0]), bytes([3, 2, 0xFF, 7, 0]))
        assert [each.unit for each in one.readings(HidDecoder(), 1)] == [Unit.G]
        assert not any(isinstance(each, Lost) for each in one.signals)
    assert found.facts == {}
    assert len(plug.asked) == (1 if number == errno.ETIMEDOUT else 2)


def test_a_zero_command_is_recognised_and_never_sent(tmp_path: Path) -> None:
    assert zero_command(parse(PUBLISHED)) == (2, bytes([2]))
    assert zero_command(parse(ZERO_AS_FEATURE)) == (2, bytes([1]))
    assert zero_command(parse(FULL)) is None
    assert asked(ZERO_AS_FEATURE, {}) == {"zero_command": "report 2"}
    # A node that is open to be read only takes no report, and neither way has a call that sends.
    node = tmp_path / "node"
    node.touch()
    fd = Hidraw().open(node)
    with pytest.raises(OSError, match="Bad file descriptor"):
        os.write(fd, bytes([2, 2]))
    os.close(fd)


def test_what_is_told_fills_what_is_not_configured() -> None:
    def scale(**configured: Any) -> ScaleState:
        state = ScaleState(Setup("bench", "usb", HidDecoder(), **configured))
        state.found("a scale", asked(FULL, {1: bytes.fromhex("010302ff"), 5: b"\5\2\0\x70\x17"}))
        return state

    told = scale()
    assert (told.max_g, told.interval_g) == (mass.parse("6000"), mass.parse("0.1"))
    known = scale(max_g=mass.parse("3000"), interval_g=mass.parse("1"))
    assert (known.max_g, known.interval_g) == (mass.parse("3000"), mass.parse("1"))


answers = st.dictionaries(st.integers(0, 8), st.binary(max_size=20), max_size=6)


def damage(whole: bytes) -> st.SearchStrategy[bytes]:
    """The same with another byte somewhere."""
    places = st.tuples(st.integers(0, len(whole) - 1), st.binary(min_size=1, max_size=1))
    return places.map(lambda one: whole[: one[0]] + one[1] + whole[one[0] + 1 :])


@given(st.sampled_from([PUBLISHED, FULL, BARE]).flatmap(damage), answers)
@settings(max_examples=300, deadline=None)
def test_whatever_is_answered_facts_are_numbers_or_none(
    descriptor: bytes, given_answers: dict[int, bytes]
) -> None:
    try:
        told = asked(descriptor, dict(given_answers))
    except DescriptorError:
        return
    assert set(told) <= {"max_g", "interval_g", "accuracy_class", "unit", "zero_command"}
    for key in ("max_g", "interval_g"):
        if key in told:
            assert mass.parse(told[key]) > 0
