"""RFC 8785 canonical JSON: what ``rfc8785`` makes, by the standard library where that is the same.

The encoder of the standard library, in C and some ten times as fast, sorts keys by code point and
writes numbers in Python's way. That differs from RFC 8785 in few places, and each is looked for:

1. characters beyond U+FFFF sort elsewhere in UTF-16 (3.2.3), and half of a pair is no text;
2. numbers with an exponent, and whole ones beyond what a double holds exactly;
3. floats that are whole: ``12.0`` is ``12`` (3.2.2.3), which is put right here.

The first two, and whatever that encoder refuses, are left to ``rfc8785``; so are keys that are no
texts, which it would make into some.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from json.encoder import encode_basestring as text
from typing import Any

import rfc8785

__all__ = ["canonical_text", "text"]

_ENCODER = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
)
_BEYOND = re.compile("[\ud800-\udfff\U00010000-\U0010ffff]")
#: How an exponent looks, in a text too: then nothing is lost but time.
_EXPONENTS = ("e+", "e-")
_ODD = re.compile(r"[:,\[]-?[\d.]+e")
_WHOLE = re.compile(r"\.0[,}\]]")
_TOKEN = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"|-?\d+\.0(?!\d)')
#: Numbers from here on are left to ``rfc8785``: some of them are not exact in a double.
_LARGE = 10**15
_together = "".join


def canonical_text(value: Any) -> str:
    """A JSON value as RFC 8785 writes it. Raises ``ValueError`` for what JSON cannot hold."""
    if not isinstance(value, dict | list) or not _is_plain(value):
        return rfc8785.dumps(value).decode("utf-8")
    try:
        written = _ENCODER.encode(value)
    except (TypeError, ValueError):
        return rfc8785.dumps(value).decode("utf-8")
    if (any(one in written for one in _EXPONENTS) and _ODD.search(written)) or (
        not written.isascii() and _BEYOND.search(written)
    ):
        return rfc8785.dumps(value).decode("utf-8")
    return _TOKEN.sub(_put_right, written) if _WHOLE.search(written) else written


def _is_plain(value: dict[Any, Any] | list[Any] | tuple[Any, ...]) -> bool:
    """Whether all keys are texts and no number is large."""
    inside: Iterable[Any] = value
    if isinstance(value, dict):
        try:
            _together(value)  # refuses what is no text, and is quicker than asking each
        except TypeError:
            return False
        inside = value.values()
    for one in inside:
        if type(one) is str:
            continue
        if isinstance(one, dict | list | tuple):
            if not _is_plain(one):
                return False
        elif isinstance(one, int | float) and not -_LARGE < one < _LARGE:
            return False
    return True


def _put_right(found: re.Match[str]) -> str:
    piece = found[0]
    if piece.startswith('"'):
        return piece
    return "0" if piece == "-0.0" else piece[:-2]
