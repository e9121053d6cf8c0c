"""Many reports read together say what each says alone: same readings, same refusals, same words.

A decoder without its reader of runs is the measure: it asks ``Layout`` about every report.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.drivers.line_cases import BODY, CASES, Case, own
from tests.drivers.test_lines_random import cuts, fed, streams
from tests.drivers.wire_world import PRINTS, Load, Print, scenario
from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd_drivers import layout_run
from weighd_drivers.finder import find
from weighd_drivers.lines import LineDecoder
from weighd_drivers.shapes import Check, Frame, Number, Sign, Space, Status, UnitWord, WireShape

CHECKED = [one for one in PRINTS if one.check is not None]


@cache
def shape_of(name: str) -> WireShape:
    """The shape that is worked out for a generated print."""
    one = next(one for one in PRINTS if one.name == name)
    shape = find(b"".join(one.report(load) for load in scenario(one)), one.implied).shape
    assert shape is not None
    return shape


@dataclass
class Read:
    """All that a decoder makes of a stream."""

    readings: list[Reading]
    rejected: int
    last: bytes
    rest: bytes
    told: list[tuple[int, bytes, str]] = field(default_factory=list)


def read(
    shape: WireShape, stream: bytes, at: Sequence[int] = (), *, runs: bool, joined: bool = True
) -> Read:
    told: list[tuple[int, bytes, str]] = []
    decoder = LineDecoder(shape, joined=joined, on_reject=lambda *one: told.append(one))
    if not runs:
        decoder._runs = None
    readings = fed(decoder, stream, list(at))
    return Read(readings, decoder.rejected, decoder.last_rejected, decoder._rest, told)


def same(one: Read, other: Read) -> None:
    assert one == other
    # Decimals that are equal may still differ in what was printed.
    assert [str(each.shown) for each in one.readings] == [
        str(each.shown) for each in other.readings
    ]
    assert [str(each.grams) for each in one.readings] == [
        str(each.grams) for each in other.readings
    ]


@given(streams(), cuts, st.integers(1, 6), st.booleans())
@settings(max_examples=400, deadline=None)
def test_together_they_say_what_each_says_alone(
    given_stream: tuple[Case, bytes], at: list[int], times: int, joined: bool
) -> None:
    case, stream = given_stream
    shape, stream = case.value(), stream * times
    apart = read(shape, stream, at, runs=False, joined=joined)
    same(read(shape, stream, at, runs=True, joined=joined), apart)


@pytest.mark.parametrize("one", PRINTS, ids=lambda one: str(one.name))
def test_so_they_do_in_every_print_however_much_is_looked_at(
    one: Print, monkeypatch: pytest.MonkeyPatch
) -> None:
    shape = shape_of(one.name)
    stream = b"".join(one.report(load) for load in scenario(one, seed=5, turns=2))
    apart = read(shape, stream, runs=False, joined=False)
    assert len(apart.readings) > 100
    for most in (16, 100, 4096):
        monkeypatch.setattr(layout_run, "MOST", most)
        same(read(shape, stream, runs=True, joined=False), apart)


def test_nearly_every_print_is_read_in_runs() -> None:
    without = {one.name for one in PRINTS if LineDecoder(shape_of(one.name))._runs is None}
    assert without == {"pounds and ounces", "pounds and ounces, a colon"}  # two numbers


@pytest.mark.parametrize("count", [3, 8])
@pytest.mark.parametrize("one", CHECKED, ids=lambda one: str(one.name))
def test_with_a_check_no_flipped_bit_makes_a_wrong_weight(one: Print, count: int) -> None:
    """Every bit of a stream in turn, few reports at once and many."""
    shape = shape_of(one.name)
    loads = [Load(Decimal(731 * n % 9000 + 100) / 10, stable=n % 3 > 0) for n in range(count)]
    reports = [one.report(load) for load in loads]
    stream = b"".join(reports)
    right = [(one.grams, one.stable) for one in read(shape, stream, runs=True).readings]
    assert right == [(load.value, load.stable) for load in loads]
    for bit in range(8 * len(stream)):
        damaged = bytearray(stream)
        damaged[bit // 8] ^= 1 << bit % 8
        found = read(shape, bytes(damaged), runs=True)
        assert len(found.readings) >= count - 2
        at = 0
        for reading in found.readings:
            at = right.index((reading.grams, reading.stable), at) + 1


@pytest.mark.parametrize("kind", ["xor", "sum", "negated sum"])
@pytest.mark.parametrize("written", ["byte", "hex"])
@pytest.mark.parametrize("covers", ["data", "start+data", "data+end", "start+data+end"])
def test_every_kind_of_check_agrees_with_itself(kind: str, written: str, covers: str) -> None:
    shape = own(
        Frame(start="STX", end="ETX"),
        Check(kind=kind, written=written, covers=covers, place="after end"),  # type: ignore[arg-type]
    )
    stream = b""
    for n in range(40):
        body = b"S+%6.1f g" % (n * 3.7)
        covered = {
            "data": body,
            "start+data": b"\x02" + body,
            "data+end": body + b"\x03",
            "start+data+end": b"\x02" + body + b"\x03",
        }[covers]
        value = 0
        for code in covered:
            value = value ^ code if kind == "xor" else value + code
        value = (-value if kind == "negated sum" else value) & 0xFF
        sent = bytes([value]) if written == "byte" else b"%02x" % value
        stream += b"\x02" + body + b"\x03" + sent
    for runs in (True, False):
        found = read(shape, stream, runs=runs)
        assert [one.grams for one in found.readings] == [
            Decimal(f"{n * 3.7:.1f}") for n in range(40)
        ]
        assert found.rejected == 0


@pytest.mark.parametrize("text", ["Inf", "NaN", "infinity", "snan1x", "-----"])
def test_a_text_in_the_place_of_digits_is_no_number_whatever_it_spells(text: str) -> None:
    shape = WireShape(
        name="spelt",
        frame=Frame(end="CR"),
        field=(Number(missing={text: "over"}), Space(), UnitWord()),
    )
    stream = b"".join(b" 12.5 g\r   %s g\r" % text.encode() for _ in range(9))
    for runs in (True, False):
        found = read(shape, stream, runs=runs)
        assert [(one.grams, one.over) for one in found.readings] == [
            (Decimal("12.5"), False), (None, True),
        ] * 9  # fmt: skip


def test_digits_are_exact_however_many() -> None:
    shape = WireShape(
        name="long",
        frame=Frame(end="CR"),
        field=(Sign(), Number(width=32, sign=False), Space(), UnitWord()),
    )
    digits = "1234567890123456789012345678.901"
    for runs in (True, False):
        found = read(shape, b"-%s kg\r" % digits.encode() * 3, runs=runs)
        assert {str(one.shown) for one in found.readings} == {"-" + digits}
        assert {str(one.grams) for one in found.readings} == {
            "-1234567890123456789012345678901.000"
        }


def test_what_stands_around_the_digits_is_remembered_by_its_bytes_and_bounded() -> None:
    words = {f"{n:03d}": "stable" if n % 2 else "moving" for n in range(64)}
    shape = WireShape(
        name="words",
        frame=Frame(end="CR"),
        field=(Status(words=words), Space(least=0, most=16), Number(width=5), UnitWord(width=2)),  # type: ignore[arg-type]
    )
    decoder = LineDecoder(shape, joined=True)
    lines = [
        (n % 2 == 1, b"%03d%s %4d g\r" % (n, b" " * blanks, n))
        for blanks in range(16)
        for n in range(64)
    ]
    readings = decoder.feed(0, b"".join(line for _, line in lines))
    assert [one.stable for one in readings] == [stable for stable, _ in lines]
    assert decoder._runs is not None
    assert len(decoder._runs._known) <= layout_run.REMEMBERED


def test_what_is_ignored_at_the_edges_is_not_remembered() -> None:
    one = next(case for case in CASES if case.value().name == "own")
    fields = one.value().field
    shape = WireShape.model_validate(
        {
            "name": "counted",
            "frame": Frame(end="CR LF"),
            "field": [{"kind": "ignored", "width": 4}, *fields, {"kind": "ignored", "width": 6}],
        },
        strict=False,
    )
    stream = b"".join(b"%04d" % n + BODY + b"%06d\r\n" % (n * 77) for n in range(2000))
    decoder = LineDecoder(shape, joined=True)
    assert len(decoder.feed(0, stream)) == 2000
    assert decoder._runs is not None
    assert len(decoder._runs._known) == 1


@pytest.mark.parametrize("start", ["", "STX"])
@pytest.mark.parametrize("end", ["ETX", "CR"])
def test_a_check_that_looks_like_the_end_is_told_from_it_however_it_is_cut(
    start: str, end: str
) -> None:
    """Reports are sought whose check is the very byte that ends them."""
    goal = {"ETX": 3, "CR": 13}[end]
    shape = WireShape(
        name="looks",
        frame=Frame(start=start, end=end, length=9),
        check=Check(kind="xor", written="byte", place="after data"),
        field=(Status(words={"S": "stable", "T": "moving"}), Number(width=6, sign=False),
               Space(most=1), UnitWord()),
    )  # fmt: skip
    reports = []
    for n in range(9999):
        body = b"%c%6.1f%s" % (b"ST"[n % 2], n / 10, (b" g", b"kg", b"lb")[n % 3])
        value = 0
        for code in body:
            value ^= code
        if value == goal:
            reports.append((b"\x02" if start else b"") + body + bytes([goal, goal]))
    assert len(reports) > 5
    stream = b"".join(reports)
    for size in (1, 2, 5, 11, len(stream)):
        found = read(shape, stream, range(0, len(stream), size), runs=True)
        assert [one.raw for one in found.readings] == reports
        assert found.rejected == 0


def test_where_only_the_length_ends_a_report_a_unit_is_no_longer_than_its_words() -> None:
    """Found by fuzzing: with a letter more behind it, the report was another when cut elsewhere."""
    shape = shape_of("frame of one length")
    stream = b"\x02M+   228.1 gg\x03\r\n\x02S+   228.1 g"
    for size in (1, 8, 14, 15, len(stream)):
        for runs in (True, False):
            found = read(shape, stream, range(0, len(stream), size), runs=runs)
            assert [one.raw for one in found.readings] == [b"\x02M+   228.1 g", b"\x02S+   228.1 g"]
            assert found.rejected == 1


@pytest.mark.parametrize(
    "report", [b"\x02S18'276", b"\x02S  18.67", b"\x02S  18.6.7", b"\x02S 1'86.7"]
)
def test_where_only_the_length_ends_a_report_a_number_is_no_longer_than_its_field(
    report: bytes,
) -> None:
    """Found by fuzzing: what stood behind the field was looked at, if it had come yet."""
    shape = WireShape(
        name="endless", unit=Unit.G, frame=Frame(start="STX", end="", length=7),
        field=(Status(words={"S": "stable"}), Number(width=6, places=1, thousands="'")),
    )  # fmt: skip
    stream = report + b".7\x02S  -1.5\x02S1'000.5\x02S 234.5"
    whole = read(shape, stream, runs=True)
    for size in (1, 2, 7, 8, 9):
        for runs in (True, False):
            cut = read(shape, stream, range(0, len(stream), size), runs=runs)
            assert (cut.readings, cut.rejected) == (whole.readings, whole.rejected)
    assert [one.shown for one in whole.readings][-2:] == [Decimal("-1.5"), Decimal("234.5")]
    assert Decimal(18276) not in [one.shown for one in whole.readings]


@pytest.mark.parametrize(
    ("mark", "good", "bad"),
    [
        (" ", b" 1 234.5", b"  12.3 4"),
        (",", b" 1,234.5", b" 12.3,45"),
        ("'", b"-1'234.5", b"1'23.4'5"),
    ],
)
def test_groups_of_three_stand_before_the_point_and_nowhere_else(
    mark: Any, good: bytes, bad: bytes
) -> None:
    number = Number(width=8, places=1, thousands=mark)
    shape = WireShape(name="groups", frame=Frame(end="CR"), field=(number, Space(), UnitWord()))
    for runs in (True, False):
        found = read(shape, (good + b" g\r" + bad + b" g\r") * 3, runs=runs)
        assert {abs(one.grams or 0) for one in found.readings} == {Decimal("1234.5")}
        assert (len(found.readings), found.rejected) == (3, 3)


def test_a_reading_is_a_value() -> None:
    one = Reading(1.0, Decimal("2.0"), Unit.G, shown=Decimal("2.0"), raw=b"2.0 g\r")
    assert one == Reading(1.0, Decimal("2.0"), Unit.G, None, False, "", Decimal("2.0"), b"2.0 g\r")
    assert len({one, one._replace(t=2.0)}) == 2
    with pytest.raises(AttributeError):
        one.grams = Decimal(3)  # type: ignore[misc]
