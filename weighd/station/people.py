"""The people of a station at work: who is listed, and whether a PIN is somebody's.

1. Nothing of it is part of the fold: who may do what is asked before a command reaches the station,
   and what was found out goes along with the command.
2. A wrong PIN is counted before it is looked at, so that pulling the plug wins nothing, and the
   count is kept with the person. A name that nobody has is answered as a wrong PIN is, in the same
   words after the same work.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Protocol

from weighd.domain import people as rules
from weighd.domain.errors import OperatorError
from weighd.domain.moments import milliseconds
from weighd.domain.people import Person, Right, check_pin, find, wait_s
from weighd.domain.whose import known_as

#: Names that nobody has, whose wrong PINs are counted.
MOST_STRANGERS = 256


class PeopleStore(Protocol):
    """Where people are kept. Each call may raise ``JournalError``."""

    def all(self) -> tuple[Person, ...]: ...

    def put(self, person: Person, /) -> None: ...


class Pins(Protocol):
    """Makes hashes of PINs and checks them; slow on purpose."""

    def hash(self, pin: str, /) -> str: ...

    def fits(self, hashed: str, pin: str, /) -> bool: ...


class MustWaitError(OperatorError):
    """Too many wrong PINs: after ``wait_s`` seconds it can be tried again."""

    def __init__(self, seconds: int) -> None:
        super().__init__(
            "wait-for-pin",
            f"Too many wrong PINs for this name. It can be tried again in {_in_words(seconds)}.",
            remedy="Whoever may look after people can give a new PIN.",
        )
        self.wait_s = seconds


class People:
    """Who works at a station. Calls may come from any thread and may take their time.

    ``utc``  gives the time, RFC 3339.
    """

    def __init__(self, store: PeopleStore, pins: Pins, utc: Callable[[], str]) -> None:
        self._store, self._pins, self._utc = store, pins, utc
        self._turn = threading.Lock()
        self._all: tuple[Person, ...] | None = None
        self._strangers: OrderedDict[str, tuple[int, str]] = OrderedDict()
        self._nobody = ""

    @property
    def known(self) -> tuple[Person, ...] | None:
        """The same as :meth:`all`, as far as it was asked before: without waiting."""
        return self._all

    def all(self) -> tuple[Person, ...]:
        """Everybody who was ever listed, also who is retired."""
        if self._all is None:
            self._all = self._store.all()
        return self._all

    def get(self, name: str) -> Person | None:
        """Somebody who works here."""
        one = find(self.all(), name)
        return one if one is not None and one.is_here else None

    # --- PINs -------------------------------------------------------------------------------

    def check(self, name: str, pin: str) -> Person:
        """Whose PIN it is.

        Raises :class:`OperatorError`: ``wrong-pin``, whether the name or the PIN is wrong, and
        :class:`MustWaitError`. One at a time: a flood of guesses costs one core, and is counted.
        """
        with self._turn:
            person = self.get(name)
            wrong, at = self._counted(person, name)
            left = self._left(wrong, at)
            if left > 0:
                raise MustWaitError(left)
            now = self._utc()
            self._count(person, name, wrong + 1, now)
            hashed = person.pin if person else self._of_nobody()
            if not self._pins.fits(hashed, pin[: rules.LONGEST]) or person is None:
                raise _wrong(wait_s(wrong + 1))
            self._count(person, name, 0, "")
            return self.get(name) or person

    def _counted(self, person: Person | None, name: str) -> tuple[int, str]:
        if person is not None:
            return person.wrong, person.wrong_at
        return self._strangers.get(known_as(name), (0, ""))

    def _count(self, person: Person | None, name: str, wrong: int, at: str) -> None:
        if person is not None:
            self._put(replace(person, wrong=wrong, wrong_at=at))
            return
        self._strangers[known_as(name)] = (wrong, at)
        self._strangers.move_to_end(known_as(name))
        while len(self._strangers) > MOST_STRANGERS:
            self._strangers.popitem(last=False)

    def _left(self, wrong: int, at: str) -> int:
        """Seconds still to wait. A clock that was set back since counts as if none had passed,
        but nobody waits longer than the longest wait."""
        wait = wait_s(wrong)
        if not wait or not at:
            return 0
        passed = (milliseconds(self._utc()) - milliseconds(at)) / 1000
        if passed < -wait:
            return 0  # it was set back for good: waiting for it would be forever
        return max(0, round(wait - max(0.0, passed) + 0.499))

    def _of_nobody(self) -> str:
        """A hash that costs what a real one does."""
        if not self._nobody:
            self._nobody = self._pins.hash("no such person")
        return self._nobody

    # --- the list ---------------------------------------------------------------------------

    def add(self, name: str, rights: Iterable[Right], pin: str) -> Person:
        """Somebody new. Raises as :func:`weighd.domain.people.added`, and ``bad-pin``."""
        pin = check_pin(pin)
        with self._turn:
            rules.added(self.all(), name, rights, "", "")  # refused before the work is done
            person = rules.added(self.all(), name, rights, self._pins.hash(pin), self._utc())
            return self._put(person)

    def set_pin(self, name: str, pin: str) -> Person:
        """Another PIN; what was counted of wrong ones is forgotten. Raises ``bad-pin`` and more."""
        pin = check_pin(pin)
        with self._turn:
            person = rules.present(self.all(), name)
            hashed = self._pins.hash(pin)
            return self._put(replace(person, pin=hashed, wrong=0, wrong_at=""))

    def set_rights(self, name: str, rights: Iterable[Right]) -> Person:
        """Other rights. Raises as :func:`weighd.domain.people.with_rights`."""
        with self._turn:
            return self._put(rules.with_rights(self.all(), name, rights))

    def retire(self, name: str) -> Person:
        """Somebody who does not work here any more. Raises as ``rules.retired``."""
        with self._turn:
            return self._put(rules.retired(self.all(), name, self._utc()))

    def _put(self, person: Person) -> Person:
        self._store.put(person)
        known = self.all()
        kept = tuple(person if one.name == person.name else one for one in known)
        self._all = kept if person in kept else (*known, person)
        return person


def _wrong(wait: int) -> OperatorError:
    then = f" Wait {_in_words(wait)} before the next try." if wait else " Try again."
    return OperatorError("wrong-pin", "That is not the PIN of this name." + then, where="pin")


def _in_words(seconds: int) -> str:
    if seconds < 120:
        return f"{seconds} s"
    return f"{-(-seconds // 60)} minutes"
