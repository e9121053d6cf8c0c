"""The revisions of a formula that are known here, from wherever they were met.

They stand in the record (what batches were opened with, always there), came down from the shared
store, or were kept beside the formulas; and there is the file as it is. Nothing of it is ever
rewritten: an earlier one that is taken up again is the newest then.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from weighd.domain import mass
from weighd.domain.errors import FormulaError
from weighd.domain.formula import Formula
from weighd.domain.formula_kept import Found, Kept, read_revision
from weighd.domain.formula_shared import Published
from weighd.station.ports import Journal, Opening

#: How the file as it stands is asked for.
NOW = "now"
#: Batches of a revision that are named; all are counted.
MOST_NAMED = 50
#: So many digits of a revision are enough where they are those of one.
_FEWEST = 4


@dataclass(frozen=True, slots=True)
class Met:
    """Where a revision was met, when (UTC) and by whom, as far as that is known."""

    where: Found
    at: str
    by: str
    station: str = ""


@dataclass(frozen=True, slots=True)
class Revision:
    """One revision, where it was met, and the batches that were made by it, oldest first."""

    formula: Formula
    met: tuple[Met, ...]
    batches: tuple[Opening, ...]

    @property
    def since(self) -> str:
        """When it was first met; empty for a file that nobody kept yet."""
        return min((one.at for one in self.met), default="")


@dataclass(frozen=True, slots=True)
class History:
    """Every revision of a formula that is known, the present one first, then the newest.

    ``away``  batches that were put away: which revision they were made by stands in the archive.
    """

    formula: str
    now: Formula | None
    revisions: tuple[Revision, ...]
    wrong: tuple[FormulaError, ...]
    away: int

    def find(self, named: str) -> Formula:
        """The revision of these first digits, or ``now``. Raises :class:`FormulaError`."""
        if named == NOW and self.now is not None:
            return self.now
        found = [
            one.formula
            for one in self.revisions
            if one.formula.revision == named
            or (len(named) >= _FEWEST and one.formula.revision.startswith(named))
        ]
        if len(found) == 1:
            return found[0]
        raise FormulaError(
            "unknown-revision",
            f'No one revision of {self.formula} is called "{named[:40]}" here.',
            where=self.formula,
            remedy="See the list of its revisions.",
        )


def history(
    formula: str,
    now: Formula | None,
    kept: Sequence[Kept],
    published: Sequence[Published],
    journal: Journal | None,
    wrong: Sequence[FormulaError] = (),
) -> History:
    """All that is known of a formula.

    ``journal``  what batches were opened with; ``None`` where there is no record.
    ``wrong``    what is wrong with files that were to be looked at.
    Raises :class:`FormulaError`, ``unknown-formula``, where nothing is; :class:`JournalError`.
    """
    opened = () if journal is None else journal.openings(formula)
    bad = list(wrong)
    read: dict[str, Formula] = {} if now is None else {now.revision: now}
    met: dict[str, list[Met]] = {}
    batches: dict[str, list[Opening]] = {}
    for one in kept:
        met.setdefault(one.revision, []).append(Met(one.how, one.at, one.by))
        read.setdefault(one.revision, one.read())
    for it in opened:
        batches.setdefault(it.revision, []).append(it)
    for each in published:
        try:
            found = read_revision(each.content, formula, each.revision)
        except FormulaError as error:
            bad.append(error)
            continue
        at = Met(Found.SHARED, each.at, each.by, each.station)
        met.setdefault(each.revision, []).append(at)
        read.setdefault(each.revision, found)
    away = len(batches.pop("", ()))
    for revision, of in batches.items():
        met.setdefault(revision, []).append(Met(Found.BATCH, of[0].at, of[0].by))
        if revision not in read and journal is not None:
            try:
                content = _content_of(journal, of[0].batch)
                read[revision] = read_revision(content, formula, revision)
            except FormulaError as error:
                bad.append(error)
    if not read and not away and not bad:
        raise FormulaError("unknown-formula", f'No formula is called "{formula}".')
    every = [
        Revision(one, tuple(met.get(revision, ())), tuple(batches.get(revision, ())))
        for revision, one in read.items()
    ]
    every.sort(key=lambda one: one.since, reverse=True)
    every.sort(key=lambda one: now is None or one.formula.revision != now.revision)
    return History(formula, now, tuple(every), tuple(bad), away)


def _content_of(journal: Journal, batch: str) -> Mapping[str, Any]:
    try:
        content: Mapping[str, Any] = journal.batch(batch)[0].body["formula"]["content"]
        content["id"]
    except (LookupError, TypeError) as error:
        raise FormulaError(
            "bad-formula-content",
            "The formula kept with the batch cannot be read.",
            where=f"batch {batch}",
            remedy="Verify the record.",
        ) from error
    return content


def draw_history(it: History) -> dict[str, Any]:
    """All of it as JSON values."""
    first = it.revisions[0].formula if it.revisions else None
    return {
        "formula": it.formula,
        "name": first.name if first else it.formula,
        "now": None if it.now is None else it.now.revision,
        "revisions": [_revision(one, it) for one in it.revisions],
        "away": it.away,
        "problems": [{"where": one.where, "message": one.message} for one in it.wrong],
    }


def _revision(one: Revision, it: History) -> dict[str, Any]:
    formula = one.formula
    return {
        "revision": formula.revision,
        "name": formula.name,
        "now": it.now is not None and formula.revision == it.now.revision,
        "since": one.since,
        "batch_g": mass.text(formula.batch_g),
        "additions": len(formula.additions),
        "met": [
            {"where": str(each.where), "at": each.at, "by": each.by, "station": each.station}
            for each in sorted(one.met, key=lambda each: each.at)
        ],
        "batches": {
            "count": len(one.batches),
            "first": one.batches[0].at if one.batches else None,
            "last": one.batches[-1].at if one.batches else None,
            "newest": [
                {"batch": each.batch, "at": each.at, "by": each.by}
                for each in one.batches[: -MOST_NAMED - 1 : -1]
            ],
        },
    }
