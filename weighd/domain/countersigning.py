"""Countersigning: a second person looks at a batch that is over, and says so in its record.

1. ``countersigned`` says who looked, and as far as which entry (its number and hash): all entries
   of the batch up to then, and nothing after. A correction that comes later is not covered, and
   whatever shows a countersignature says so.
2. It is another person's than all who are named in the batch: whoever started, weighed, accepted,
   let pass, ended or put something right has seen it with the eyes that made it.
3. Twice by one person only where something was added since.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from weighd.domain.errors import OperatorError
from weighd.domain.following import check_made, differs, not_recordable
from weighd.domain.kinds import Kind
from weighd.domain.record import Entry
from weighd.domain.whose import actor, known_as, named, same_person, unbound

if TYPE_CHECKING:
    from weighd.domain.batch import Batch

_SOURCE = "the batch gives"
_differs = partial(differs, source=_SOURCE)
LONGEST_NOTE = 500


@dataclass(frozen=True, slots=True)
class Countersigned:
    """One countersignature: ``n`` is its entry, ``upto`` the last one it covers."""

    n: int
    upto: int
    by: str
    at: str
    note: str = ""


def hands_of(entry: Entry) -> frozenset[str]:
    """Who is named in an entry as having had a part in its batch, as :func:`known_as` has them."""
    if entry.kind == Kind.COUNTERSIGNED:
        return frozenset()
    body = entry.body
    names = [actor(body), body.get("allowed_by")]
    if entry.kind == Kind.CORRECTED and body.get("field") == "operator":
        names.append(body.get("new"))
    return frozenset(known_as(one) for one in names if isinstance(one, str) and one.strip())


def countersigned(entry: Entry) -> Countersigned:
    """A countersignature out of its entry. Raises ``KeyError`` or ``TypeError``."""
    body = entry.body
    return Countersigned(body["n"], body["of"]["n"], body["by"], entry.at, body.get("note", ""))


def covered(batch: Batch) -> int:
    """The last entry of a batch that was not a countersignature: what one has to reach."""
    last = batch.n
    for one in reversed(batch.countersigned):
        if one.n != last:
            break
        last = one.upto
    return last


def later_than(batch: Batch, one: Countersigned) -> int:
    """How many entries came after what a countersignature covers, but for other ones."""
    return batch.n - one.upto - sum(it.n > one.upto for it in batch.countersigned)


def countersign_body(batch: Batch, upto: int | None, by: str, note: str) -> dict[str, Any]:
    """The body of ``countersigned``, less what binds it to its batch.

    ``upto``  the number of the newest entry that was looked at.
    Raises :class:`OperatorError`: ``not-over``, ``no-operator``, ``own-batch``,
    ``changed-meanwhile``, ``countersigned-already``, ``unknown-entry``, ``bad-text``.
    """
    if not batch.is_over:
        raise OperatorError(
            "not-over",
            f"Batch {batch.id} is {batch.status}: there may be more to come.",
            where=f"batch {batch.id}",
            remedy="Countersign it once it is closed or abandoned.",
        )
    by, note = named(" ".join(by.split())), note.strip()
    if known_as(by) in batch.hands:
        raise OperatorError(
            "own-batch",
            f"{by} had a part in batch {batch.id}, and cannot countersign it.",
            where=f"batch {batch.id}",
            remedy="Have somebody look at it who had none.",
        )
    if len(note) > LONGEST_NOTE:
        raise OperatorError("bad-text", f"The note is longer than {LONGEST_NOTE} characters.")
    if upto is None or not 1 <= upto <= batch.n:
        raise OperatorError(
            "unknown-entry",
            "It was not said as far as which entry the record was looked at.",
            where="entry",
            remedy=f"Look at the record; its newest entry is number {batch.n}.",
        )
    mine = [one for one in batch.countersigned if same_person(one.by, by)]
    if mine and mine[-1].n > covered(batch):
        raise OperatorError(
            "countersigned-already",
            f"{mine[-1].by} countersigned batch {batch.id} on {mine[-1].at[:10]}, and nothing was "
            "added since.",
            where=f"batch {batch.id}",
        )
    if upto != batch.n:
        raise OperatorError(
            "changed-meanwhile",
            f"Meanwhile batch {batch.id} has {batch.n} entries, and {upto} were looked at.",
            where=f"batch {batch.id}",
            remedy="Look at the new ones, then countersign.",
        )
    body: dict[str, Any] = {"of": {"n": batch.n, "hash": batch.after}, "by": by}
    return {**body, "note": note} if note else body


def check_countersigned(batch: Batch, entry: Entry) -> None:
    """Whether a countersignature follows: it is made again and compared.

    Raises :class:`RecordError`; another error for nonsense.
    """
    if "allowed_by" in entry.body:
        raise _differs(entry, "allowed_by", entry.body["allowed_by"], "nobody: who looks signs")
    body = unbound(entry.body)
    upto, by, note = body["of"]["n"], body["by"], body.get("note", "")
    if type(upto) is not int or not isinstance(by, str) or not isinstance(note, str):
        raise _differs(entry, "body", "other things", "texts and a number")
    try:
        made = countersign_body(batch, upto, by, note)
    except OperatorError as error:
        raise not_recordable(entry, error) from error
    check_made(entry, body, made, _SOURCE)
