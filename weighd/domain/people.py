"""Who may do what here: people with a PIN, and the rights that they have.

1. Where nobody is listed, everybody may do everything, and a name that is typed is enough.
2. A person is never removed: what they did stays theirs, so they are retired, and nobody else gets
   their name.
3. There is always somebody who may look after the people, so that nobody is locked out.
4. A PIN is a few digits, pressed in gloves. What protects it is that guessing has to wait, longer
   each time (:func:`wait_s`), whatever comes meanwhile.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

from weighd.domain.errors import OperatorError
from weighd.domain.whose import known_as, same_person


class Right(StrEnum):
    """What not everybody may do."""

    ACCEPT = "accept out of tolerance"
    CORRECT = "correct"
    COUNTERSIGN = "countersign"
    DISCARD = "discard batches"
    LOTS = "release lots"
    FORMULAS = "change formulas"
    SCALES = "look after scales"
    PEOPLE = "look after people"


#: What each right is about, for people.
ABOUT = {
    Right.ACCEPT: "accept an addition or a step that is out of its limits; put a pour right",
    Right.CORRECT: "put right what was typed or named in a record",
    Right.COUNTERSIGN: "sign a batch that somebody else made",
    Right.DISCARD: "abandon a batch, or close it early",
    Right.LOTS: "release blocked lots, count stock, use a lot past its best",
    Right.FORMULAS: "change formulas, ingredients and limits",
    Right.SCALES: "weigh and forget vessels, forget what was learned of a scale",
    Right.PEOPLE: "add people, change their PINs and rights, retire them; let devices in",
}
ALL = frozenset(Right)
SHORTEST, LONGEST = 4, 12
LONGEST_NAME = 80
MOST_PEOPLE = 500
#: Wrong PINs in a row that cost nothing; each one more doubles the wait, up to the longest.
FREE = 3
FIRST_WAIT_S, LONGEST_WAIT_S = 5, 600


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works here. ``pin`` is its hash and never shown; ``since``, ``retired``: UTC.

    ``wrong``  PINs that were wrong in a row, and ``wrong_at``, when the last of them was.
    """

    name: str
    rights: frozenset[Right]
    pin: str
    since: str
    retired: str = ""
    wrong: int = 0
    wrong_at: str = ""

    @property
    def is_here(self) -> bool:
        return not self.retired

    def may(self, right: Right) -> bool:
        return self.is_here and right in self.rights


# --- PINs ----------------------------------------------------------------------------------------


def check_pin(pin: str) -> str:
    """A PIN that can be used. Raises :class:`OperatorError`, ``bad-pin``."""
    pin = pin.strip()
    if not pin.isascii() or not pin.isdigit():
        raise _bad_pin("A PIN is digits only.")
    if not SHORTEST <= len(pin) <= LONGEST:
        raise _bad_pin(f"A PIN has {SHORTEST} to {LONGEST} digits; this one has {len(pin)}.")
    if too_simple(pin):
        raise _bad_pin("That PIN is the first that anybody would try: a row or a repetition.")
    return pin


def too_simple(pin: str) -> bool:
    """One digit or group over and over (0000, 1212), or a row up or down (1234, 9876, 7890)."""
    for size in range(1, len(pin) // 2 + 1):
        if len(pin) % size == 0 and pin == pin[:size] * (len(pin) // size):
            return True
    steps = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)}
    return steps in ({1}, {9})


def wait_s(wrong: int) -> int:
    """Seconds to wait after so many wrong PINs in a row."""
    if wrong < FREE:
        return 0
    return int(min(LONGEST_WAIT_S, FIRST_WAIT_S * 2.0 ** min(wrong - FREE, 20)))


def _bad_pin(message: str) -> OperatorError:
    return OperatorError(
        "bad-pin", message, where="pin", remedy="Choose others, like the digits of no date."
    )


# --- the list ------------------------------------------------------------------------------------


def find(people: Iterable[Person], name: str) -> Person | None:
    """A person by name, however it is written; also one who is retired."""
    return next((one for one in people if same_person(one.name, name)), None)


