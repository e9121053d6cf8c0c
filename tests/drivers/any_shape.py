"""Shapes of any kind and reports of them, for Hypothesis: what nobody prints, and somebody may."""

from __future__ import annotations

from functools import reduce
from operator import xor
from typing import Any

from hypothesis import reject
from hypothesis import strategies as st
from pydantic import ValidationError

from weighd.domain.mass import Unit
from weighd_drivers.shapes import (
    Fixed,
    Ignored,
    Number,
    Part,
    Sign,
    Space,
    Status,
    UnitWord,
    WireShape,
    mark_bytes,
)

WORDS = ["S", "ST", "M", "MO", "O", "U ", "?", "12", " "]
MEANINGS = ["stable", "moving", "over", "under", "nothing", "stable zero", "fault"]
UNITS = [{"g": Unit.G}, {"g": Unit.G, "kg": Unit.KG}, {"lb": Unit.LB, "oz": Unit.OZ}]
PRINTABLE = "".join(map(chr, range(0x20, 0x7F)))
few = st.integers(0, 3)

statuses = st.dictionaries(st.sampled_from(WORDS), st.sampled_from(MEANINGS), min_size=1).map(
    lambda words: {"kind": "status", "words": words}
)
literals = st.sampled_from([" ", ",", "G", ": ", "1"]).map(
    lambda text: {"kind": "literal", "text": text}
)
spaces = st.tuples(few, few).map(
    lambda one: {"kind": "space", "least": one[0], "most": max(1, *one)}
)
ignored = st.tuples(st.integers(1, 3), st.sampled_from(["", " 0", "ab,"])).map(
    lambda one: {"kind": "ignored", "width": one[0], "among": one[1]}
)
signs = st.tuples(st.booleans(), st.booleans()).map(
    lambda one: {"kind": "sign", "blank": one[0], "optional": one[1]}
)
units = st.fixed_dictionaries(
    {
        "kind": st.just("unit"),
        "words": st.sampled_from(UNITS),
        "width": st.sampled_from([None, None, 2, 4]),
        "only_when_stable": st.booleans(),
        "optional": st.booleans(),
    }
)
missing = st.dictionaries(
    st.sampled_from(["--", "----", "OL", "Inf", "- -"]), st.sampled_from(MEANINGS), max_size=2
)
numbers = st.fixed_dictionaries(
    {
        "kind": st.just("number"),
        "width": st.sampled_from([None, 4, 6, 8]),
        "sign": st.booleans(),
        "point": st.sampled_from([".", ",", "either", "none"]),
        "places": st.sampled_from([None, None, 0, 1]),
        "thousands": st.sampled_from(["", "", ",", " ", "'"]),
        "gap": st.booleans(),
        "missing": missing,
    }
)
frames = st.fixed_dictionaries(
    {
        "start": st.sampled_from(["", "", "STX", "LF", "STX 0x01"]),
        "end": st.sampled_from(["any", "CR", "LF", "CR LF", "ETX", "", "ETX CR LF"]),
        "length": st.none(),
        "seven_bit": st.booleans(),
        "parity": st.sampled_from(["none", "even"]),
    }
)
checks = st.fixed_dictionaries(
    {
        "kind": st.sampled_from(["xor", "sum", "negated sum"]),
        "written": st.sampled_from(["byte", "hex"]),
        "covers": st.sampled_from(["data", "start+data", "data+end", "start+data+end"]),
        "place": st.sampled_from(["after data", "after end"]),
    }
)


@st.composite
def shapes(draw: st.DrawFn) -> WireShape:
    """A shape with one number and whatever else around it, mended where it contradicts itself."""
    around = st.lists(st.one_of(statuses, literals, spaces, ignored, signs, units), max_size=3)
    fields: list[dict[str, Any]] = []
    for one in [*draw(around), draw(numbers), *draw(around)]:
        if one["kind"] in {"sign", "unit"} and any(each["kind"] == one["kind"] for each in fields):
            continue
        fields.append(one)
    signed = any(one["kind"] == "sign" for one in fields)
    fields = [_number(one, signed=signed) if one["kind"] == "number" else one for one in fields]
    if draw(st.integers(0, 3)) == 0:
        fields = [_of_one_width(one) for one in fields]
    least, most = _sizes(fields)
    frame, check = draw(frames), draw(st.one_of(st.none(), checks))
    given = {"texts": draw(st.sampled_from([{}, {}, {"OVER": "over"}, {"------": "under"}]))}
    if frame["end"] == "" and least != most:
        frame["end"] = "CR"
    if frame["end"] == "" or draw(st.integers(0, 2)) == 0:
        frame["length"] = draw(st.integers(max(1, least), max(1, min(most, least + 9))))
    if frame["start"] == "LF" and frame["end"] != "ETX":
        frame["end"] = "CR"
    if not frame["seven_bit"]:
        frame["parity"] = "none"
    if check is not None and frame["end"] == "":
        check["place"] = "after data"
    if frame["end"] == "" or (check is not None and check["place"] == "after end"):
        frame["start"] = frame["start"] or "STX"
    inner = check is not None and (check["place"], check["written"]) == ("after data", "byte")
    if inner:
        frame["length"] = frame["length"] or draw(st.integers(max(1, least), max(1, least + 6)))
    if inner or frame["end"] == "":
        given["texts"] = {}
    given |= {"name": "any", "unit": Unit.G, "field": fields, "frame": frame, "check": check}
    try:
        return WireShape.model_validate(given, strict=False)
    except ValidationError:
        reject()


