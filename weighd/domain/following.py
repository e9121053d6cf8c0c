"""What to say of an entry that does not follow from what it rests on."""

from __future__ import annotations

from collections.abc import Mapping
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
