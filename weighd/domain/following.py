"""What to say of an entry that does not follow: from the one before, or from what it rests on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.record import Entry


def where_of(entry: Entry) -> str:
    """Which entry it is, for people."""
    return f"entry {entry.seq} ({entry.kind})"


def does_not_follow(entry: Entry, message: str) -> RecordError:
    """The error that an entry does not follow; ``message`` is a sentence."""
    return RecordError("does-not-follow", message, where=where_of(entry))


def differs(
    entry: Entry,
    key: str,
    found: object,
    expected: object,
    source: str = "its evidence gives",
) -> RecordError:
    """... since ``key`` is not what its source gives."""
    return does_not_follow(entry, f"{key} is {found}, where {source} {expected}.")


def not_recordable(entry: Entry, error: OperatorError) -> RecordError:
    """... since it would have been refused."""
    return does_not_follow(entry, f"It could not have been recorded: {error.message}")


def check_made(entry: Entry, kept: Mapping[str, Any], made: Mapping[str, Any], source: str) -> None:
    """Holds what an entry keeps to the same made again. Raises :class:`RecordError` naming the
    first field, by name, that is another."""
    for key in sorted({*kept, *made}):
        if kept.get(key) != made.get(key):
            raise differs(entry, key, kept.get(key), made.get(key), source)


# --- in the chain ---------------------------------------------------------------------------------


def changed(where: str) -> RecordError:
    """The error that an entry does not give its hash."""
    return RecordError(
        "hash-mismatch",
        "The content does not give the hash it carries: it was changed after it was written.",
        where=where,
    )


def missing(expected: int, where: str) -> RecordError:
    """The error that another entry stands where ``expected`` should."""
    return RecordError("entry-missing", f"Entry {expected} should come here.", where=where)


def of_another(where: str) -> RecordError:
    """The error that an entry is of another station."""
    return RecordError("other-station", "It is of another station.", where=where)


def broken(where: str) -> RecordError:
    """The error that an entry names another than the one before it."""
    return RecordError("chain-broken", "It does not follow from the entry before it.", where=where)


@contextmanager
def readable(where: str) -> Iterator[None]:
    """Name the entry that is not as such an entry should be."""
    try:
        yield
    except (LookupError, TypeError, ValueError, AttributeError, ArithmeticError) as error:
        raise RecordError(
            "unreadable-entry", f"It is not as such an entry should be: {error!r}.", where=where
        ) from error