def found(people: Iterable[Person], name: str) -> Person:
    """The same. Raises :class:`OperatorError`, ``unknown-person``."""
    one = find(people, name)
    if one is None:
        raise OperatorError(
            "unknown-person",
            f'Nobody here is called "{name}".',
            where="name",
            remedy="Choose a name of the list.",
        )
    return one


def who_may(people: Iterable[Person], right: Right) -> list[str]:
    """Those who have a right."""
    return [one.name for one in people if one.may(right)]


def added(
    people: Sequence[Person], name: str, rights: Iterable[Right], pin: str, at: str
) -> Person:
    """A new person; ``pin`` is a hash. Raises :class:`OperatorError`.

    ``bad-name``, ``person-exists``, ``first-needs-all``, ``too-many-people``.
    """
    name, rights = " ".join(name.split()), frozenset(rights)
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise OperatorError(
            "bad-name",
            f"A name has 1 to {LONGEST_NAME} characters that can be shown.",
            where="name",
            remedy="Write it shorter, in plain text.",
        )
    if known_as(name) == "station":
        raise OperatorError(
            "bad-name",
            "Acts of the station itself are shown under that name.",
            where="name",
            remedy="Choose another.",
        )
    if (same := find(people, name)) is not None:
        gone = ", who is retired" if same.retired else ""
        raise OperatorError(
            "person-exists",
            f"Somebody is called {same.name} already{gone}: a name in a record has to stay one "
            "person's.",
            where="name",
            remedy="Add a letter or a second name.",
        )
    if not people and rights != ALL:
        raise OperatorError(
            "first-needs-all",
            "The first person has to have all rights, or nobody could give them.",
            where="rights",
            remedy="Give all; take some back once there is somebody else.",
        )
    if len(people) >= MOST_PEOPLE:
        raise OperatorError("too-many-people", f"There are {MOST_PEOPLE} names already.")
    return Person(name, rights, pin, at)


def with_rights(people: Sequence[Person], name: str, rights: Iterable[Right]) -> Person:
    """A person with other rights.

    Raises :class:`OperatorError`: ``unknown-person``, ``person-retired``, ``last-keeper``.
    """
    one, rights = present(people, name), frozenset(rights)
    if Right.PEOPLE not in rights:
        _not_the_last(people, one, "lose that right")
    return replace(one, rights=rights)


def retired(people: Sequence[Person], name: str, at: str) -> Person:
    """A person who does not work here any more. Raises as :func:`with_rights` does."""
    one = present(people, name)
    _not_the_last(people, one, "be retired")
    return replace(one, retired=at, pin="", rights=frozenset(), wrong=0, wrong_at="")


def present(people: Iterable[Person], name: str) -> Person:
    """A person who works here. Raises :class:`OperatorError`."""
    one = found(people, name)
    if one.retired:
        raise OperatorError(
            "person-retired",
            f"{one.name} has been retired since {one.retired[:10]}.",
            where="name",
            remedy="Somebody who comes back gets a name that can be told from the old one.",
        )
    return one


def _not_the_last(people: Iterable[Person], one: Person, what: str) -> None:
    if who_may(people, Right.PEOPLE) == [one.name]:
        raise OperatorError(
            "last-keeper",
            f"{one.name} is the last who may look after people and cannot {what}.",
            where="name",
            remedy="Give somebody else that right first.",
        )


def rights_of(words: Iterable[str]) -> frozenset[Right]:
    """Rights by their names; ``all`` stands for all. Raises ``unknown-right``."""
    out: set[Right] = set()
    for word in words:
        text = " ".join(word.split()).lower()
        if text == "all":
            out |= ALL
            continue
        try:
            out.add(Right(text))
        except ValueError:
            raise OperatorError(
                "unknown-right",
                f'"{word[:60]}" is no right.',
                where="rights",
                remedy="There are: all, " + ", ".join(Right) + ".",
            ) from None
    return frozenset(out)
