"""Patterns for the fields of a wire shape, and which characters may stand in each."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import TypeVar

from weighd_drivers.shape_parts import (
    MOST_BLANKS,
    MOST_DECIMALS,
    MOST_DIGITS,
    PRINTABLE,
    Fixed,
    Ignored,
    Number,
    Part,
    Sign,
    Space,
    Status,
    UnitWord,
    span,
)

_Value = TypeVar("_Value")


def as_bytes(words: Mapping[str, _Value]) -> dict[bytes, _Value]:
    return {word.encode("ascii"): value for word, value in words.items()}


def quoted(text: bytes) -> str:
    return re.escape(text).decode("latin-1")


def either(words: Iterable[str]) -> str:
    """One of ``words``, the longest that fits."""
    return "|".join(re.escape(word) for word in sorted(words, key=len, reverse=True))


def part_text(part: Part, *, exact: bool) -> str:
    """One field as a pattern without groups; an alternation in it needs some around it.

    ``exact``: nothing but the fields' widths ends a report, so that a unit has the width of its
    words. Else it is any word, and one that is not known is told as such.
    """
    match part:
        case Status():
            return either(part.words)
        case Fixed():
            return quoted(part.text.encode("ascii"))
        case Space():
            return f" {{{part.least},{part.most}}}"
        case Ignored():
            among = re.escape(part.among) if part.among else "\x20-\x7e"
            return f"[{among}]{{{part.width}}}"
        case Sign():
            return f"[+\\-{' ' if part.blank else ''}]{'?' if part.optional else ''}"
        case Number():
            return missing_text(part) + number_text(part, exact=exact)
        case UnitWord():
            if part.width:
                return f"[\x21-\x7e ]{{{part.width}}}"
            if exact:
                return either(part.words)
            optional = part.only_when_stable or part.optional
            return "(?:[A-Za-z]{1,6})?" if optional else "[A-Za-z]{1,6}"


def missing_text(number: Number) -> str:
    """What stands in the place of digits, right-aligned like these, as alternatives."""
    if not number.missing:
        return ""
    if number.width:
        return f"{either({text.rjust(number.width) for text in number.missing})}|"
    signed = f"(?: {{0,{MOST_BLANKS}}}[+-])?" if number.sign else ""
    return f"{signed} {{0,{MOST_BLANKS}}}(?:{either(number.missing)})|"


def number_text(number: Number, *, exact: bool) -> str:
    """The digits with sign and point, as a pattern; ``exact`` as in :func:`part_text`."""
    point = {".": "[.]", ",": ",", "either": "[.,]", "none": ""}[number.point]
    decimals = _decimals(number, point)
    sign = "[+-]?" if number.sign else ""
    if number.width is None:
        blanks = f" {{0,{MOST_BLANKS}}}"
        signed = f"(?:{blanks}[+-])?" if number.sign else ""
        bare = "(?!0[0-9])" if number.places is not None else ""
        return f"{signed}{blanks}{bare}{_whole_digits(number)}{decimals}"
    apart = " *" if number.gap else ""
    if number.thousands or number.places is not None:
        if exact or number.thousands:
            return _written_out(number, point)
        return f"(?= *{sign}{apart}{_whole_digits(number)}{decimals}(?![0-9]))" + (
            _inside(number, point)
        )
    # Right-aligned: the last character is a digit; Decimal refuses what else is out of order.
    return f"(?= *{sign}{apart}[0-9])" + _inside(number, point)


def _written_out(number: Number, point: str) -> str:
    """A padded number by all the lengths it may have: looking ahead would look beyond its field,
    where nothing stands that ends the report, and not see what is wrong behind its decimals."""
    assert number.width is not None
    places = range(MOST_DECIMALS + 1) if number.places is None and point else [number.places or 0]
    out = []
    for decimals in places:
        tail = f"{point}[0-9]{{{decimals}}}" if decimals else ""
        room = number.width - (decimals + 1 if decimals else 0)
        for size in range(1, room + 1):
            first = (size - 1) % 4 + 1 if number.thousands else size
            if first > (3 if number.thousands else MOST_DIGITS):
                continue
            groups = f"(?:{re.escape(number.thousands)}[0-9]{{3}}){{{(size - first) // 4}}}"
            whole = f"[0-9]{{{first}}}" + (groups if number.thousands else "") + tail
            blanks = room - size
            out.append(f" {{{blanks}}}{whole}")
            if number.sign and blanks:
                most = blanks if number.gap else 1
                out += [f" {{{blanks - 1 - n}}}[+-] {{{n}}}{whole}" for n in range(most)]
    return f"(?:{'|'.join(out)})" if out else "(?!)"


def _inside(number: Number, point: str) -> str:
    inside = " 0-9" + point.strip("[]") + re.escape(number.thousands)
    inside += "+-" if number.sign else ""
    assert number.width is not None
    return f"[{inside}]{{{number.width - 1}}}[0-9]"


def _decimals(number: Number, point: str) -> str:
    if number.places is not None:
        return f"{point}[0-9]{{{number.places}}}" if number.places else ""
    return f"(?:{point}[0-9]{{1,{MOST_DECIMALS}}})?" if point else ""


def _whole_digits(number: Number) -> str:
    plain = f"[0-9]{{1,{MOST_DIGITS}}}"
    if not number.thousands:
        return plain
    return f"[0-9]{{1,3}}(?:{re.escape(number.thousands)}[0-9]{{3}}){{0,3}}"


def begins_later(words: Sequence[str], parts: Sequence[Part]) -> bool:
    """Whether one of ``words``, of the first field, may also begin further on in a report."""
    within = [characters(part) for part in parts]
    for n, part in enumerate(parts):
        follows: set[str] = set()
        for later, stand in zip(parts[n + 1 :], within[n + 1 :], strict=True):
            follows |= stand
            if span(later)[0]:
                break
        if isinstance(part, Status | Fixed | UnitWord):
            texts = [part.text] if isinstance(part, Fixed) else list(part.words)
            tails = {text[at:] for text in texts for at in range(1 if n == 0 else 0, len(text))}
            if any(
                tail.startswith(word) or (word.startswith(tail) and word[len(tail)] in follows)
                for word in words
                for tail in tails
            ):
                return True
        elif any(
            word[0] in within[n] and (len(word) == 1 or word[1] in within[n] | follows)
            for word in words
        ):
            return True
    return False


def characters(part: Part) -> set[str]:
    """Every character that may stand in a field."""
    match part:
        case Status():
            return set("".join(part.words))
        case Fixed():
            return set(part.text)
        case Space():
            return {" "}
        case Sign():
            return set("+- ")
        case Number():
            return set("0123456789.,+- " + part.thousands).union(*part.missing)
        case UnitWord():
            return set("".join(part.words)) | {" "}
        case Ignored():
            return set(part.among or PRINTABLE)
