"""Entries about the keeping of the record itself: they are of no batch and of no lot.

``key changed``  from here on the station signs with another key: that one was lost, or the station
                 went on from a copy without it. ``before`` is the key that signed last. The new key
                 cannot show that it is the old one's heir; the entry only says when it began.
``put away``     batches went into an archive (``away``).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from weighd.domain.away import PUT_AWAY
from weighd.domain.following import differs, does_not_follow
from weighd.domain.record import Body, Entry

KEY_CHANGED = "key changed"
KINDS = frozenset({KEY_CHANGED, PUT_AWAY})
_HEX = frozenset("0123456789abcdef")


def is_keeping(entry: Entry) -> bool:
    """Whether an entry is about the keeping of the record."""
    return entry.kind in KINDS and "batch" not in entry.body


def key_changed(before: str, key: str, version: str) -> Body:
    """The body of the entry that tells of another key; both public, in hex."""
    return {"before": before, "key": key, "weighd": version}


def check_keeping(entry: Entry) -> None:
    """Raises :class:`RecordError`; ``KeyError`` and the like for what is no such entry."""
    body: Mapping[str, Any] = entry.body
    if entry.kind == KEY_CHANGED:
        for name in ("before", "key"):
            if len(body[name]) != 64 or not set(body[name]) <= _HEX:
                raise does_not_follow(entry, f"{name} is no public key.")
        if body["before"] == body["key"]:
            raise does_not_follow(entry, "The key is the same as before.")


def check_key_before(entry: Entry, signed_last: str) -> None:
    """Whether the key that signed last is the one that is said to have gone."""
    if entry.kind == KEY_CHANGED and signed_last and entry.body["before"] != signed_last:
        raise differs(
            entry, "before", entry.body["before"], signed_last, "the signature before it is by"
        )
