"""Entries as they are stored, the rules for adding one, and a batch as a line of a list.

Whatever keeps a journal, in memory or in a database, goes by these.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from weighd.domain.batch import Kind, Status
from weighd.domain.canonical_json import canonical_text
from weighd.domain.errors import JournalError
from weighd.domain.record import Entry, Tail, hash_around
from weighd.station.ports import BatchRow

Row = dict[str, Any]


def stored(entry: Entry) -> Row:
    """An entry as a row of the table ``entry``.

    Raises :class:`JournalError` when it cannot be hashed, or does not give the hash it carries:
    such an entry would never verify again.
    """
    where = f"entry {entry.seq}"
    try:
        body = canonical_text(dict(entry.body)) if entry.sealed is None else entry.sealed
        computed = hash_around(body, entry.seq, entry.station, entry.kind, entry.at, entry.prev)
    except (ValueError, TypeError, RecursionError) as error:
        raise JournalError(
            "unreadable-entry", f"This cannot be written down: {error}.", where=where
        ) from error
    if computed != entry.hash:
        raise JournalError(
            "hash-mismatch", "The content does not give the hash it carries.", where=where
        )
    batch, key = entry.body.get("batch"), entry.body.get("key") or None
    if not isinstance(batch, str | None) or not isinstance(key, str | None):
        raise JournalError("unreadable-entry", "Its batch or its key is not a text.", where=where)
    return row_of(entry, body, batch, key)


def row_of(entry: Entry, body: str, batch: object, key: object) -> Row:
    """The columns of an entry in the table ``entry``."""
    return {
        "station": entry.station,
        "seq": entry.seq,
        "kind": entry.kind,
        "at": entry.at,
        "batch": batch,
        "key": key,
        "body": body,
        "prev": entry.prev,
        "hash": entry.hash,
    }


def without_nul(text: str) -> str:
    """A text as every database can hold it: in PostgreSQL none has the character NUL."""
    return text.replace("\0", "\u2400")


def restored(row: Mapping[Any, Any]) -> Entry:
    """The entry of a row, as it stands there: whether it is true is for verification to say.

    Raises :class:`JournalError` when the body was changed to something that is no JSON object.
    """
    try:
        body = json.loads(row["body"])
    except (ValueError, RecursionError) as error:
        raise _unreadable(row["seq"], f"The body is not JSON any more: {error}.") from error
    if not isinstance(body, dict):
        raise _unreadable(row["seq"], "The body is not an object any more.")
    return Entry(row["seq"], row["station"], row["kind"], row["at"], body, row["prev"], row["hash"])


def follow(station: str, tail: Tail, entries: Iterable[Entry]) -> None:
    """Check that each entry continues the one before it, and the first the tail.

    Raises :class:`JournalError` ``journal-forked`` or ``other-station``.
    """
    for entry in entries:
        if entry.station != station:
            raise JournalError(
                "other-station",
                f'This is the journal of station "{station}", the entry is of "{entry.station}".',
                where=f"entry {entry.seq}",
            )
        if entry.seq != tail.seq + 1 or entry.prev != tail.hash:
            raise JournalError(
                "journal-forked",
                f"The journal ends with entry {tail.seq}, and this is not what comes after it: "
                "something else wrote to it.",
                where=f"entry {entry.seq}",
                remedy="Restart the station, so that it reads the journal again.",
            )
        tail = Tail(entry.seq, entry.hash)


def keys_of(rows: Sequence[Row]) -> list[str]:
    """The idempotency keys among rows. Raises ``key-used`` when one is there twice."""
    keys = [str(row["key"]) for row in rows if row["key"] is not None]
    for n, key in enumerate(keys):
        if key in keys[:n]:
            raise key_used(key)
    return keys


def key_used(key: str) -> JournalError:
    """What to raise for a key that an earlier entry has."""
    return JournalError(
        "key-used",
        f'An earlier entry was made by the command with key "{key}".',
        remedy="Ask for what that command did instead of sending it again.",
    )


def line(before: BatchRow | None, entry: Entry) -> BatchRow | None:
    """A batch's line after one more of its entries.

    ``before`` is ``None`` until the batch was opened. An entry of a batch whose opening is not
    in the journal has no line: the list is for people, and is no reason to refuse a record.
    Raises :class:`JournalError` for a batch that opens twice, or cannot be read.
    """
    if entry.kind == Kind.OPENED:
        if before is not None:
            raise JournalError(
                "batch-exists",
                f"Batch {before.id} was opened before.",
                where=f"entry {entry.seq}",
            )
        return _opened(entry)
    if before is None:
        return None
    if entry.kind == Kind.ACCEPTED:
        return replace(before, accepted=before.accepted + 1)
    if entry.kind == Kind.WEIGHED:
        return replace(before, status=Status.IN_PROCESS.value)
    if entry.kind == Kind.PUT_RIGHT:
        return replace(before, additions=before.accepted + len(entry.body["additions"]))
    if entry.kind == Kind.CLOSED:
        return replace(before, closed=entry.at, status=Status.CLOSED.value)
    if entry.kind == Kind.ABANDONED:
        return replace(before, closed=entry.at, status=Status.ABANDONED.value)
    return before


def line_row(row: BatchRow) -> Row:
    """A line as columns of the table ``batch``."""
    return {name: getattr(row, name) for name in BatchRow.__dataclass_fields__}


def _opened(entry: Entry) -> BatchRow:
    body = entry.body
    try:
        return BatchRow(
            _text(body["batch"]),
            _text(body["formula"]["id"]),
            _text(body["formula"]["name"]),
            _text(body["batch_g"]),
            _text(body["operator"]),
            opened=entry.at,
            closed=None,
            status=Status.OPEN.value,
            additions=len(body["additions"]),
            accepted=0,
        )
    except (KeyError, TypeError) as error:
        raise _unreadable(entry.seq, f"It does not say which batch it opens: {error!r}.") from error


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is not a text")
    return value


def _unreadable(seq: int, message: str) -> JournalError:
    return JournalError(
        "unreadable-entry",
        message,
        where=f"entry {seq}",
        remedy="See what else was changed: weighd verify DATABASE.",
    )
