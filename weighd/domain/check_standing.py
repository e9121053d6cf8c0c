"""How a scale stands by its newest check, and what that does to what is weighed on it.

A check holds for so many hours, or until a new day begins at a time of day given in UTC: the
record has no other time, and a verification elsewhere knows of no other.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import mass
from weighd.domain.errors import OperatorError
from weighd.domain.moments import milliseconds
from weighd.domain.record import Entry

_DAY_MS = 24 * 3600 * 1000
_TIME = re.compile(r"([01]\d|2[0-3]):([0-5]\d)", re.ASCII)


class Outcome(StrEnum):
    """What is said of one result, and of a whole check."""

    PASS = "pass"  # noqa: S105 -- no password
    FAIL = "fail"
    TOO_CLOSE = "too close to call"


class Then(StrEnum):
    """What a check that failed or is overdue does to acceptances."""

    BARS = "bars"
    FLAGS = "flags"


class Standing(StrEnum):
    """How a scale stands."""

    GOOD = "good"
    OVERDUE = "overdue"
    FAILED = "failed"
    TOO_CLOSE = "too close to call"
    NEVER = "never checked"


@dataclass(frozen=True, slots=True)
class Duty:
    """How long a check holds: ``every_h`` hours, or until ``new_day`` (``"03:00"``, UTC)."""

    then: Then = Then.FLAGS
    every_h: Decimal | None = Decimal(24)
    new_day: str | None = None

    def due_ms(self, checked: str) -> int:
        """When a check made at a moment has to be made anew, in milliseconds since an epoch.

        Raises ``ValueError`` for what is no moment in UTC.
        """
        at = milliseconds(checked)
        if self.new_day is None:
            return at + int((self.every_h or Decimal(24)) * 3600 * 1000)
        found = _TIME.fullmatch(self.new_day)
        if not found:
            raise ValueError(f"{self.new_day!r} is not a time of day")
        begins = (int(found[1]) * 60 + int(found[2])) * 60_000
        return at + _DAY_MS - (at - begins) % _DAY_MS

    def as_json(self) -> dict[str, Any]:
        """As a record keeps it."""
        return {
            "then": str(self.then),
            "every_h": None if self.every_h is None else mass.text(self.every_h),
            "new_day_utc": self.new_day,
        }


def duty_of(body: Mapping[str, Any]) -> Duty:
    """The inverse of :meth:`Duty.as_json`. Raises ``KeyError`` or ``ValueError``."""
    every = None if body["every_h"] is None else mass.parse(body["every_h"])
    duty = Duty(Then(body["then"]), every, body["new_day_utc"])
    duty.due_ms("2000-01-01T00:00:00Z")
    return duty


@dataclass(frozen=True, slots=True)
class Last:
    """The newest check of a scale."""

    seq: int
    hash: str
    at: str
    outcome: Outcome

    def as_json(self) -> dict[str, Any]:
        """As other entries name it."""
        return {"seq": self.seq, "hash": self.hash, "at": self.at, "outcome": str(self.outcome)}


def last_of(entry: Entry) -> Last:
    """The check that an entry is. Raises ``KeyError`` or ``ValueError``."""
    return Last(entry.seq, entry.hash, entry.at, Outcome(entry.body["outcome"]))


def last_of_json(body: Mapping[str, Any]) -> Last:
    """The inverse of :meth:`Last.as_json`. Raises ``KeyError`` or ``ValueError``."""
    return Last(int(body["seq"]), str(body["hash"]), str(body["at"]), Outcome(body["outcome"]))


@dataclass(frozen=True, slots=True)
class Past:
    """What the journal holds of a scale's checks: the newest, and the newest that passed."""

    last: Last | None = None
    good: Last | None = None

    def then(self, last: Last) -> Past:
        """After one more check."""
        return Past(last, last if last.outcome is Outcome.PASS else self.good)

    def as_json(self) -> dict[str, Any]:
        """JSON values."""
        return {
            "last": self.last.as_json() if self.last else None,
            "good": self.good.as_json() if self.good else None,
        }


def past_of_json(body: Mapping[str, Any]) -> Past:
    """The inverse of :meth:`Past.as_json`. Raises ``KeyError`` or ``ValueError``."""
    last, good = body["last"], body["good"]
    return Past(last_of_json(last) if last else None, last_of_json(good) if good else None)


def past_of(newest_first: Iterable[Entry], scales: Collection[str]) -> dict[str, Past]:
    """How the checks of these scales stand, by the name of the scale; no further back than to the
    newest that passed."""
    out: dict[str, Past] = {}
    for entry in newest_first:
        if all(name in out and out[name].good for name in scales):
            break
        scale, one = entry.body["scale"], last_of(entry)
        if scale not in scales:
            continue
        past = out.get(scale, Past(one))
        if past.good is None and one.outcome is Outcome.PASS:
            past = Past(past.last, one)
        out[scale] = past
    return out


def standing(last: Last | None, duty: Duty, at: str) -> Standing:
    """How a scale stands at a moment. Raises ``ValueError`` for what is no moment in UTC."""
    if last is None:
        return Standing.NEVER
    if last.outcome is not Outcome.PASS:
        return Standing.FAILED if last.outcome is Outcome.FAIL else Standing.TOO_CLOSE
    return Standing.OVERDUE if milliseconds(at) >= duty.due_ms(last.at) else Standing.GOOD


def with_acceptance(last: Last | None, duty: Duty, at: str) -> dict[str, Any]:
    """What an acceptance keeps of the check: how the scale stands, and by which entry."""
    return {
        "standing": str(standing(last, duty, at)),
        "last": None if last is None else last.as_json(),
    }


_WHY = {
    Standing.OVERDUE: "has not been checked for too long",
    Standing.FAILED: "failed its check",
    Standing.TOO_CLOSE: "could not be told to be right when it was checked",
    Standing.NEVER: "has not been checked yet",
}


def barred(scale: str, stands: Standing, duty: Duty) -> OperatorError | None:
    """Why nothing may be accepted on a scale; ``None`` where it may."""
    if duty.then is not Then.BARS or stands is Standing.GOOD:
        return None
    return OperatorError(
        "scale-not-checked",
        f"The scale {scale} {_WHY[stands]}, and nothing is accepted on it until it has passed.",
        where=f"scale {scale}",
        remedy="Take the vessel off, check the scale with its weights, and set the vessel back.",
    )
