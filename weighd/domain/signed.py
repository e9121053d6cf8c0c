"""Whether the signatures of a record hold, and are those of the keys that are trusted.

Told apart are: *tampering* that a hash shows is told before this, entry by entry. Entries that were
*sealed anew* after a change give good hashes, but not those that were signed. A record that is *cut
short* ends before its signature does. And a *wrong key* made good signatures, but is not the one
that is trusted: who can write a whole new record can sign it too, with a key of their own.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from weighd.domain.errors import RecordError
from weighd.domain.record import Entry
from weighd.domain.signing import (
    Check,
    Signature,
    check_end,
    check_signature,
    nothing_trusted,
    read_signature,
    short,
)


class SignatureVerifier:
    """Takes each entry with the signatures that end with it.

    ``check``    whether a key made a signature.
    ``trusted``  the public keys, in hex, one of which must have signed every batch that is over;
                 empty to accept any key, which then has to be known from elsewhere.
    ``whole``    a whole journal: batches that were over before its first signature were made
                 before there was a key, and may be without.
    """

    def __init__(self, check: Check, trusted: Iterable[str] = (), *, whole: bool) -> None:
        self._check, self._trusted, self._whole = check, frozenset(trusted), whole
        self._begun = False
        self._signed: dict[str, set[str]] = {}
        self.unsigned = 0

    def take(self, entry: Entry, signatures: Sequence[Signature], *, over: bool) -> None:
        """``over``: its batch is over with this entry, or was. Raises :class:`RecordError`."""
        batch, where = str(entry.body["batch"]), f"entry {entry.seq}"
        good = False
        for one in signatures:
            check_signature(one, entry.station, batch, self._check, where)
            check_end(one, batch, entry.body["n"], entry.hash, where)
            good = good or not self._trusted or one.key in self._trusted
            self._signed.setdefault(one.key, set()).add(batch)
        self._begun = self._begun or good
        if not over or good:
            return
        # A station that has a key signs every end, so one without a signature lost it.
        if (self._begun and self._whole) or (self._trusted and not self._whole):
            raise self._not_trusted(signatures, batch, where)
        self.unsigned += 1

    @property
    def counted(self) -> dict[str, int]:
        """How many batches each key signed."""
        return {key: len(batches) for key, batches in self._signed.items()}

    def finish(self, left: Sequence[Signature], entries: int) -> None:
        """``left`` are signatures of more ``entries`` than there are. Raises ``cut-short``."""
        for one in left:
            raise RecordError(
                "cut-short",
                f"Key {short(one.key)} signed {one.entries} entries of it, and here are {entries}: "
                "the end is missing.",
                where=f"after entry {entries}",
            )
        if self._trusted and not self._begun:
            raise nothing_trusted()

    def _not_trusted(self, signatures: Sequence[Signature], batch: str, where: str) -> RecordError:
        if not signatures:
            return RecordError(
                "not-signed",
                f"Batch {batch} is over, and this entry of it is not signed.",
                where=where,
            )
        keys = ", ".join(sorted({short(one.key) for one in signatures}))
        return RecordError(
            "wrong-key",
            f"The signature of batch {batch} is sound, but made by key {keys}, which is not one "
            "that is trusted.",
            where=where,
            remedy="Get the station's public key from the station itself: weighd key.",
        )


def signatures_of(document: Any) -> list[Signature]:
    """The signatures in an export. Raises :class:`RecordError`."""
    rows = document.get("signatures", [])
    if not isinstance(rows, list):
        raise RecordError("unreadable-signature", "The signatures are not a list.")
    return [read_signature(row, f"signature {n}") for n, row in enumerate(rows, start=1)]
