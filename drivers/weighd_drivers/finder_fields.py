"""From the bodies of some reports to the fields of a wire shape: what stands where.

A body is what stands between start and end, as text. Guesses are cheap here: each is tried on
the whole stream (``finder``), and only what then reads nearly all of it is kept.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Literal

from pydantic import ValidationError

from weighd.domain.mass import Unit
from weighd_drivers.finder_lines import undamaged, weight_lines
from weighd_drivers.finder_status import (
    MOSTLY,
    Cut,
    leading,
    moved_of,
    trailing,
    unit_before,
    unit_words,
)
from weighd_drivers.finder_words import excuse_of
from weighd_drivers.shape_parts import (
    UNIT_WORDS,
    Fixed,
    Meaning,
    Number,
    Part,
    Sign,
    Space,
    UnitWord,
)

_RUN = re.compile(r"[0-9](?:[0-9.,']*[0-9])?")
_RUN_BLANKS = re.compile(r"[0-9]{1,3}(?: [0-9]{3})+(?![0-9])(?:[.,][0-9]+)?|[0-9][0-9.,']*")
_POUNDS = re.compile(
    r"([ +-]*)([ 0-9]*[0-9])( *)(lb|lbs|LB|:)( *)([0-9]*\.?[0-9]+)( *)(oz|OZ|)( *)"
)


@dataclass
class Fields:
    """What was made of the bodies. ``words`` says it for people."""

    parts: list[Part]
    unit: Unit | None = None
    texts: dict[str, Meaning] = field(default_factory=dict)
    others: tuple[str, ...] = ()
    words: list[str] = field(default_factory=list)


def fields_of(bodies: Sequence[str], implied: Unit, wanted: str = "gross") -> list[Fields]:
    """Guesses at the fields, likeliest first. ``wanted``: which of several weights counts."""
    lines, others, told = weight_lines(undamaged(bodies), wanted)
    texts = {
        text: said
        for text in dict.fromkeys(lines)
        if (not re.search("[0-9]", text) or re.search("[-_]{4}", text))
        and (said := excuse_of(text))
    }
    numbered = [one for one in lines if re.search("[0-9]", one) and one not in texts]
    if not numbered:
        return []
    guesses: list[Fields | None] = [_tried(_pounds, numbered)] if _is_pounds(numbered) else []
    if not guesses:
        blanks = (False, True) if any(re.search("[0-9] [0-9]{3}", one) for one in numbered) else ()
        guesses = [
            _tried(partial(_plain, implied=implied, by_blanks=one), numbered)
            for one in blanks or (False,)
        ]
    out: list[Fields] = []
    for one in guesses:
        if one is not None:
            one.texts = dict(list(texts.items())[:16])
            one.others = others
            one.words += told
            if texts:
                one.words.append(f"Without a weight it prints {_listed(texts)}.")
            out.append(one)
    return out


def _tried(guess: Callable[[Sequence[str]], Fields | None], lines: Sequence[str]) -> Fields | None:
    """A guess; none where it makes fields that no shape may have (a word that is too long)."""
    try:
        return guess(lines)
    except ValidationError:
        return None


# --- pounds and ounces --------------------------------------------------------------------------


def _is_pounds(lines: Sequence[str]) -> bool:
    found = [_POUNDS.fullmatch(one) for one in lines]
    fit = [one for one in found if one and (one[4] != ":" or one[8] == "")]
    fit = [one for one in fit if one[4] == ":" or one[8]]
    return len(fit) > 0.5 * len(lines) and all(float(one[6]) < 16 for one in fit)


def _pounds(lines: Sequence[str]) -> Fields:
    found = [one for line in lines if (one := _POUNDS.fullmatch(line))]
    first = found[0]
    places = {len(one[6].partition(".")[2]) for one in found}
    parts: list[Part] = [Sign(blank=True, optional=True)]
    parts.append(Number(sign=False, point="none", unit=Unit.LB))
    if any(one[3] for one in found):
        parts.append(Space())
    parts.append(Fixed(text=first[4]))
    sizes = {len(one[6]) for one in found}
    filled = any(re.match("0[0-9]", one[6]) for one in found)
    parts.append(
        Number(
            sign=False,
            unit=Unit.OZ,
            places=places.pop() if len(places) == 1 else None,
            width=sizes.pop() if filled and len(sizes) == 1 else None,
        )
    )
    if first[8]:
        parts += [Space(), Fixed(text=first[8])]
    return Fields(parts, words=["It shows pounds and ounces; they are added up."])


# --- one number ----------------------------------------------------------------------------------


def _plain(lines: Sequence[str], implied: Unit, *, by_blanks: bool) -> Fields | None:
    cuts = _cut(lines, _RUN_BLANKS if by_blanks else _RUN)
    if not cuts:
        return None
    ending = [one for one in cuts if one.before[-1:].isdigit()]
    if 0.2 < len(ending) / len(cuts) < 0.8:
        return None  # part of the digits would be taken for a word
    if len(ending) < 0.5 * len(cuts):
        cuts = [one for one in cuts if not one.before[-1:].isdigit()]
    cuts = _in_columns(cuts)
    number, words = _number(cuts, by_blanks=by_blanks)
    behind = _sign_behind(cuts)
    if behind:
        cuts = [Cut(one.before, one.pad, one.run, one.behind[1:]) for one in cuts]
        number[-1] = _unsigned(number[-1])
        number.append(Sign(blank=True))
        words.append("The sign stands behind the digits.")
    before, unit, after = _after(cuts, implied)
    if before:
        kept = [bool(unit_before(one.before)) for one in cuts]
        cuts = [one for one, keep in zip(cuts, kept, strict=True) if keep]
        after.rest[:] = [one for one, keep in zip(after.rest, kept, strict=True) if keep]
    moved = moved_of(cuts)
    lead = leading([one.before for one in cuts], moved, before, words)
    if lead is None:
        return None
    tail = trailing(after.rest, moved, words)
    if tail is None:
        return None
    words.append(after.words)
    return Fields([*lead, *number, *after.parts, *tail], unit, words=words)


def _cut(lines: Sequence[str], pattern: re.Pattern[str]) -> list[Cut]:
    """Each line cut at the number that is the weight: the one before a unit, else one with a
    point, else the last; the same one from the right in all of them."""
    found = [list(pattern.finditer(line)) for line in lines]
    votes: Counter[int] = Counter()
    for line, runs in zip(lines, found, strict=True):
        for n, run in enumerate(reversed(runs)):
            unit = re.match(r" *[+-]? ?([A-Za-z]+)", line[run.end() :])
            votes[n] += 4 * bool(unit and unit[1] in UNIT_WORDS) + 2 * bool(
                re.search("[.,]", run[0])
            )
            votes[n] += n == 0
    chosen = votes.most_common(1)[0][0]
    cuts = []
    for line, runs in zip(lines, found, strict=True):
        if chosen < len(runs):
            run = runs[-1 - chosen]
            before = line[: run.start()].rstrip(" +-")
            cuts.append(Cut(before, line[len(before) : run.start()], run[0], line[run.end() :]))
    return cuts


def _in_columns(cuts: list[Cut]) -> list[Cut]:
    """Words of several lengths filled up, where the digits so come to stand in one column."""
    sizes = {len(one.before) for one in cuts}
    ends = {len(one.before) + len(one.pad) + len(one.run) for one in cuts}
    widths = {len(one.pad) + len(one.run) for one in cuts}
    if len(sizes) > 1 and len(ends) == 1 and len(widths) > 1:
        most = max(sizes)
        lines = [(one, (one.before + one.pad)) for one in cuts]
        return [Cut(text[:most], text[most:], one.run, one.behind) for one, text in lines]
    return cuts


def _number(cuts: Sequence[Cut], *, by_blanks: bool) -> tuple[list[Part], list[str]]:
    """The number, with a sign in a place of its own before it where there is one."""
    runs = [one.run for one in cuts]
    point, thousands, places = _marks(runs)
    if by_blanks:
        thousands = " "
    widths = Counter(len(one.pad) + len(one.run) for one in cuts)
    width, times = widths.most_common(1)[0]
    fixed = times > 0.85 * len(cuts) and (len(set(map(len, runs))) > 1 or times == len(cuts))
    words = [_how_written(point, thousands, places)]
    if not fixed or width > 32:
        return [_made(point, thousands, places, None, sign=True)], words
    pads = [one.pad for one in cuts if len(one.pad) + len(one.run) == width]
    at, gap = _sign_place(pads)
    if at < 0:
        return [_made(point, thousands, places, width, sign=True, gap=gap)], words
    words.append("The sign has a place of its own before them.")
    blank = any(one[at : at + 1] == " " for one in pads)
    lead: list[Part] = [Space(least=at, most=at)] if at else []
    number = _made(point, thousands, places, width - at - 1, sign=False)
    return [*lead, Sign(blank=blank), number], words


def _sign_place(pads: Sequence[str]) -> tuple[int, bool]:
    """The column of a sign that has a place of its own, else -1; and whether a sign that moves
    with the digits may have blanks behind it."""
    signed = [one for one in pads if one.strip()]
    columns = {len(one) - len(one.lstrip(" ")) for one in signed}
    apart = any(one[-1] == " " for one in signed)
    if len(columns) == 1:
        at = columns.pop()
        if all(one[at : at + 1] in {"+", "-", " "} for one in pads) and (
            apart or len(signed) == len(pads)
        ):
            return at, False
    return -1, not signed or apart


def _made(
    point: Literal[".", ",", "none"],
    thousands: str,
    places: int | None,
    width: int | None,
    *,
    sign: bool,
    gap: bool = False,
) -> Number:
    return Number.model_validate(
        {"point": point, "thousands": thousands, "places": places or None, "width": width}
        | {"sign": sign, "gap": gap}
    )


def _unsigned(part: Part) -> Part:
    assert isinstance(part, Number)
    return part.model_copy(update={"sign": False, "gap": False})


def _marks(runs: Sequence[str]) -> tuple[Literal[".", ",", "none"], str, int | None]:
    """Decimal mark, what groups thousands, and the number of decimals where it is always one."""
    point: Literal[".", ",", "none"] = "none"
    thousands = ""
    both = [one for one in runs if "." in one and "," in one]
    if len(both) > 0.02 * len(runs):
        point = "." if both[0].rfind(".") > both[0].rfind(",") else ","
        thousands = "," if point == "." else "."
    else:
        for mark in (".", ","):
            have = [one for one in runs if mark in one]
            groups = sum(map(_is_group, have))
            small = sum(mark not in one and len(one) < 4 for one in runs)
            if have and groups > 0.9 * len(have) and small > 0.9 * (len(runs) - len(have)) > 0:
                thousands = mark
            elif len(have) > 0.5 * len(runs):
                point = "." if mark == "." else ","
    if sum("'" in one for one in runs) > 0.02 * len(runs):
        thousands = "'"
    places = Counter(len(one.rpartition(point)[2]) if point in one else 0 for one in runs)
    most, times = places.most_common(1)[0]
    return point, thousands, most if times > 0.85 * len(runs) else None


def _is_group(run: str) -> bool:
    return bool(re.fullmatch(r"[1-9][0-9]{0,2}(?:[.,][0-9]{3})+", run))


def _how_written(point: str, thousands: str, places: int | None) -> str:
    mark = {".": "a point", ",": "a comma", "none": "no decimal mark"}[point]
    text = f"Digits with {mark}"
    if places:
        text += f" and {places} decimal{'s' if places > 1 else ''}"
    return text + (f", in groups of three ({thousands!r})." if thousands else ".")


def _sign_behind(cuts: Sequence[Cut]) -> bool:
    """Whether a sign stands behind the digits; it then has a place in every line."""
    marks = Counter(one.behind[:1] for one in cuts)
    return marks["-"] > 0 and marks["-"] + marks["+"] + marks[" "] > 0.95 * len(cuts)


# --- the unit --


@dataclass(frozen=True)
class _After:
    parts: list[Part]
    rest: list[str]
    words: str


def _after(cuts: Sequence[Cut], implied: Unit) -> tuple[bool, Unit | None, _After]:
    """Whether the unit stands before, the implied one, and what stands after the digits."""
    found = [re.fullmatch(r"([ ,;]*)([A-Za-z]+)?(.*)", one.behind, re.DOTALL) for one in cuts]
    units = [one[2] if one and one[2] in UNIT_WORDS else "" for one in found]
    have = [one for one in units if one]
    if not have:
        before = sum(bool(unit_before(one.before)) for one in cuts) > MOSTLY * len(cuts)
        told = (
            "The unit stands before them."
            if before
            else (
                f"No line shows a unit: {implied} is taken; change it if the display shows another."
            )
        )
        return before, None if before else implied, _After([], [one.behind for one in cuts], told)
    gaps = [one[1] for one, unit in zip(found, units, strict=True) if one and unit]
    gap = Counter(gaps).most_common(1)[0][0]
    rests = [one[3] if one else "" for one in found]
    parts: list[Part] = [Space(least=len(gap), most=len(gap))] if gap else []
    if gap.strip():
        parts = [Fixed(text=gap)]
    if len(have) > 0.95 * len(units):
        parts.append(UnitWord(words=unit_words(have)))
        return (
            False,
            None,
            _After(parts, rests, f"The unit stands behind them: {_listed(set(have))}."),
        )
    word = Counter(have).most_common(1)[0][0]
    size = len(gap) + len(word)
    blank = [one.behind for one, unit in zip(cuts, units, strict=True) if not unit]
    told = f"The unit ({word}) is shown only when stable."
    words = {word: UNIT_WORDS[word]}
    if all(one[:size] == " " * size for one in blank):
        parts.append(UnitWord(words=words, width=len(word), only_when_stable=True))
        rests = [
            rest if unit else one.behind[size:]
            for one, unit, rest in zip(cuts, units, rests, strict=True)
        ]
    else:
        parts = [Space(most=max(len(gap), 1)), UnitWord(words=words, only_when_stable=True)]
        rests = [rest if unit else "" for unit, rest in zip(units, rests, strict=True)]
    return False, UNIT_WORDS[word], _After(parts, rests, told)


def _listed(words: object) -> str:
    assert isinstance(words, dict | set)
    return ", ".join(repr(one.strip()) for one in sorted(words))
