"""Which lines of a scale carry the weight, and which stand beside it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from weighd_drivers.finder_words import excuse_of, kind_of

_DATE = re.compile(r"[0-9]{1,4}[./:-][0-9]{1,2}[./:-][0-9]{2,4}")


def undamaged(bodies: Sequence[str]) -> list[str]:
    """The bodies without those of a kind that hardly ever comes: most likely damaged."""
    kinds = [re.sub(" +", " ", re.sub("[0-9]+", "9", one)) for one in bodies]
    count = Counter(kinds)
    least = 1 if len(bodies) < 20 else max(2, len(bodies) // 50)
    return [one for one, kind in zip(bodies, kinds, strict=True) if count[kind] >= least]


def weight_lines(bodies: list[str], wanted: str) -> tuple[list[str], tuple[str, ...], list[str]]:
    """The lines that carry the weight, how the others begin, and that in words."""
    kinds = {body: kind_of(body) for body in bodies}
    count = Counter(kinds[one] for one in bodies if kinds[one] and re.search("[0-9]", one))
    told: list[str] = []
    aside: list[str] = []
    if len([one for one in count.values() if one >= 2]) > 1:
        keep = next(one for one in (wanted, "gross", "net") if count[one] >= 2)
        aside = [one for one in bodies if kinds[one] not in (None, keep)]
        told.append(
            f"It prints {' and '.join(sorted(str(one) for one in count))}; only {keep} counts."
        )
        marked = [one for one in bodies if kinds[one] == keep]
        # Beside lines with such a word, those without one are no weights.
        aside += [one for one in bodies if kinds[one] is None and excuse_of(one) is None]
        bodies = [one for one in bodies if kinds[one] == keep or kinds[one] is None]
        bodies = [one for one in bodies if one in set(marked) or one not in set(aside)]
    dated = [one for one in bodies if _DATE.search(one) and re.match("[A-Za-z]", one)]
    bodies, aside = [one for one in bodies if one not in set(dated)], aside + dated
    bodies, more = _rulers(bodies)
    aside += more
    begins = {_beginning(one, bodies) for one in aside} - {""}
    short = {one for one in begins if not any(one != o and one.startswith(o) for o in begins)}
    return bodies, tuple(sorted(short)[:32]), told


def _rulers(bodies: list[str]) -> tuple[list[str], list[str]]:
    """Lines of no digits that come with every report are an ornament, not an excuse."""
    count = Counter(bodies)
    # An excuse stays for a while; an ornament never comes twice running.
    again = Counter(one for one, other in pairwise(bodies) if one == other)
    plain = {
        one
        for one, times in count.items()
        if not re.search("[0-9]", one) and times >= 3 and again[one] <= 0.1 * times
    }
    return [one for one in bodies if one not in plain], list(plain)


def _beginning(line: str, kept: Sequence[str]) -> str:
    """How ``line`` begins, as long as no line that is kept begins so."""
    found = re.match(r"[^0-9+-]*[^0-9+\- ]", line) or re.match(r"[^0-9]+", line)
    text = found[0] if found else ""
    return "" if not text or any(one.startswith(text) for one in kept) else text
