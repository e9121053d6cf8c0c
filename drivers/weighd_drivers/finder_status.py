"""What stands before and behind the digits: words of a status, texts, and the unit."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from weighd.domain.mass import Unit
from weighd_drivers.finder_words import motion_of, siblings
from weighd_drivers.shape_parts import (
    UNIT_WORDS,
    Fixed,
    Ignored,
    Meaning,
    Part,
    Space,
    Status,
    UnitWord,
)

#: At most so many different words are taken for words of a status.
MOST_WORDS = 12
#: What so large a part of the lines has in common, all have that are not damaged.
MOSTLY = 0.8
#: A number without decimals, a date, a time, or both.
_COUNTER = re.compile(
    r"[0-9]+(?:[:./-][0-9]+[:./-][0-9]+)?(?: [0-9]+:[0-9]+(?::[0-9]+)?)?(?![.,]?[0-9])"
)
#: Units that a scale may be switched to.
FAMILY = ("g", "kg", "oz", "lb")


@dataclass(frozen=True)
class Cut:
    """A line cut at its number: before it, blanks and sign, the digits, and after it."""

    before: str
    pad: str
    run: str
    behind: str


def unit_words(seen: Sequence[str]) -> dict[str, Unit]:
    """The units seen, and those a scale may be switched to, where they are written alike."""
    count = Counter(seen)
    words = {one: UNIT_WORDS[one] for one, times in count.items() if times > 1 or len(count) == 1}
    for one in FAMILY:
        alike = one if all(word.islower() for word in words) else one.upper()
        if alike in UNIT_WORDS and UNIT_WORDS[alike] not in words.values():
            words[alike] = UNIT_WORDS[alike]
    return words


def unit_before(text: str) -> str | None:
    found = re.search(r"(?:^|[^A-Za-z])([A-Za-z]+)[ ,:]*$", text)
    return found[1] if found and found[1] in UNIT_WORDS and found[1] != "G" else None


def moved_of(cuts: Sequence[Cut]) -> list[bool]:
    """Whether each line shows another number than the one before it."""
    shown = [one.pad.strip() + one.run for one in cuts]
    return [False, *(a != b for a, b in pairwise(shown))]


def leading(
    texts: Sequence[str],
    moved: Sequence[bool],
    unit: bool,
    told: list[str],
) -> list[Part] | None:
    """What stands before the digits: words, or texts with a counter in them, or the unit."""
    after: list[Part] = []
    if unit:
        units = [unit_before(one) or "" for one in texts]
        ends = [one.rindex(word) for one, word in zip(texts, units, strict=True)]
        behind = {one[at + len(w) :] for one, at, w in zip(texts, ends, units, strict=True)}
        after.append(UnitWord(words=unit_words(units)))
        if len(behind) > 1:
            return None
        after += [Fixed(text=one) for one in behind if one]
        texts = [one[:at] for one, at in zip(texts, ends, strict=True)]
    most, times = Counter(texts).most_common(1)[0]
    if times > MOSTLY * len(texts) and not siblings(most):
        if _holds_unit(most):
            return None
        return [Fixed(text=most), *after] if most else after
    counted = _without_counter(texts)
    if not any(counted[1]):
        return [*counted[0], *after]
    words = _status(counted[1], moved, told)
    return None if words is None else [*counted[0], words, *after]


def _without_counter(texts: Sequence[str]) -> tuple[list[Part], list[str]]:
    """A number that counts up at the beginning, or a time, says nothing of the weight."""
    found = [_COUNTER.match(one) for one in texts]
    sizes = {len(one[0]) if one else 0 for one in found}
    if len(sizes) == 1 and 0 not in sizes and len({one[0] for one in found if one}) > 4:
        size = sizes.pop()
        return [Ignored(width=size, among="0123456789 :./-")], [one[size:] for one in texts]
    return [], list(texts)


def trailing(texts: Sequence[str], moved: Sequence[bool], told: list[str]) -> list[Part] | None:
    count = Counter(texts)
    blank = [one for one in count if not one.strip()]
    if sum(count[one] for one in blank) > MOSTLY * len(texts):
        sizes = [len(one) for one in blank if count[one] > 1 or len(texts) < 20]
        return [Space(least=min(sizes), most=max(sizes))] if any(sizes) else []
    most, times = count.most_common(1)[0]
    if times > MOSTLY * len(texts) and motion_of(most) is None and not _holds_unit(most):
        return [Fixed(text=most)]
    words = _status(texts, moved, told)
    return None if words is None else [words]


def _holds_unit(text: str) -> bool:
    """Whether a unit stands in a text: it would be lost there."""
    return any(one in UNIT_WORDS and one not in {"G", "t"} for one in re.findall("[A-Za-z]+", text))


def _status(texts: Sequence[str], moved: Sequence[bool], told: list[str]) -> Status | None:
    """The words of a status, each with what it says."""
    count = Counter(texts)
    least = 2 if len(texts) >= 20 else 1
    often = [one for one, times in count.most_common(MOST_WORDS) if times >= least and one]
    if not often or sum(count[one] for one in often) < 0.8 * len(texts):
        return None
    if any(re.search(r"^[+-]|[+-]$", one.strip()) or _holds_unit(one) for one in often):
        return None  # a sign or a unit is no word
    known = {one: motion_of(one) for one in often}
    words: dict[str, Meaning] = {}
    for one in often:
        said = known[one]
        if said == "stable" and _moves_with(one, texts, moved):
            said = "nothing"  # the scale's number or the like
        if said is None:
            said = _by_motion(one, texts, moved, [known[other] for other in often if other != one])
        words[one] = said
    spoken = ", ".join(f"{one.strip() or 'blank'!r} says {said}" for one, said in words.items())
    told.append(f"A word tells how it stands: {spoken}.")
    for one in often:
        words = {**siblings(one), **words}
    return Status(words=words)


def _moves_with(word: str, texts: Sequence[str], moved: Sequence[bool]) -> bool:
    """Whether the digits mostly change while a word is shown that should say stable."""
    at = [step for one, step in zip(texts, moved, strict=True) if one == word]
    return len(at) >= 8 and sum(at) > 0.7 * len(at)


def _by_motion(
    word: str, texts: Sequence[str], moved: Sequence[bool], rest: Sequence[Meaning | None]
) -> Meaning:
    """A word that is not known means what the digits do while it is shown."""
    if not word.strip() and "moving" in rest and "stable" not in rest:
        return "stable"
    if not word.strip() and "stable" in rest and "moving" not in rest:
        return "moving"
    if not rest:
        return "nothing"
    at = [step for one, step in zip(texts, moved, strict=True) if one == word]
    share = sum(at) / len(at)
    return "moving" if share > 0.6 else "stable" if share < 0.3 and len(at) >= 4 else "nothing"
