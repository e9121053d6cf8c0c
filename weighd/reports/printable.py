"""Text that can be put on paper with the fonts at hand, and shows what it is.

1. The fonts are those that come with typst, so that nothing is fetched and the same record gives
   the same sheet everywhere. What they have no picture of stands there as its number, like
   ``<U+1F353>``: the sheet never shows an empty box, and a PDF/A may not.
2. Characters that one cannot see, or that turn the order of what follows about, are told by their
   number too: on paper nobody can look at what is behind them.
3. A long word is given places where it may be broken, so that it does not leave its column.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from typing import Any

#: What the fonts in typst's wheel have between them: a test has typst set all of it.
_COVERED = (
    "20-7e a1-ac ae-34e 350-4ff 510-513 51a-51d 531-556 559-55f 561-587 589-58a 1e00-1fff "
    "2010-2027 2030-2040 2042 2044-2052 2054-205e 2070-209c 20a0-20b5 2100-211e 2120 2122 "
    "2124 2126 212a-2151 2153-2184 2190-23ff 2460-262f 2638-268b 2690-269c 26a0-26a7 26aa-26b2 "
    "2701-2704 2706-2709 270c-2727 2729-274b 274d 274f-2752 2756 2758-275e 2761-277f 2794 "
    "2798-27af 27b1-27bf "
    # Hebrew and Arabic, as far as they are
    "5d0-5ea 5f3-5f4 60c 61b 61f 621-63a 641-655 660-66d 674 679-67b 67e-680 683-684 686-687 691 "
    "698 6a4 6a9 6af 6be 6cc 6f0-6f9"
)
#: Longest run of characters without a place to break it.
_LONGEST = 24
#: Most characters of one text that are shown: what a station takes is shorter.
_MOST = 600
_WORD = re.compile(rf"\S{{{_LONGEST + 1},}}")
_BREAK = "\u200b"
#: What is written from the right is kept from turning about what stands beside it (UAX #9, 2.4).
_ISOLATED = "\u2068{}\u2069"


def _ranges(text: str) -> list[tuple[int, int]]:
    pairs = (one.split("-") for one in text.split())
    return [(int(pair[0], 16), int(pair[-1], 16)) for pair in pairs]


def _covered() -> frozenset[str]:
    """The characters of the ranges that are any."""
    return frozenset(
        chr(one)
        for low, high in _ranges(_COVERED)
        for one in range(low, high + 1)
        if unicodedata.category(chr(one)) not in ("Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp")
    )


COVERED = _covered()


def printable(text: str, *, plain: bool = False) -> str:
    """A text as it can be printed.

    ``plain``  with nothing but ASCII as it is: for the case that typesetting fails all the same.
    """
    if len(text) > _MOST:
        text = f"{text[:_MOST]} \u2026"
    told = " ".join(unicodedata.normalize("NFC", text).split())
    shown = "".join(one if _shows(one, plain=plain) else _number(one) for one in told)
    shown = _WORD.sub(lambda found: _broken(found[0]), shown)
    return _ISOLATED.format(shown) if any(_from_the_right(one) for one in shown) else shown


def printables(value: Any, *, plain: bool = False) -> Any:
    """JSON values with all their texts :func:`printable`; names of fields stay."""
    if isinstance(value, str):
        return printable(value, plain=plain)
    if isinstance(value, Mapping):
        return {key: printables(one, plain=plain) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [printables(one, plain=plain) for one in value]
    return value


def _from_the_right(one: str) -> bool:
    return unicodedata.bidirectional(one) in ("R", "AL")


def _shows(one: str, *, plain: bool) -> bool:
    return " " <= one <= "~" if plain else one in COVERED


def _number(one: str) -> str:
    told = f"U+{ord(one):04X}"
    return f"<{told}>"


def _broken(word: str) -> str:
    return _BREAK.join(word[n : n + _LONGEST] for n in range(0, len(word), _LONGEST))
