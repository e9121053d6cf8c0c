"""A record read for people: leniently, so that one that was tampered with can still be shown.

What is missing, or not what it should be, is empty. Nothing here says that a record is true:
that is for verification, which is asked beside.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from weighd.domain.batch import Kind, Status

Body = Mapping[str, Any]


def text(body: Body, *names: str) -> str:
    """The first of these fields that holds a text; empty where none does."""
    for name in names:
        value = body.get(name)
        if isinstance(value, str) and value:
            return value
    return ""


def count(body: Body, name: str) -> int | None:
    """A field that holds a whole number."""
    value = body.get(name)
    return value if isinstance(value, int) and not isinstance(value, bool) else None


def inside(body: Body, name: str) -> Body:
    """A field that holds an object; empty where it does not."""
    value = body.get(name)
    return value if isinstance(value, Mapping) else {}


def rows(body: Body, name: str) -> list[Body]:
    """A field that holds a list of objects, without what is none."""
    value = body.get(name)
    return [one for one in value if isinstance(one, Mapping)] if isinstance(value, list) else []


def texts(body: Body, name: str) -> list[str]:
    """A field that holds a list of texts, without what is none."""
    value = body.get(name)
    return [one for one in value if isinstance(one, str)] if isinstance(value, list) else []


def rule_text(rule: Any) -> str:
    """A decision rule as people write it: ``guarded, k = 2``."""
    if not isinstance(rule, Mapping):
        return rule if isinstance(rule, str) else ""
    name, k = text(rule, "name"), text(rule, "k")
    return f"{name}, k = {k}" if k and name != "simple" else name


@dataclass(frozen=True)
class Record:
    """An exported record: its entries and, beside them, the checks and signatures it carries.

    What is read of it is kept: a row of a table for each of thousands of weighings asks again.
    """

    document: Body

    @cached_property
    def entries(self) -> list[Body]:
        return rows(self.document, "entries")

    @cached_property
    def checks(self) -> list[Body]:
        return rows(self.document, "checks")

    @property
    def batch(self) -> str:
        return text(self.document, "batch")

    @property
    def station(self) -> str:
        return text(self.document, "station")

    @property
    def last(self) -> Body:
        """The newest entry."""
        entries = self.entries
        return entries[-1] if entries else {}

    def of(self, *kinds: str) -> list[Body]:
        """The entries of some kinds, oldest first."""
        return [one for one in self.entries if one.get("kind") in kinds]

    @cached_property
    def put_right(self) -> Mapping[int, list[Body]]:
        """The entries that put something right, by the number of the entry they are about."""
        out: dict[int, list[Body]] = {}
        for one in self.of(Kind.CORRECTED):
            about = count(inside(inside(one, "body"), "of"), "n")
            if about is not None:
                out.setdefault(about, []).append(one)
        return out

    @cached_property
    def by_n(self) -> Mapping[int | None, Body]:
        """The entries by their numbers in the batch."""
        return {count(inside(one, "body"), "n"): one for one in self.entries}

    def made_of(self, entry: Body, field: str = "") -> list[Body]:
        """The entries that put an entry right (in one field of it), oldest first."""
        found = self.put_right.get(count(inside(entry, "body"), "n") or 0, [])
        return [one for one in found if not field or inside(one, "body").get("field") == field]

    def fields_put_right(self, entry: Body) -> list[str]:
        """The fields of an entry that were put right, each once, in the order of the alphabet."""
        return sorted({text(inside(one, "body"), "field") for one in self.made_of(entry)})

    def stands(self, entry: Body, field: str, first: str) -> str:
        """What stands in a field of an entry by now; ``first``, what was recorded there."""
        made = self.made_of(entry, field)
        return text(inside(made[-1], "body"), "new") if made else first

    @cached_property
    def opening(self) -> Body:
        """The body of the entry that opened the batch."""
        found = self.of(Kind.OPENED)
        return inside(found[0], "body") if found else {}

    @cached_property
    def opened(self) -> str:
        found = self.of(Kind.OPENED)
        return text(found[0], "at") if found else ""

    @cached_property
    def ended(self) -> str:
        """When the batch was closed or abandoned; empty where it was not."""
        found = self.of(Kind.CLOSED, Kind.ABANDONED)
        return text(found[0], "at") if found else ""

    @cached_property
    def status(self) -> Status:
        if self.of(Kind.ABANDONED):
            return Status.ABANDONED
        if self.of(Kind.CLOSED):
            return Status.CLOSED
        return Status.IN_PROCESS if self.of(Kind.WEIGHED) else Status.OPEN
