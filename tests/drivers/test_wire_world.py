"""Every generated print is worked out from its bytes and read whole; damage is never a weight.

The prints are common practice, no source. What is expected of each comes from the writer of
``wire_world``, not from the code that reads.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest

from tests.drivers.wire_world import FAULTS, PRINTS, Load, Print, Said, scenario
from weighd.domain.reading import Reading
from weighd_drivers.auto import AutoDecoder, redecoder_for
from weighd_drivers.finder import find
from weighd_drivers.lines import LineDecoder
from weighd_drivers.shape_text import dump, parse
from weighd_drivers.shapes import WireShape


def said(reading: Reading) -> Said:
    return reading.grams, reading.over, reading.fault


def streams(one: Print, turns: int = 1) -> tuple[list[Load], list[bytes]]:
    loads = scenario(one, turns=turns)
    return loads, [one.report(load) for load in loads]


def found(one: Print) -> WireShape:
    finding = find(b"".join(streams(one)[1]), one.implied)
    assert finding.shape is not None, finding.words
    return finding.shape


def named(one: Print) -> str:
    return one.name


def test_there_are_enough_of_them_and_no_two_alike() -> None:
    assert len(PRINTS) >= 60
    prints = {b"".join(streams(one)[1]) for one in PRINTS}
    assert len(prints) == len({one.name for one in PRINTS}) == len(PRINTS)


@pytest.mark.parametrize("one", PRINTS, ids=named)
def test_its_shape_is_found_and_reads_all_of_it(one: Print) -> None:
    loads, reports = streams(one)
    shape = found(one)
    decoder = LineDecoder(shape)
    readings = decoder.feed(0, b"".join(reports))
    want = [one.says(load) for load in loads]
    # The first line may be the tail of a report; beside others it is dropped where it could be.
    assert [said(one) for one in readings] in (want, want[1:])
    assert decoder.rejected == 0
    for reading in readings[:3]:
        (again,) = redecoder_for(decoder.spec).feed(0, reading.raw)
        assert again.grams == reading.grams
    assert parse(dump(shape)) == shape


@pytest.mark.parametrize("one", PRINTS, ids=named)
def test_without_a_shape_the_whole_of_a_file_is_read(one: Print) -> None:
    loads, reports = streams(one)
    decoder = AutoDecoder(one.implied if one.unit_at == "none" else None, patient=True)
    readings = [*decoder.feed(0, b"".join(reports)), *decoder.end()]
    want = [one.says(load) for load in loads]
    assert [said(one) for one in readings] in (want, want[1:])


@pytest.mark.parametrize("one", PRINTS, ids=named)
def test_a_live_stream_gives_right_weights_only_and_once_it_is_known_all_of_them(
    one: Print,
) -> None:
    loads, reports = streams(one, turns=4)
    decoder = AutoDecoder(one.implied if one.unit_at == "none" else None)
    counts: list[int] = []
    heard: list[Reading] = []
    for report in reports:
        heard += decoder.feed(0, report)
        counts.append(len(heard))
    want = {one.says(load) for load in loads}
    assert {said(reading) for reading in heard} <= want
    half = len(reports) // 2
    assert counts[-1] - counts[half - 1] >= len(reports) - half - 1


FLAGGED = [one for one in PRINTS if one.words is not None or one.unit_at.startswith("stable")]


@pytest.mark.parametrize("one", FLAGGED, ids=named)
def test_what_it_says_of_its_being_stable_is_found_too(one: Print) -> None:
    loads, reports = streams(one)
    readings = LineDecoder(found(one), joined=True).feed(0, b"".join(reports))
    told = [reading.stable for reading in readings if reading.grams is not None]
    want = [load.stable for load in loads if load.value is not None]
    assert told == want


def damaged(one: Print, reports: list[bytes]) -> Iterator[bytes]:
    for name, fault in FAULTS.items():
        yield b"".join(fault(reports, random.Random(f"{one.name} {name}")))


def wrong(shape: WireShape, one: Print, reports: list[bytes], stream: bytes) -> list[bytes]:
    """Reports out of a damaged stream that were read as a weight that was never printed."""
    whole = LineDecoder(shape, joined=True).feed(0, b"".join(reports))
    clean = {reading.raw for reading in whole}
    weights = {reading.grams for reading in whole}
    return [
        reading.raw
        for reading in LineDecoder(shape).feed(0, stream)
        if reading.grams not in weights and reading.raw not in clean and reading.grams is not None
    ]


CHECKED = [one for one in PRINTS if one.check is not None]


@pytest.mark.parametrize("one", CHECKED, ids=named)
def test_with_a_check_no_damage_is_ever_a_weight(one: Print) -> None:
    _, reports = streams(one, turns=2)
    shape = found(one)
    assert shape.check is not None
    for stream in damaged(one, reports):
        assert wrong(shape, one, reports, stream) == []


PADDED = [one for one in PRINTS if one.check is None and one.width]


@pytest.mark.parametrize("one", PADDED, ids=named)
def test_without_a_check_only_one_wrong_character_can_look_like_a_weight(one: Print) -> None:
    """Where lines have one length. An unpadded number may lose a digit: nothing tells that."""
    _, reports = streams(one, turns=2)
    shape = found(one)
    clean = [one.raw for one in LineDecoder(shape, joined=True).feed(0, b"".join(reports))]
    for stream in damaged(one, reports):
        for raw in wrong(shape, one, reports, stream):
            assert any(
                len(raw) == len(whole) and sum(a != b for a, b in zip(raw, whole, strict=True)) == 1
                for whole in clean
            ), raw


@pytest.mark.parametrize("one", PRINTS, ids=named)
def test_from_a_damaged_stream_a_shape_is_found_that_reads_right_or_none_is(one: Print) -> None:
    loads, reports = streams(one, turns=2)
    want = {one.says(load)[0] for load in loads}
    for stream in damaged(one, reports):
        shape = find(stream, one.implied).shape
        if shape is not None:
            readings = LineDecoder(shape, joined=True).feed(0, b"".join(reports))
            assert {reading.grams for reading in readings} <= want | {None}


@pytest.mark.parametrize("one", PRINTS, ids=named)
def test_every_split_into_chunks_gives_the_same(one: Print) -> None:
    _, reports = streams(one)
    stream = b"".join(reports)
    chance = random.Random(one.name)
    whole, bytewise, cut = (AutoDecoder() for _ in range(3))
    first = whole.feed(0, stream)
    assert [x for code in stream for x in bytewise.feed(0, bytes([code]))] == first
    out: list[Reading] = []
    at = 0
    while at < len(stream):
        size = chance.randrange(1, 40)
        out += cut.feed(0, stream[at : at + size])
        at += size
    assert out == first
    assert whole.spec == bytewise.spec == cut.spec
    assert whole.rejected == bytewise.rejected == cut.rejected


@pytest.mark.parametrize(
    "noise",
    [
        random.Random(1).randbytes(2000),
        b"\x00" * 900,
        # Text at twice the baud rate it was sent at, from memory: runs of zeros and of ones.
        bytes(random.Random(2).choices((0x00, 0x80, 0xE0, 0xF8, 0xFF, 0x78), k=2000)),
    ],
    ids=["random", "zeros", "twice the rate"],
)
def test_rubbish_is_said_to_be_so_and_no_shape_is_made_of_it(noise: bytes) -> None:
    finding = find(noise)
    assert finding.shape is None
    assert finding.rubbish
    assert "baud" in finding.words[0]


SIDE_BY_SIDE = {
    "a count": "{n:06d},ST,{w:6.1f},g",
    "a time": "12:00:{n:02d}  {w:6.1f} g",
    "a date and a time": "2026-11-26 12:00:{n:02d} ST {w:6.1f} g",
    "a flag behind": "W:{w:6.1f}g S:1 B:75%",
}


@pytest.mark.parametrize("print_", SIDE_BY_SIDE.values(), ids=SIDE_BY_SIDE)
def test_numbers_beside_the_weight_are_told_from_it(print_: str) -> None:
    lines = [print_.format(n=n, w=n * 3.1) + "\r\n" for n in range(60)]
    stream = "".join(lines).encode()
    shape = find(stream).shape
    assert shape is not None
    read = LineDecoder(shape, joined=True).feed(0, stream)
    assert [f"{reading.grams:.1f}" for reading in read] == [f"{n * 3.1:.1f}" for n in range(60)]


def test_of_several_numbers_without_words_none_is_picked() -> None:
    lines = [f"ST,{n * 3.1:7.1f},{20:7.1f},{n * 3.1 - 20:7.1f},g\r\n" for n in range(60)]
    assert find("".join(lines).encode()).shape is None


def test_a_decimal_comma_and_a_group_of_thousands_are_told_apart_by_the_small_weights() -> None:
    grams = [f"{n:9,d} g\r\n".encode() for n in range(0, 4000, 97)]
    kilos = [f"{n / 1000:9.3f} kg\r\n".replace(".", ",").encode() for n in range(0, 4000, 97)]
    for lines in (grams, kilos):
        shape = find(b"".join(lines)).shape
        assert shape is not None
        read = LineDecoder(shape, joined=True).feed(0, b"".join(lines))
        assert [reading.grams for reading in read] == list(range(0, 4000, 97))
