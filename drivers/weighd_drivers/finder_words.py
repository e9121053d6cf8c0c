"""Words that scales print, and what they are taken to say when a shape is being worked out.

Common practice, no source. A word that is not here gets its meaning from what the digits do
while it is shown, or none.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from weighd_drivers.shape_parts import Meaning

_STABLE = {"ST", "S", "STABLE", "STAB", "OK", "*", "STB"}
_MOVING = {
    "US", "M", "U", "D", "MV", "MO", "MOTION", "MOVING", "UNSTABLE", "UNSTAB", "DYN", "?", "~",
    "INST", "UST",
}  # fmt: skip
_OVER = {"OL", "O", "OF", "OV", "OVER", "OVERLOAD", "HIGH", "TOO HEAVY", "MAX"}
_UNDER = {"UL", "UN", "UF", "UNDER", "UNDERLOAD", "LOW", "TOO LIGHT"}
_FAULT = {"E", "ER", "ERR", "ERROR", "FAULT", "FA"}

#: What a line is about, by a word at its beginning.
KINDS: Mapping[str, str] = {
    **dict.fromkeys(("G", "GS", "GR", "GROSS", "B", "BRUTTO"), "gross"),
    **dict.fromkeys(("N", "NT", "NET", "NETTO"), "net"),
    **dict.fromkeys(("T", "TR", "TARE", "PT", "TARA"), "tare"),
}
#: Words of one family: where one is shown, the others may be.
FAMILIES: Sequence[Mapping[str, Meaning]] = (
    {"ST": "stable", "US": "moving", "OL": "over", "UL": "under"},
)

_TOKEN = re.compile(r"[A-Za-z]+|[*?~]")


def tokens(text: str) -> list[str]:
    """Words and marks of a text, in capitals."""
    return [one.upper() for one in _TOKEN.findall(text)]


def motion_of(text: str) -> Meaning | None:
    """What a word beside digits says; ``None`` where it is not known."""
    for one in tokens(text):
        if one in _STABLE:
            return "stable"
        if one in _MOVING:
            return "moving"
        found = _grave(one)
        if found:
            return found
    return None


def excuse_of(text: str) -> Meaning | None:
    """Why a report without digits has none; ``None`` where it does not say."""
    found = tokens(text)
    for one in found:
        grave = _grave(one) or ("under" if one == "U" else None)
        if grave:
            return grave
        if re.fullmatch("H{2,}", one):
            return "over"
        if re.fullmatch("L{2,}", one):
            return "under"
    if re.search(r"-{3,}|\.{3,}|_{3,}|={3,}", text) and len(found) <= 4:
        return "fault"
    return None


def _grave(word: str) -> Meaning | None:
    if word in _OVER or word.startswith("OVER"):
        return "over"
    if word in _UNDER or word.startswith("UNDER"):
        return "under"
    return "fault" if word in _FAULT else None


def kind_of(text: str) -> str | None:
    """``gross``, ``net`` or ``tare``, by the words before the digits; ``None`` without one."""
    before = re.split(r"[0-9]", text, maxsplit=1)[0]
    for one in _TOKEN.findall(before):
        if one.upper() in KINDS and not (len(one) == 1 and one.islower()):
            return KINDS[one.upper()]
    return None


def siblings(word: str) -> dict[str, Meaning]:
    """Words that may stand where ``word`` stands: those of its family."""
    for family in FAMILIES:
        for one in family:
            found = re.search(rf"(?<![A-Za-z]){one}(?![A-Za-z])", word)
            if found:
                at, stop = found.span()
                return {word[:at] + other + word[stop:]: said for other, said in family.items()}
    return {}
