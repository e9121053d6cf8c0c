"""A head in digits: short enough to be read out, or copied by hand into a book.

``1234 04821 99321 77120 00917 33810 25104 11``: how many entries the head is of, thirty digits, and
two check digits. The thirty are the SHA-256 of what the head says of the journal (station, entries,
Merkle root), as a number, modulo 10^30: who wanted another journal with the same digits would have
to try about 10^30 of them. The check digits are MOD 97-10 of ISO/IEC 7064 (from memory) over all
digits before them, so that a slip of the pen or of the tongue is told from a changed journal.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass

from weighd.domain.errors import OperatorError
from weighd.domain.record import canonical

DIGITS = 30
GROUP = 5
#: More entries than this no journal has.
_MOST = 12


@dataclass(frozen=True, slots=True)
class ShortHead:
    """A head as it was copied down: of the first ``entries`` entries; ``digits`` of their root."""

    entries: int
    digits: str

    def __str__(self) -> str:
        groups = [self.digits[at : at + GROUP] for at in range(0, DIGITS, GROUP)]
        return " ".join((str(self.entries), *groups, check_digits(f"{self.entries}{self.digits}")))


def short_head(station: str, entries: int, root: str) -> ShortHead:
    """The short form of a journal's head; ``root`` is the Merkle root in hex."""
    told = canonical({"weighd_short_head": 1, "station": station, "entries": entries, "root": root})
    number = int.from_bytes(hashlib.sha256(told).digest(), "big")
    return ShortHead(entries, f"{number % 10**DIGITS:0{DIGITS}d}")


def check_digits(digits: str) -> str:
    """MOD 97-10 (ISO/IEC 7064): the two digits that make the whole leave 1 when parted by 97."""
    return f"{98 - int(digits) * 100 % 97:02d}"


def read_short_head(text: str) -> ShortHead:
    """What somebody copied down; blanks and dashes count for nothing.

    Raises :class:`OperatorError`: ``not-a-head`` where it is none, ``misread`` where the check
    digits do not fit.
    """
    digits = re.sub(r"[\s\u2010-\u2015\-/.:]+", "", text)
    least = 1 + DIGITS + 2
    if not re.fullmatch(r"[0-9]+", digits) or not least <= len(digits) < least + _MOST:
        raise OperatorError(
            "not-a-head",
            f"That is no short form of a head: it has {least} digits or a few more, and nothing "
            f"else but blanks; here are {len(digits)} signs.",
            remedy="Copy all of its groups, from the number of entries to the last two digits.",
        )
    if int(digits) % 97 != 1:
        raise OperatorError(
            "misread",
            "The check digits do not fit: a digit is wrong, missing or in another's place.",
            remedy="Compare it with the paper group by group. It says nothing about the journal.",
        )
    entries, body = digits[: -DIGITS - 2], digits[-DIGITS - 2 : -2]
    if entries.startswith("0"):
        raise OperatorError(
            "misread", "It is of no entries.", remedy="Compare it with the paper once more."
        )
    return ShortHead(int(entries), body)
