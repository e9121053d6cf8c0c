"""People in a list, with PINs that cost nothing to check: what tests of people share (invented)."""

from __future__ import annotations

from collections.abc import Iterable

from weighd.domain.people import ALL, Person, Right
from weighd.station.people import People


class ListStore:
    """Keeps people in a list, and how often it was written."""

    def __init__(self, people: Iterable[Person] = ()) -> None:
        self.kept = {one.name: one for one in people}
        self.writes = 0

    def all(self) -> tuple[Person, ...]:
        return tuple(self.kept.values())

    def put(self, person: Person, /) -> None:
        self.kept[person.name] = person
        self.writes += 1


class PlainPins:
    """Hashes that hide nothing; counts how often one was checked."""

    def __init__(self) -> None:
        self.checked: list[str] = []

    def hash(self, pin: str, /) -> str:
        return f"plain:{pin}"

    def fits(self, hashed: str, pin: str, /) -> bool:
        self.checked.append(hashed)
        return hashed == f"plain:{pin}"


class Now:
    """A wall clock that a test moves, in seconds of one hour."""

    def __init__(self) -> None:
        self.s = 0

    def __call__(self) -> str:
        minutes, seconds = divmod(self.s, 60)
        return f"2026-11-25T09:{minutes:02}:{seconds:02}.000Z"


PINS = {"Ada": "4711", "Bo": "2580", "Cy": "9025"}


def kitchen_people(now: Now | None = None) -> People:
    """Ada may do everything, Bo accept and countersign, Cy nothing."""
    people = People(ListStore(), PlainPins(), now or Now())
    people.add("Ada", ALL, PINS["Ada"])
    people.add("Bo", {Right.ACCEPT, Right.COUNTERSIGN}, PINS["Bo"])
    people.add("Cy", (), PINS["Cy"])
    return people
