"""What a scanned code says: GS1 element strings, GS1 Digital Link addresses, trade numbers, or a
code of somebody's own.

``biip`` takes the codes apart; here is what becomes of it. A check digit that does not fit makes
``biip`` leave the trade number out and say so beside it: that is a misread code, and nothing else
in it is believed. Dates have two digits for the year; the century is the one that puts the year
from 49 before to 50 after the present one (GS1 General Specifications, 7.12, from memory), and a
day 00 is the last of its month. The present year is given: nothing here looks at a clock.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

import biip
from biip.gs1_element_strings import GS1ElementString
from biip.gs1_messages import GS1Message

from weighd.domain import mass
from weighd.domain.days import days_in, read_day

#: ASCII 29, which stands between fields; scanners that type cannot always type it.
SEPARATOR = "\x1d"
_INSTEAD = re.compile(r"\u241d|<GS>|\{GS\}|\[GS\]|\^\]", re.IGNORECASE)
#: Marks of a symbology that carries GS1 data (ISO/IEC 15424, from memory).
_MARKED = re.compile(r"\][A-Za-z][0-9]")
_GS1_MARKS = frozenset({"]C1", "]e0", "]d2", "]Q3", "]J1"})
_BRACKETS = re.compile(r"\((?:01|02)\)\d{14}")
_LONG = re.compile(r"(?:01|02)\d{14}")
_DIGITS = re.compile(r"\d{8}|\d{12,14}")
_CONFIG = biip.ParseConfig(gs1_element_strings_verify_date=False)
LONGEST = 500


@dataclass(frozen=True, slots=True)
class Scan:
    """What a code says; texts are empty and numbers ``None`` where it says nothing.

    ``kind``      ``gs1``, ``gtin`` or ``plain``.
    ``text``      the code without marks of its symbology.
    ``gtin``      14 digits; ``packs``: of a case, how many of them are in it.
    ``net_g``     net weight in grams, where the code carries one.
    ``misread``   what does not fit; then nothing else is to be believed.
    """

    kind: str
    text: str
    gtin: str = ""
    lot: str = ""
    use_by: str = ""
    best_before: str = ""
    produced: str = ""
    packed: str = ""
    serial: str = ""
    net_g: Decimal | None = None
    packs: int | None = None
    misread: str = ""


def read_scan(raw: str, year: int) -> Scan:
    """What a code says. ``year``: the present one. Never raises for what a scanner may type."""
    text = _INSTEAD.sub(SEPARATOR, raw.strip("\r\n\t ")[:LONGEST])
    mark, text = _mark(text)
    shown = text.replace(SEPARATOR, " ").strip()
    if mark in _GS1_MARKS or _LONG.match(text) or SEPARATOR in text:
        return _message(text, shown, year)
    if _BRACKETS.match(text):
        try:
            message = GS1Message.parse_hri(text, config=_CONFIG)
        except (biip.ParseError, ValueError) as error:
            return Scan("gs1", shown, misread=_said(error))
        return _fields(message.element_strings, shown, year)
    if re.match(r"https?://", text, re.IGNORECASE):
        found = _parsed(text)
        link = found and found.gs1_digital_link_uri
        return _fields(link.element_strings, shown, year) if link else Scan("plain", shown)
    if _DIGITS.fullmatch(text):
        found = _parsed(text)
        if found is not None and found.gtin is not None:
            return Scan("gtin", shown, gtin=found.gtin.as_gtin_14())
    return Scan("plain", shown)


def _mark(text: str) -> tuple[str, str]:
    found = _MARKED.match(text)
    return (found[0], text[3:]) if found else ("", text)


def _parsed(text: str) -> biip.ParseResult | None:
    """What ``biip`` makes of a code; ``None`` where it gives up: it tells most errors in its
    answer, but raises for a mark of no symbology, and for an address that is none."""
    try:
        return biip.parse(text, config=_CONFIG)
    except (biip.ParseError, ValueError):
        return None


def _message(text: str, shown: str, year: int) -> Scan:
    found = _parsed(text.strip(SEPARATOR))
    if found is None or found.gs1_message is None:
        return Scan("gs1", shown, misread=_said(found and found.gs1_message_error))
    return _fields(found.gs1_message.element_strings, shown, year)


def _fields(elements: Sequence[GS1ElementString], shown: str, year: int) -> Scan:
    texts: dict[str, str] = {}
    net_g: Decimal | None = None
    packs: int | None = None
    try:
        for one in elements:
            ai = one.ai.ai
            if one.gtin_error or one.sscc_error:
                return Scan("gs1", shown, misread=_said(one.gtin_error or one.sscc_error))
            if ai in ("01", "02"):
                texts["gtin"] = one.value
            elif ai in _TEXTS:
                texts[_TEXTS[ai]] = one.value
            elif ai in _DAYS:
                texts[_DAYS[ai]] = full_day(one.value, year)
            elif ai[:3] == "310" and one.decimal is not None:
                net_g = mass.to_grams(one.decimal, mass.Unit.KG)
            elif ai[:3] == "320" and one.decimal is not None:
                net_g = mass.to_grams(one.decimal, mass.Unit.LB)
            elif ai in ("30", "37"):
                packs = int(one.value)
    except ValueError as error:
        return Scan("gs1", shown, misread=f"{str(error)[:200].rstrip('.')}.")
    return Scan("gs1", shown, net_g=net_g, packs=packs, **texts)


_TEXTS = {"10": "lot", "21": "serial"}
_DAYS = {"11": "produced", "13": "packed", "15": "best_before", "17": "use_by"}


def full_day(yymmdd: str, year: int) -> str:
    """``"280200"`` as ``"2028-02-29"``. Raises ``ValueError`` for what is no day."""
    two, month, day = (int(yymmdd[at : at + 2]) for at in (0, 2, 4))
    ahead = two - year % 100
    century = year - year % 100
    if ahead >= 51:
        century -= 100
    elif ahead <= -50:
        century += 100
    if not 1 <= month <= 12:
        raise ValueError(f"{yymmdd} is not a day")
    return read_day(f"{century + two:04d}-{month:02d}-{day or days_in(century + two, month):02d}")


def _said(error: object) -> str:
    """Why a code cannot be read, in words for whoever holds the scanner."""
    if "check digit" in str(error):
        return "The check digit does not fit: a digit was misread, or mistyped."
    return "The code is cut short, or is not what it says it is."
