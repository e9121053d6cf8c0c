"""Reports that stand one behind the other, read together: the common report at little cost.

:class:`~weighd_drivers.layout.Layout` says what a report means; this only saves asking it again
and again. The pattern is the same, but for its groups. It is laid over a stretch of the stream in
one call, and for each report it gives the *digits* and what stands before and behind them. Of the
same bytes before and behind the digits the pattern makes the same, whatever the digits are: what
``Layout`` once read there holds for every report that has them, and is looked up.

Left to ``Layout``, by stopping before it: what the pattern does not match, a report whose check
does not agree, one without digits or whose digits are no number, and one whose words forbid a
number. So nothing is refused here, and nothing is read that ``Layout`` would not read.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from copy import copy
from decimal import Decimal
from functools import reduce
from operator import xor

from weighd.domain.mass import EXACT, Unit, to_grams
from weighd.domain.reading import Reading
from weighd_drivers.layout import Layout, UnreadableError
from weighd_drivers.layout_text import missing_text, number_text, part_text
from weighd_drivers.shapes import LONGEST, Check, Ignored, Number, span

#: Bytes looked at together: all at first, and few after a report that was left to ``Layout``,
#: since what was found behind it is looked for again.
LEAST, MOST = 64, 4096
#: Different surroundings of the digits that are remembered.
REMEMBERED = 512
#: Fewer reports than this are summed up one by one: columns pay only for many.
FEW = 6

#: What stands around the digits says: the unit, whether it is stable, and whether it is a minus.
Around = tuple[Unit, bool | None, bool]
_Row = tuple[bytes, ...]
_UNSEEN: Around = (Unit.G, None, False)


class Runs:
    """A reader of runs for a layout with one number; see :func:`runs_of`."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        shape = layout.shape
        self._check = None if shape.check is None else _Checks(layout, shape.check)
        self._seven = shape.frame.seven_bit
        self._find = re.compile(_pattern(layout).encode("latin-1"), re.DOTALL).findall
        number = next(part for part in shape.field if isinstance(part, Number))
        delete = number.thousands + (" " if number.width is None or number.gap else "")
        point = number.point not in {".", "none"}
        self._points = bytes.maketrans(b",", b".") if point else None
        self._delete = delete.encode("ascii")
        self._tidy = bool(point or delete)
        #: The bytes of every report, where the shape says so and its fields do not.
        self._size = _size(layout)
        self._shift = -number.decimals
        self._window = MOST
        self._known: dict[tuple[bytes, bytes], Around | None] = {}

    def anew(self) -> Runs:
        """One that has read nothing yet, of the same layout."""
        one = copy(self)
        one._window, one._known = MOST, {}
        return one

    def read(
        self, t: float, stream: bytes, text: bytes, at: int, out: list[Reading]
    ) -> tuple[int, bool]:
        """Readings of the reports from ``at`` on, added to ``out``; where they end, and whether
        it is sure by then that the pattern does not match there.

        ``stream`` are the bytes as they came and ``text`` the same without parity. What then
        follows is for ``Layout``, or not all there yet.
        """
        size = len(text)
        while at < size:
            stop = min(size, at + self._window)
            rows = self._find(text, at, stop)
            rest = rows[-1][-1]
            if rest:
                del rows[-1]
            if rows:
                taken = self._take(t, stream, at, rows, out)
                if taken < len(rows):
                    self._window = LEAST
                    return self._after(text, at, taken), False
            if self._window < MOST:
                self._window *= 2
            at = stop - len(rest)
            if rest and (stop == size or not rows):
                return at, stop == size
        return at, False

    def _after(self, text: bytes, at: int, count: int) -> int:
        match = self._layout.pattern.match
        for _ in range(count):
            found = match(text, at)
            assert found is not None
            at = found.end()
        return at

    def _take(
        self, t: float, stream: bytes, at: int, rows: Sequence[_Row], out: list[Reading]
    ) -> int:
        """How many of the first rows are plain; their readings are added to ``out``."""
        raws: Sequence[bytes] = ()
        if self._seven:
            raws = list(_as_they_came(stream, at, rows))
            rows = [row[1:] for row in rows]
        if self._check is not None:
            rows = rows[: self._check.agree([row[0] for row in rows])]
        numbers = b"\n".join([row[2] for row in rows])
        if self._tidy:
            numbers = numbers.translate(self._points, self._delete)
        texts = numbers.decode("ascii").split("\n")
        new, gram, add, begun = tuple.__new__, Unit.G, out.append, len(out)
        size, shift = self._size, self._shift
        head = tail = None
        unit, stable, minus = _UNSEEN
        for (raw, row_head, _, row_tail, _), text in zip(rows, texts):  # noqa: B905 - may be none
            if not text or (size and len(raw) != size):
                break
            if row_head != head or row_tail != tail:
                around = self._around(raw, row_head, row_tail)
                if around is None:
                    break
                head, tail = row_head, row_tail
                unit, stable, minus = around
            try:
                value = Decimal(text)
            except ArithmeticError:
                break
            if shift:
                value = value.scaleb(shift, EXACT)
            if not value:
                value = value.copy_abs()
            elif minus:
                value = value.copy_negate()
            grams = value if unit is gram else to_grams(value, unit)
            if raws:
                raw = raws[len(out) - begun]
            add(new(Reading, (t, grams, unit, stable, False, "", value, raw)))
        return len(out) - begun

    def _around(self, report: bytes, head: bytes, tail: bytes) -> Around | None:
        """What stands around the digits says, as ``Layout`` reads it; ``None`` where that forbids
        a number, or where this report cannot tell."""
        around = self._known.get((head, tail), _UNSEEN)
        if around is not _UNSEEN:
            return around
        found = self._layout.pattern.match(report)
        if found is None or found[1] != report:
            return None
        try:
            grams, unit, stable, *_ = self._layout.read(found)
        except UnreadableError:
            return None
        known = None
        if grams is not None:
            assert unit is not None
            sign = self._layout.sign
            known = (unit, stable, bool(sign) and found[sign] == b"-")
        if len(self._known) >= REMEMBERED:
            self._known.clear()
        self._known[head, tail] = known
        return known


