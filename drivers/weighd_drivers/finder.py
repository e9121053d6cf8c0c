"""The shape finder: from some seconds of bytes to the wire shape that reads them.

There is no table of makes. Guesses at the framing (line ends, a start and an end, one length),
at seven bits with parity, at the check and at the fields (``finder_fields``) are each tried as a
strict decoder on the whole stream; what reads most of it and says most of a line is the answer,
and nothing is, where no guess reads nearly all of it. Pure: bytes in, a finding out.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import xor
from typing import Any, Literal

from pydantic import ValidationError

from weighd.domain.mass import Unit
from weighd_drivers.finder_fields import fields_of
from weighd_drivers.lines import LineDecoder
from weighd_drivers.shape_text import shipped
from weighd_drivers.shapes import Part, UnitWord, WireShape, mark_bytes

#: No more of a stream is looked at, bytes.
MOST = 32_768
#: Fewer reports than this say nothing for sure.
FEWEST = 5
#: Part of the reports that the answer must read.
READS = 0.7
#: Different reports that a check must fit before it is believed.
CHECKED = 4

#: Beyond this part of bytes that no scale writes, a line is rubbish: the wrong baud rate.
RUBBISH = 0.1

Parity = Literal["none", "even", "odd"]


@dataclass(frozen=True)
class Finding:
    """What was found. ``shape`` is ``None`` where nothing reads the stream; ``words`` say what
    was found, or why nothing was; ``read`` and ``rejected`` are reports of the stream;
    ``heard``: whether anything came."""

    shape: WireShape | None
    words: tuple[str, ...]
    read: int = 0
    rejected: int = 0
    rubbish: bool = False
    heard: bool = True


def find(
    data: bytes, unit: Unit | None = None, *, wanted: str = "gross", name: str = "found"
) -> Finding:
    """The shape of a stream.

    ``unit``    the implied unit, for lines that show none (grams without it).
    ``wanted``  which weight counts where several are printed: ``gross`` or ``net``.
    """
    data = data[-MOST:]
    if not data:
        return Finding(None, ("Nothing came.",), heard=False)
    parity, text = _bits(data)
    if text is None:
        return Finding(None, (RUBBISH_WORDS,), rubbish=True)
    best: tuple[tuple[int, ...], Finding] | None = None
    for shape, words in _guesses(text, parity, unit or Unit.G, wanted, name):
        decoder = LineDecoder(shape)
        read = decoder.feed(0, data)
        got, lost = len(read), decoder.rejected
        if got < FEWEST or got < READS * (got + lost):
            continue
        rank = _rank(shape, got, lost)
        if best is None or rank > best[0]:
            best = rank, Finding(shape, tuple(words), got, lost)
    if best is None:
        few = len(re.findall(rb"[\r\n\x03]+", text)) < FEWEST
        why = "Too few reports came to tell." if few else "No shape reads these lines."
        return Finding(None, (why,))
    return best[1]


def _rank(shape: WireShape, read: int, lost: int) -> tuple[int, ...]:
    """How good a guess is. Damage makes a lenient shape read a little more: that is no merit."""
    share = int(5 * read / (read + lost))
    return (
        share,
        *shape.strictness[:1],
        int(shape.frame.length is not None),
        read,
        *shape.strictness,
    )


#: Said of bytes that cannot be a scale's.
RUBBISH_WORDS = (
    "What comes is no text: most likely the baud rate is wrong, or else parity and data bits."
)


def looks_like_rubbish(data: bytes) -> bool:
    """Whether bytes look as they do at a wrong baud rate: no text, not even with parity."""
    if not data or _bits(data)[1] is not None:
        return False
    # With mark parity every eighth bit is set: text all the same.
    marked = sum(code >= 0x80 for code in data) > (1 - RUBBISH) * len(data)
    return not marked or _bits(bytes(code & 0x7F for code in data))[1] is None


def _bits(data: bytes) -> tuple[Parity, bytes | None]:
    """The parity in the eighth bit, and the text without it; ``None`` where it is no text."""
    high = sum(code >= 0x80 for code in data)
    text = data
    parity: Parity = "none"
    if high > RUBBISH * len(data):
        odd = sum(code.bit_count() % 2 for code in data)
        if odd < 0.1 * len(data):
            parity = "even"
        elif odd > 0.9 * len(data):
            parity = "odd"
        else:
            return "none", None
        text = bytes(code & 0x7F for code in data)
    strange = sum(
        code < 0x20 and code not in b"\x00\x01\x02\x03\x04\x05\x06\r\n\t" for code in text
    )
    strange += text.count(0) + text.count(0x7F)
    framed = text.count(2) + text.count(1)
    if strange > RUBBISH * len(text) + framed:
        return parity, None
    return parity, text


# --- framing --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Framing:
    """A way to cut the stream: reports as what stands between start and end, and what follows."""

    frame: dict[str, Any]
    reports: list[tuple[bytes, bytes]]
    words: str


def _framings(text: bytes) -> Iterator[_Framing]:
    starts = [code for code in (1, 2) if text.count(code) >= FEWEST]
    if not starts:
        lines = [one for one in re.split(rb"[\r\n]+", text)[1:-1] if one.strip()]
        if len(lines) >= FEWEST:
            yield _Framing(
                {"end": "any"}, [(one, b"") for one in lines], "Reports end with a line end."
            )
        for code, mark in ((3, "ETX"), (4, "EOT")):
            pieces = text.split(bytes([code]))[1:-1]
            if len(pieces) >= FEWEST:
                cut = [(one.strip(b"\r\n"), b"") for one in pieces]
                yield _Framing({"end": mark}, cut, f"Reports end with {mark}.")
    for code in starts:
        start = {1: "SOH", 2: "STX"}[code]
        yield from _started(text, code, start)


def _started(text: bytes, code: int, start: str) -> Iterator[_Framing]:
    head = re.escape(bytes([code]))
    for size in (0, 1, 2):
        found = re.findall(head + rb"([^\x01-\x03\r\n]*)\x03(.{%d})" % size, text, re.DOTALL)
        if len(found) >= FEWEST:
            told = f"Reports stand between {start} and ETX."
            pairs = found if size else [(one, b"") for one, _ in found]
            yield _Framing({"start": start, "end": "ETX"}, pairs, told)
    found = re.findall(head + rb"([^\x01-\x03\r\n]*)[\r\n]", text)
    if len(found) >= FEWEST:
        told = f"Reports begin with {start} and end with a line end."
        yield _Framing({"start": start, "end": "any"}, [(one, b"") for one in found], told)
    yield from _of_one_length(text, code, start)


def _of_one_length(text: bytes, code: int, start: str) -> Iterator[_Framing]:
    """Reports of one length between two starts, with or without an end."""
    chunks = text.split(bytes([code]))[1:-1]
    if not chunks:
        return
    size, times = Counter(map(len, chunks)).most_common(1)[0]
    even = [one for one in chunks if len(one) == size]
    if times < FEWEST or size < 4:
        return
    for mark in ("ETX CR LF", "CR LF", "ETX", "CR", "LF", ""):
        end = mark_bytes(mark)
        if sum(one.endswith(end) for one in even) > 0.9 * len(even):
            cut = [(one[: len(one) - len(end)], b"") for one in even]
            told = (
                f"Reports begin with {start}, are of one length and end with {mark or 'nothing'}."
            )
            yield _Framing({"start": start, "end": mark, "length": size - len(end)}, cut, told)
            return


# --- check and fields -----------------------------------------------------------------------------


def _guesses(
    text: bytes, parity: Parity, unit: Unit, wanted: str, name: str
) -> Iterator[tuple[WireShape, list[str]]]:
    """Every shape worth trying, with what it says in words."""
    for framing in _framings(text):
        for check, bodies, told in _checks(framing, seven=parity != "none"):
            frame = dict(framing.frame)
            printable = [one.decode("ascii") for one in bodies if _PRINTABLE.fullmatch(one)]
            if len(printable) < FEWEST:
                continue
            words = [framing.words, *told]
            if parity != "none":
                frame |= {"seven_bit": True, "parity": parity}
                words.append(f"The eighth bit is parity ({parity}); it is checked.")
            for fields in fields_of(printable, unit, wanted):
                tree: dict[str, Any] = {
                    "shape": 1, "name": name, "title": "Found from the bytes of a scale",
                    "source": "worked out by weighd", "unit": fields.unit, "check": check,
                    "texts": fields.texts, "others": fields.others,
                    "field": fields.parts if frame["end"] else _one_width(fields.parts),
                }  # fmt: skip
                for length in _lengths(printable, fields.texts, fields.others, frame, check):
                    made = _shape({**tree, "frame": {**frame, "length": length}})
                    if made is not None:
                        more = [f"Every report has {length} characters."] if length else []
                        yield made, [*words, *more, *fields.words]


def _one_width(parts: Sequence[Part]) -> list[Part]:
    """Fields without words of other lengths: where nothing ends a report, its length must."""
    out: list[Part] = []
    for part in parts:
        if isinstance(part, UnitWord):
            size = len(next(iter(part.words)))
            words = {word: unit for word, unit in part.words.items() if len(word) == size}
            part = part.model_copy(update={"words": words})
        out.append(part)
    return out


_PRINTABLE = re.compile(rb"[\x20-\x7e]+")


def _shape(tree: dict[str, Any]) -> WireShape | None:
    fields = [one.model_dump() for one in tree["field"]]
    try:
        return WireShape.model_validate({**tree, "field": fields}, strict=False)
    except ValidationError:
        return None


def _lengths(
    bodies: Sequence[str],
    texts: dict[str, Any],
    others: Sequence[str],
    frame: dict[str, Any],
    check: dict[str, Any] | None,
) -> Iterator[int | None]:
    """One length where all reports have it: a lost or an added character then shows."""
    plain = [one for one in bodies if one not in texts and not one.startswith(tuple(others))]
    sizes = Counter(map(len, plain))
    if sizes:
        size, times = sizes.most_common(1)[0]
        if times > 0.6 * len(plain):
            yield size
    must = not frame["end"] or (check and check["written"] == "byte" and not check.get("tail"))
    if not must:
        yield None


def _checks(
    framing: _Framing, *, seven: bool
) -> Iterator[tuple[dict[str, Any] | None, list[bytes], list[str]]]:
    """Checks that fit, each with the reports less the check; at last none."""
    start, end = mark_bytes(framing.frame.get("start", "")), b""
    if framing.frame["end"] != "any":
        end = mark_bytes(framing.frame["end"])
    sized = "length" in framing.frame
    for size, written in ((2, "hex"), (1, "byte")):
        pairs = [_parted(one, size) for one in framing.reports]
        tail = bool(framing.reports[0][1])
        if tail and len(framing.reports[0][1]) != size:
            continue
        whole = [one for one in pairs if one[1]]
        if written == "hex":
            whole = [one for one in whole if re.fullmatch(rb"[0-9A-Fa-f]{2}", one[1])]
        if len(set(whole)) < CHECKED or len(whole) < READS * len(pairs):
            continue
        for kind in ("xor", "sum", "negated sum"):
            for covers in ("data", "start+data", "data+end", "start+data+end"):
                if _fits(whole, kind, covers, start, end, seven and written == "byte"):
                    place = "after end" if tail else "after data"
                    told = f"A check ({kind}, as {written}) guards each: damage is told at once."
                    check = {"kind": kind, "written": written, "covers": covers, "place": place}
                    yield check, [one for one, _ in whole], [told]
                    return
    if sized and framing.frame["end"]:
        return  # the frames without a length say the same with less
    if not framing.reports[0][1]:
        yield None, [one for one, _ in framing.reports], []


def _parted(report: tuple[bytes, bytes], size: int) -> tuple[bytes, bytes]:
    body, tail = report
    return (body, tail) if tail else (body[:-size], body[-size:])


def _fits(
    pairs: Sequence[tuple[bytes, bytes]],
    kind: str,
    covers: str,
    start: bytes,
    end: bytes,
    seven: bool,
) -> bool:
    right = 0
    distinct = set(pairs)
    for data, sent in distinct:
        covered = (start if covers.startswith("start") else b"") + data
        covered += end if covers.endswith("end") else b""
        value = reduce(xor, covered, 0) if kind == "xor" else sum(covered)
        value = (-value if kind == "negated sum" else value) & (0x7F if seven else 0xFF)
        right += value == (sent[0] if len(sent) == 1 else int(sent, 16))
    return right > READS * len(distinct) and right >= CHECKED


def better_known(data: bytes, found: Finding) -> WireShape | None:
    """A shipped shape that reads the stream as well as what was found, and says as much."""
    if found.shape is None:
        return None
    for shape in shipped().values():
        decoder = LineDecoder(shape)
        read = len(decoder.feed(0, data[-MOST:]))
        if (
            read >= found.read
            and decoder.rejected <= found.rejected
            and _as_much(shape, found.shape)
        ):
            return shape
    return None


def _as_much(shape: WireShape, other: WireShape) -> bool:
    return shape.strictness[:3] >= other.strictness[:3] and shape.unit == other.unit
