"""Corrections: what a person typed or named, put right by an entry that names the old one.

1. Nothing is edited. ``corrected`` names an entry of its batch (``of``: number and hash), the
   field, what stood (``old``), what stands from now on (``new``), the reason, and who says so. It
   may come while the batch is weighed, in process, and when it is over.
2. Only words can be put right: the lot of an acceptance (of each part, where a lot ran out), who
   did something, a reason or a note, the name of a vessel. What follows from a scale, a thermometer
   or a clock is never typed over.
3. ``old`` has to be what stands, so that of two people at once the second is refused. A correction
   that was wrong is put right by one more; all of them stay.
4. A lot is put right by the rules by which it could be named on the day of the weighing. Where one
   that was not to be used did go in, the record has to say so: it is taken once that is confirmed,
   and ``although`` keeps what spoke against it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from weighd.domain import mass
from weighd.domain.days import day_of
from weighd.domain.errors import OperatorError
from weighd.domain.following import check_made, differs, not_recordable
from weighd.domain.kinds import Kind
from weighd.domain.lot_splits import uses_of
from weighd.domain.record import Entry
from weighd.domain.whose import named, unbound

if TYPE_CHECKING:
    from weighd.domain.batch import Batch
    from weighd.domain.lots import LotBook

_SOURCE = "the entry it is about gives"
_differs = partial(differs, source=_SOURCE)

#: The longest text of each field; a part of a lot is as long as a lot.
LONGEST = {"lot": 80, "operator": 80, "vessel": 40, "reason": 500, "note": 500}
#: The refusals of a lot that did go in all the same: told, and then taken where it is confirmed.
CONFIRMED = frozenset({"lot-blocked", "lot-expired", "lot-used-up"})


@dataclass(frozen=True, slots=True)
class Correction:
    """One correction of a field, as its entry has it; ``n`` is the number of that entry."""

    n: int
    field: str
    old: str
    new: str
    reason: str
    by: str
    at: str
    although: str = ""


@dataclass(frozen=True, slots=True)
class Drew:
    """What an acceptance took of a lot: its share in grams, and what the net is known to, as texts
    of the record."""

    addition: int
    ingredient: str
    g: str
    u_g: str


@dataclass(frozen=True, slots=True)
class Written:
    """What people wrote in one entry, as it stands now.

    ``fields``  the present words by field: those that can be put right.
    ``drew``    for each field of a lot, what was taken of it.
    ``place``   for steps after weighing: which doing of a step, and which value or note of it.
    ``made``    all corrections of it, oldest first.
    """

    n: int
    hash: str
    kind: str
    at: str
    fields: Mapping[str, str]
    drew: Mapping[str, Drew] = field(default_factory=dict)
    place: tuple[int, int] = (-1, -1)
    made: tuple[Correction, ...] = ()


def written_in(entry: Entry) -> Written | None:
    """What people wrote in an entry; ``None`` for nothing that could be put right.

    Raises ``KeyError``, ``TypeError`` or ``ValueError``.
    """
    body, fields, drew = entry.body, dict[str, str](), dict[str, Drew]()
    if entry.kind in (Kind.CORRECTED, Kind.COUNTERSIGNED):
        return None
    if entry.kind == Kind.ACCEPTED:
        shares = list(uses_of(body))
        for part, (lot, grams) in enumerate(shares, start=1):
            name = "lot" if len(shares) == 1 else f"lot {part}"
            fields[name] = lot
            drew[name] = Drew(
                body["addition"], body["ingredient"], mass.text(grams), body.get("u_g", "0")
            )
    said = {
        "operator": body.get("operator", body.get("by")),
        "reason": body.get("reason"),
        "note": body.get("note") if entry.kind == Kind.STEP_NOTED else None,
        "vessel": _vessel(body) if entry.kind == Kind.TARED else None,
    }
    fields |= {name: text for name, text in said.items() if text and isinstance(text, str)}
    return Written(body["n"], entry.hash, entry.kind, entry.at, fields, drew) if fields else None


def _vessel(body: Mapping[str, Any]) -> Any:
    vessel = body.get("vessel")
    return vessel.get("name") if isinstance(vessel, Mapping) else None


# --- making one -------------------------------------------------------------------------------


def correction_body(
    batch: Batch, n: int, of: str, old: str | None, new: str, reason: str, by: str
) -> dict[str, Any]:
    """The body of ``corrected``, less what binds it to its batch.

    ``n``    the number of the entry in its batch; ``of``, the field.
    ``old``  what stands there, as whoever asks saw it.
    Raises :class:`OperatorError`: ``unknown-entry``, ``not-correctable``, ``needs-old``,
    ``changed-meanwhile``, ``nothing-changed``, ``bad-correction``, ``needs-reason``,
    ``no-operator``.
    """
    one, stands = _standing(batch, n, of)
    if old is None:
        raise OperatorError(
            "needs-old",
            "It was not said what is to be put right.",
            where="old",
            remedy="Say what stands there now.",
        )
    if old != stands:
        raise OperatorError(
            "changed-meanwhile",
            f'Meanwhile the {of} is "{stands}".' if stands else f"Meanwhile no {of} is named.",
            where=f"entry {n}",
            remedy="Look at it again, then put it right if it is still wrong.",
        )
    new = new.strip()
    if new == stands:
        raise OperatorError(
            "nothing-changed",
            f"The {of} is that already.",
            where=f"entry {n}",
            remedy="Write what it should be.",
        )
    is_lot = of in one.drew
    longest = LONGEST["lot" if is_lot else of]
    if (not new and not is_lot) or len(new) > longest:
        raise OperatorError(
            "bad-correction",
            f"The {of} cannot be left empty." if not new else f"The {of} is too long.",
            where="new",
            remedy=f"Write it in up to {longest} characters.",
        )
    if not reason.strip():
        raise OperatorError(
            "needs-reason",
            "Say why this is put right.",
            where="reason",
            remedy="Give a reason: it stays in the record.",
        )
    who = named(by)
    body: dict[str, Any] = {
        "of": {"n": one.n, "hash": one.hash},
        "field": of,
        "old": stands,
        "new": new,
        "reason": reason.strip(),
        "by": who,
    }
    if is_lot:
        drew = one.drew[of]
        body["drew"] = {
            "addition": drew.addition,
            "ingredient": drew.ingredient,
            "part": list(one.drew).index(of) + 1,
            "g": drew.g,
            "u_g": drew.u_g,
        }
    return body


def _standing(batch: Batch, n: int, of: str) -> tuple[Written, str]:
    """What people wrote in an entry of a batch, and what stands in a field of it."""
    one = next((it for it in batch.written if it.n == n), None)
    if one is None and not 1 <= n <= batch.n:
        raise OperatorError(
            "unknown-entry",
            f"Batch {batch.id} has no entry {n}.",
            where="entry",
            remedy=f"Its entries are numbered from 1 to {batch.n}.",
        )
    if one is None or of not in one.fields:
        known = ", ".join(one.fields) if one else ""
        raise OperatorError(
            "not-correctable",
            f"In entry {n} nobody wrote a {of}: what follows from the scale, a thermometer or the "
            "clock cannot be put right by hand.",
            where="field",
            remedy=f"There it can be: {known}." if known else "Look at the record for what can be.",
        )
    return one, one.fields[of]


def lot_put_right(
    batch: Batch, body: Mapping[str, Any], book: LotBook, *, confirm: bool
) -> tuple[str, str]:
    """The code that stands for the lot of a correction, and what spoke against it if confirmed.

    Raises :class:`OperatorError` as :meth:`~weighd.domain.lots.LotBook.name` does.
    """
    one, _ = _standing(batch, body["of"]["n"], body["field"])
    new, ingredient = str(body["new"]), body["drew"]["ingredient"]
    if not new:
        return "", ""
    name = next((it.name for it in batch.additions if it.ingredient == ingredient), ingredient)
    try:
        # A correction has a reason, and with one a lot past its best can be named.
        return book.name(new, ingredient, name, day_of(one.at), body["reason"])[0], ""
    except OperatorError as error:
        lot = book.find(new, ingredient)
        if not confirm or error.code not in CONFIRMED or lot is None:
            raise
        return lot.code, error.code


# --- verifying one ----------------------------------------------------------------------------


def check_correction(batch: Batch, entry: Entry) -> None:
    """Whether a correction follows: it is made again and compared.

    Raises :class:`RecordError`; another error for nonsense.
    """
    body = unbound(entry.body)
    although = body.pop("although", None)
    if although is not None and (although not in CONFIRMED or "drew" not in body):
        raise _differs(entry, "although", although, "nothing that could be confirmed")
    if type(body["of"]["n"]) is not int:
        raise _differs(entry, "of", body["of"]["n"], "a number")
    texts = [body[key] for key in ("field", "old", "new", "reason", "by")]
    if not all(isinstance(one, str) for one in texts):
        raise _differs(entry, "body", "other things", "texts")
    try:
        made = correction_body(batch, body["of"]["n"], *texts)
    except OperatorError as error:
        raise not_recordable(entry, error) from error
    check_made(entry, body, made, _SOURCE)


# --- what it does -----------------------------------------------------------------------------


def applied(written: tuple[Written, ...], entry: Entry) -> tuple[tuple[Written, ...], Written]:
    """What people wrote after a correction, and what it is about, before it.

    Raises ``KeyError``, ``TypeError`` or ``ValueError`` where it is about nothing there.
    """
    body = entry.body
    was = next((one for one in written if one.n == body["of"]["n"]), None)
    name = body["field"]
    if was is None or was.hash != body["of"]["hash"] or was.fields[name] != body["old"]:
        raise ValueError("it is about nothing that stands there")
    new = replace(
        was,
        fields={**was.fields, name: body["new"]},
        made=(*was.made, correction_of(entry)),
    )
    return tuple(new if one is was else one for one in written), was


def correction_of(entry: Entry) -> Correction:
    """A correction out of its entry. Raises ``KeyError``."""
    body = entry.body
    return Correction(
        body["n"],
        body["field"],
        body["old"],
        body["new"],
        body["reason"],
        body["by"],
        entry.at,
        body.get("although", ""),
    )


def corrections_of(written: Iterable[Written]) -> list[tuple[Written, Correction]]:
    """All corrections with what they are about, in the order in which they were made."""
    found = [(one, it) for one in written for it in one.made]
    return sorted(found, key=lambda pair: pair[1].n)