def _as_they_came(stream: bytes, at: int, rows: Sequence[_Row]) -> Iterator[bytes]:
    """The bytes of each report with their parity, which the pattern does not see."""
    for blanks, report, *_ in rows:
        begin, at = at + len(blanks), at + len(blanks) + len(report)
        yield stream[begin:at]


class _Checks:
    """The check characters of many reports at once."""

    def __init__(self, layout: Layout, check: Check) -> None:
        self._xor = check.kind == "xor"
        self._size = 1 if check.written == "byte" else 2
        # Where the data begin, and where they and the check stand from the end.
        end = 1 if layout.any_end else len(layout.end)
        self._begin, self._stop = len(layout.start), -end - self._size
        self._at = -self._size if layout.tail else self._stop
        # A unit that is not known may be longer than those that are.
        most = 8 * (layout.shape.span[1] + 8)
        self._folds = [8 << n for n in range(11, -1, -1) if 8 << n < 2 * most]
        # What is the same in every report is put into a table, and so is what becomes of a sum.
        same = b""
        if check.covers.startswith("start"):
            same += layout.start
        if check.covers.endswith("end"):
            same += layout.end
        mask = 0x7F if layout.shape.frame.seven_bit and self._size == 1 else 0xFF
        sign = -1 if check.kind == "negated sum" else 1
        self._table = bytes(
            (reduce(xor, same, code) if self._xor else sign * (code + sum(same))) & mask
            for code in range(256)
        )

    def agree(self, reports: Sequence[bytes]) -> int:
        """How many of the first reports have a check that agrees with their data."""
        size, joined = len(reports[0]), b"".join(reports)
        if len(reports) < FEW or size > LONGEST or len(set(map(len, reports))) > 1:
            data = [one[self._begin : self._stop] for one in reports]
            made = bytes(map(self._folded if self._xor else _summed, data))
            given = b"".join([one[self._at :][: self._size] for one in reports])
        else:
            # Of many that are as long: all first bytes, all second ones, ... as one long number.
            places = range(self._begin, size + self._stop)
            columns = [int.from_bytes(joined[n::size], "little") for n in places]
            made = (_xors if self._xor else _sums)(columns, len(reports))
            given = joined[size + self._at :: size]
            if self._size == 2:
                pairs = bytearray(2 * len(reports))
                pairs[::2], pairs[1::2] = given, joined[size + self._at + 1 :: size]
                given = bytes(pairs)
        if self._size == 2:
            given = bytes.fromhex(given.decode("ascii"))
        made = made.translate(self._table)
        if made == given:
            return len(reports)
        return next(n for n, pair in enumerate(zip(made, given, strict=True)) if pair[0] != pair[1])

    def _folded(self, data: bytes) -> int:
        value = int.from_bytes(data, "little")
        for fold in self._folds:
            value ^= value >> fold
        return value & 0xFF


