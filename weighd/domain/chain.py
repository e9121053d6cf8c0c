"""Whether a journal is whole and unchanged, from its rows as they stand: no verdict is made again.

What a database keeps of an entry is the canonical JSON of its body, so its hash is taken around
that text (``record.hash_around``) without reading it. A body is read only where a batch ends or is
added to after its end, to see which signature is due.

It is shown: that no entry was changed, taken out, put in or moved since it was written; that the
station's key signed what it must have signed; nothing about whether an entry was true when it was
written. That is what ``verify`` is for.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any, NamedTuple

from weighd.domain.away import AWAY, PUT_AWAY, AwayVerifier, is_away
from weighd.domain.canonical_json import text
from weighd.domain.errors import RecordError
from weighd.domain.following import broken, changed, missing, of_another, readable
from weighd.domain.kinds import ENDS, OVER
from weighd.domain.record import MOST, NOTHING_BEFORE, Entry, hash_around
from weighd.domain.signing import (
    Check,
    Signature,
    check_end,
    check_signature,
    nothing_trusted,
    read_signature,
    short,
)

OF_AWAY = frozenset({AWAY, PUT_AWAY})
#: Kinds of entries that may have to be signed, or are more than a link of the chain.
LOOKED_AT = ENDS | OVER | OF_AWAY


class Row(NamedTuple):
    """A row of a journal as it stands; ``body`` is the text that was hashed."""

    seq: int
    station: str
    kind: str
    at: str
    batch: str | None
    key: str | None
    body: str
    prev: str
    hash: str


@dataclass(slots=True)
class Stretch:
    """What was found of a stretch of a journal: entries ``first`` to ``last``.

    ``before``    the hash that the first must follow; ``after``, that of the last.
    ``signed``    the batches that each key signed.
    ``begun``     the first entry with a good signature; 0 for none.
    ``unsigned``  how many ends of batches, and additions to ended ones, have none that is trusted;
                  ``latest`` is the last of them, and why in a sentence.
    ``away``      the first stub of a batch that was put away, or entry that tells of one; 0 for
                  none.
    """

    first: int
    last: int
    before: str
    after: str
    signed: dict[str, set[str]] = field(default_factory=dict)
    begun: int = 0
    unsigned: int = 0
    latest: tuple[int, str, str] = (0, "", "")
    away: int = 0

    def and_then(self, next_: Stretch) -> Stretch:
        """Both together, the other following. Raises :class:`RecordError`."""
        if next_.first != self.last + 1:
            raise missing(self.last + 1, f"entry {next_.first}")
        if next_.before != self.after:
            raise broken(f"entry {next_.first}")
        keys = (*self.signed, *next_.signed)
        return Stretch(
            self.first,
            next_.last,
            self.before,
            next_.after,
            {key: self.signed.get(key, set()) | next_.signed.get(key, set()) for key in keys},
            self.begun or next_.begun,
            self.unsigned + next_.unsigned,
            next_.latest if next_.latest[0] else self.latest,
            self.away or next_.away,
        )


#: Whether a batch was over before an entry of it.
WasOver = Callable[[str, int], bool]


def check_rows(
    rows: Iterable[Sequence[Any]],
    signatures: Iterable[tuple[int, Signature]],
    check: Check,
    trusted: Sequence[str],
    was_over: WasOver,
) -> Stretch | None:
    """Check a stretch of a journal, oldest first; ``None`` for no rows.

    ``rows``        each the columns of :class:`Row`, in that order, as they stand.
    ``signatures``  those that end with entries of the stretch, in order, as they stand.
    Raises :class:`RecordError` naming the first entry that does not hold.
    """
    found: Stretch | None = None
    coming = iter(signatures)
    due = next(coming, None)
    # ``before`` is the hash of the entry before. Where ``quoted``, the station as JSON, is not
    # empty, that hash was taken here: 64 digits, which are in JSON as they are.
    expected, before, station, quoted = 0, "", "", ""
    for row in rows:
        seq, of, kind, at, _, _, body, prev, hash_ = row
        plain = (
            quoted
            and seq == expected
            and prev == before
            and of == station
            and kind != AWAY
            and type(seq) is int
            and type(body) is type(at) is type(kind) is str
            and hash_
            == sha256(
                f'{{"at":{text(at)},"body":{body},"kind":{text(kind)},"prev":"{prev}",'
                f'"seq":{seq},"station":{quoted}}}'.encode()
            ).hexdigest()
        )
        if not plain:  # the first, a stub, the one after a stub, or what is to be named
            if found is None:
                expected, before, station = seq, prev, of
            _check_row(Row(*row), expected, before, station)
            quoted = text(of) if kind != AWAY and seq < MOST // 2 else ""
        if found is None:
            found = Stretch(seq, seq, prev, "")
        those = []
        while due is not None and due[0] <= seq:
            if due[0] < seq:
                raise _no_such_entry(due[0])
            those.append(due[1])
            due = next(coming, None)
        if those or kind in LOOKED_AT:
            whole = Row(*row)
            if kind in OF_AWAY:
                found.away = found.away or seq
            if kind == AWAY:
                whole = whole._replace(kind=_was(whole))
            if those or whole.kind in ENDS or whole.kind in OVER:
                _signed(found, whole, those, check, trusted, was_over)
        expected, before = seq + 1, hash_
        found.last, found.after = seq, hash_
    if due is not None:
        raise _no_such_entry(due[0])
    return found


def check_columns(row: Row) -> None:
    """Raises :class:`RecordError` where a row has no texts and numbers where it had them."""
    if not (
        type(row.seq) is int
        and type(row.station) is type(row.kind) is type(row.at) is str
        and type(row.body) is type(row.prev) is type(row.hash) is str
    ):
        raise RecordError(
            "unreadable-entry",
            "A column of it holds something of another kind than was written.",
            where=f"entry {row.seq}",
        )


def _check_row(row: Row, expected: int, before: str, station: str) -> None:
    """Raises :class:`RecordError` where a row is not the entry that should come."""
    where = f"entry {row.seq}"
    check_columns(row)
    # A stub has another body than was hashed: what it is held to, ``check_away`` has.
    if row.kind != AWAY and (
        hash_around(row.body, row.seq, row.station, row.kind, row.at, row.prev) != row.hash
    ):
        raise changed(where)
    if row.seq != expected:
        raise missing(expected, where)
    if row.station != station:
        raise of_another(where)
    if row.prev != before:
        raise broken(where)


def check_away(entries: Iterable[Entry]) -> AwayVerifier:
    """Whether stubs are what stood there when they were put away: ``entries`` are those, and the
    entries that put batches away, in order. Raises :class:`RecordError`."""
    verifier = AwayVerifier()
    for one in entries:
        with readable(f"entry {one.seq}"):
            if is_away(one):
                verifier.stub(one, known=False)
            else:
                verifier.put_away(one, ())
    verifier.finish()
    return verifier


def _was(row: Row) -> str:
    """The kind of the entry that a stub stands for; its own where it cannot be read."""
    try:
        return str(json.loads(row.body)["was"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return row.kind


def check_whole(found: Stretch, trusted: Sequence[str]) -> None:
    """What holds of all stretches together. Raises :class:`RecordError`."""
    if found.first != 1:
        raise missing(1, f"entry {found.first}")
    if found.before != NOTHING_BEFORE:
        raise broken("entry 1")
    seq, code, why = found.latest
    if found.begun and seq > found.begun:
        raise RecordError(code, why, where=f"entry {seq}")
    if trusted and not found.begun:
        raise nothing_trusted()


def _signed(
    found: Stretch,
    row: Row,
    those: Sequence[Signature],
    check: Check,
    trusted: Sequence[str],
    was_over: WasOver,
) -> None:
    where = f"entry {row.seq}"
    try:
        body = json.loads(row.body)
        batch, n = body.get("batch"), body.get("n")
    except (ValueError, AttributeError, RecursionError) as error:
        raise RecordError(
            "unreadable-entry", f"It cannot be read: {error}.", where=where
        ) from error
    if batch != row.batch:
        raise RecordError(
            "column-differs",
            f'The database files it under batch "{row.batch}", and it says "{batch}".',
            where=where,
        )
    good = False
    for one in those:
        read_signature(one.as_json(), f"signature of {where}")
        check_signature(one, row.station, str(batch), check, where)
        check_end(one, str(batch), n, row.hash, where)
        good = good or not trusted or one.key in trusted
        found.signed.setdefault(one.key, set()).add(str(batch))
    if good:
        found.begun = found.begun or row.seq
    elif row.kind in ENDS or was_over(str(batch), row.seq):
        found.unsigned += 1
        keys = ", ".join(sorted({short(one.key) for one in those}))
        found.latest = (
            (row.seq, "wrong-key", f"Batch {batch} is signed by key {keys}, which is not trusted.")
            if keys
            else (row.seq, "not-signed", f"Batch {batch} is over, and this entry is not signed.")
        )


def _no_such_entry(seq: int) -> RecordError:
    return RecordError(
        "cut-short",
        f"Entry {seq} was signed as the end of a batch, and there is no such entry.",
        where=f"after entry {seq - 1}",
    )