def _number(one: dict[str, Any], *, signed: bool) -> dict[str, Any]:
    """A number that does not contradict itself."""
    one = dict(one)
    one["sign"] = one["sign"] and not signed
    one["gap"] = bool(one["gap"] and one["width"] and one["sign"])
    if one["point"] == "none":
        one["places"] = None
    if one["thousands"] and one["thousands"] in {"either": ".,"}.get(one["point"], one["point"]):
        one["thousands"] = ""
    return one


def _of_one_width(one: dict[str, Any]) -> dict[str, Any]:
    """The field with one width, as an end that is none needs it."""
    match one["kind"]:
        case "status":
            size = len(next(iter(one["words"])))
            words = {word: said for word, said in one["words"].items() if len(word) == size}
            return one | {"words": words}
        case "space":
            return one | {"least": one["most"]}
        case "sign":
            return one | {"optional": False}
        case "unit" if len(one["words"]) > 1:
            return one | {"words": UNITS[2]}
        case "unit":
            return one | {"optional": False, "only_when_stable": False}
        case "number":
            return one | {"width": one["width"] or 6, "missing": {}}
    return one


def _sizes(fields: list[dict[str, Any]]) -> tuple[int, int]:
    """The least and the greatest number of characters of these fields."""
    shape = WireShape.model_validate(
        {"name": "sizes", "unit": Unit.G, "field": fields}, strict=False
    )
    return shape.span


@st.composite
def reports(draw: st.DrawFn, shape: WireShape) -> bytes:
    """A report of a shape, or nearly."""
    text = "".join(draw(texts(part)) for part in shape.field)
    if shape.texts and draw(st.integers(0, 5)) == 0:
        text = draw(st.sampled_from(sorted(shape.texts)))
    data = text.encode("ascii")
    start = mark_bytes(shape.frame.start)
    any_end = shape.frame.end == "any"
    end = b"" if any_end else mark_bytes(shape.frame.end)
    check, sent = shape.check, b""
    if check is not None:
        covered = data
        if check.covers.startswith("start"):
            covered = start + covered
        if check.covers.endswith("end"):
            covered += end
        value = reduce(xor, covered, 0) if check.kind == "xor" else sum(covered)
        value = (-value if check.kind == "negated sum" else value) & 0xFF
        if shape.frame.seven_bit and check.written == "byte":
            value &= 0x7F
        sent = bytes([value]) if check.written == "byte" else b"%02X" % value
    ending = draw(st.sampled_from([b"\r", b"\n", b"\r\n"])) if any_end else end
    after = check is not None and check.place == "after end"
    whole = start + data + (ending + sent if after else sent + ending)
    if shape.frame.parity == "even":
        return bytes(code | 0x80 if code.bit_count() % 2 else code for code in whole)
    return whole


def texts(part: Part) -> st.SearchStrategy[str]:
    """What may stand in a field."""
    match part:
        case Status():
            return st.sampled_from(sorted(part.words))
        case Fixed():
            return st.just(part.text)
        case Space():
            return st.integers(part.least, part.most).map(lambda n: " " * n)
        case Ignored():
            among = part.among or "0 9.g-xS"
            return st.text(among, min_size=part.width, max_size=part.width)
        case Sign():
            return st.sampled_from(["-", "+"] + [" "] * part.blank + [""] * part.optional)
        case UnitWord():
            words = sorted(part.words) + [""] * (part.optional or part.only_when_stable)
            return st.sampled_from([word.ljust(part.width or 0) for word in words])
        case Number():
            point = {"either": ",", "none": ""}.get(part.point, part.point)
            size = st.integers(0, 99999).map(lambda n: _digits(n, point, part))
            other = st.sampled_from([*sorted(part.missing), "1 2", ""])
            return st.integers(0, 9).flatmap(lambda n: other if n == 9 else size)


def _digits(n: int, point: str, part: Number) -> str:
    places = part.places if part.places is not None else n % 3 if point else 0
    whole = f"{n // 10 ** (n % 4):,}".replace(",", part.thousands)
    text = whole + (point + "7" * places if places else "")
    if part.sign and n % 2:
        text = "-" + text
    return text.rjust(part.width or 0)