def _summed(data: bytes) -> int:
    return sum(data) & 0xFF


def _xors(columns: Sequence[int], count: int) -> bytes:
    return reduce(xor, columns, 0).to_bytes(count, "little")


def _sums(columns: Sequence[int], count: int) -> bytes:
    """Byte by byte the sums modulo 256; every other one at a time, to have room for the carry."""
    mask = int.from_bytes(b"\xff\0" * (count // 2 + 1), "little")
    even = sum(one & mask for one in columns).to_bytes(count + 2, "little")
    odd = sum(one >> 8 & mask for one in columns).to_bytes(count + 2, "little")
    out = bytearray(count)
    out[::2], out[1::2] = even[:count:2], odd[: count - 1 : 2]
    return bytes(out)


def runs_of(layout: Layout) -> Runs | None:
    """A reader of runs, where reports of this layout say one number, whatever its digits are."""
    shape = layout.shape
    numbers = [part for part in shape.field if isinstance(part, Number)]
    if len(numbers) != 1 or any(text[-1:].isdigit() for text in numbers[0].missing):
        return None
    return Runs(layout)


def _size(layout: Layout) -> int:
    length, shape = layout.shape.frame.length, layout.shape
    least, most = (sum(sizes) for sizes in zip(*map(span, shape.field), strict=True))
    if length is None or least == most:
        return 0
    check = 0 if shape.check is None else 1 if shape.check.written == "byte" else 2
    return len(layout.start) + length + check + (1 if layout.any_end else len(layout.end))


def _pattern(layout: Layout) -> str:
    """The layout's pattern with other groups, or else all that is left.

    The groups: blanks before it, of seven bits; the report; what stands before the digits; these;
    what stands behind them; all that is left.
    """
    shape = layout.shape
    parts = list(shape.field)
    at = next(n for n, part in enumerate(parts) if isinstance(part, Number))
    number = parts[at]
    assert isinstance(number, Number)
    # What is ignored at the edges says nothing: a count or a time there changes every time.
    first, last = 0, len(parts)
    while isinstance(parts[first], Ignored):
        first += 1
    while isinstance(parts[last - 1], Ignored):
        last -= 1
    texts = [
        "".join(f"(?:{part_text(part, exact=layout.endless)})" for part in some)
        for some in (parts[:first], parts[first:at], parts[at + 1 : last], parts[last:])
    ]
    digits = f"(?:{missing_text(number)}({number_text(number, exact=layout.endless)}))"
    fields = f"{texts[0]}({texts[1]}){digits}({texts[2]}){texts[3]}"
    return f"{layout.whole(fields, groups=False, blanks=shape.frame.seven_bit)}|(.+)"
