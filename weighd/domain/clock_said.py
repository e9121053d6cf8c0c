"""What an entry says of its own time, where the clock that gave it was in doubt.

1. ``at`` is what the station's wall clock showed, in UTC. The order of entries is that of their
   numbers, never of their times. An entry without ``clock`` in its body has a time that is no
   earlier than any in the record, of a clock that was set.
2. ``clock`` is there only where that is not so: ``is`` how (:class:`Doubt`), ``newest`` the newest
   time in the record that is not in doubt, ``since`` when it first was so far ahead.
3. It follows from the time and the entry before alone, so that whoever has the journal can make it
   again, and the newest entry is all that a start has to read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from weighd.domain.following import does_not_follow
from weighd.domain.moments import milliseconds
from weighd.domain.record import Body, Entry

#: No weighd is older than this: a clock that shows less was never set. Part of the format: it is
#: not moved with a release, or records would have to be read by the release that made them.
RELEASED = "2025-11-25T00:00:00.000Z"
#: So many days without an entry are less likely than a clock that is ahead.
MOST_DAYS = 400
#: A station that worked by such a clock for so many days is taken at its word.
LONG_DAYS = 30
_DAY_MS = 24 * 3600 * 1000


class Doubt(StrEnum):
    """Why a time is in doubt."""

    #: Before there was any weighd: a computer that lost its time and starts in 1970, say.
    UNSET = "unset"
    #: Before a time that is recorded: it was set back, or the time before it was wrong.
    BEHIND = "behind"
    #: More than :data:`MOST_DAYS` after the newest time that is not in doubt.
    AHEAD = "ahead"


@dataclass(frozen=True, slots=True)
class Wall:
    """How times stand after an entry: ``newest`` that is not in doubt, empty where there is none;
    ``ahead``, since when the clock has shown far more than that."""

    newest: str = ""
    ahead: str = ""

    @staticmethod
    def after(entry: Entry) -> Wall:
        """... after this one, or a stub of it."""
        told = entry.body.get("clock")
        if not isinstance(told, Mapping):
            return Wall(entry.at)
        return Wall(str(told.get("newest", "")), str(told.get("since", "")))

    def said(self, at: str) -> dict[str, str] | None:
        """What the next entry has to say of its time ``at``; ``None`` where it is in no doubt.

        Raises ``ValueError`` for what is no moment.
        """
        newest = {"newest": self.newest} if self.newest else {}
        if at < RELEASED:
            return {"is": Doubt.UNSET.value, **newest}
        if not self.newest or (at >= self.newest and at[:7] == self.newest[:7]):
            return None
        if at < self.newest:
            return {"is": Doubt.BEHIND.value, **newest}
        since = self.ahead or at
        if _days(self.newest, at) <= MOST_DAYS or _days(since, at) >= LONG_DAYS:
            return None
        return {"is": Doubt.AHEAD.value, **newest, "since": since}

    def stamped(self, at: str, body: Body) -> dict[str, Any]:
        """A body with what is to be said of its time."""
        told = self.said(at)
        return {**body, "clock": told} if told else dict(body)


def _days(earlier: str, later: str) -> float:
    return (milliseconds(later) - milliseconds(earlier)) / _DAY_MS


class ClockVerifier:
    """Holds what entries say of their times to the times themselves; entries in order.

    A journal that was begun before entries said it is taken as it is as far as the first that does:
    from there on each has to. In a batch alone the entries between are not there: then what is said
    must hold by itself, and not be against an entry before.

    ``doubted``  how many said that their time is in doubt.
    """

    def __init__(self, *, whole: bool) -> None:
        self.doubted = 0
        self._whole, self._wall = whole, Wall()

    def take(self, entry: Entry) -> None:
        """Check one more. Raises :class:`RecordError`; ``ValueError`` for what is no moment."""
        told = entry.body.get("clock")
        if told is None and not self.doubted:
            self._wall = Wall(entry.at)
            return
        wall = self._wall
        if not self._whole:
            known = wall.newest
            wall = Wall(known) if told is None else Wall.after(entry)
            if told is None and entry.at >= known:
                self._wall = Wall(entry.at)
                return
            if wall.newest < known:
                raise does_not_follow(
                    entry, f"Its clock is held against {wall.newest or 'nothing'}, after {known}."
                )
        if told != (expected := wall.said(entry.at)):
            raise does_not_follow(
                entry,
                f"Its time is {entry.at}, the newest before it {wall.newest or 'none'}: its clock "
                f"is {_in_words(expected)}, and the entry says {_in_words(told)}.",
            )
        self.doubted += told is not None
        self._wall = Wall.after(entry)


def _in_words(told: object) -> str:
    if told is None:
        return "in no doubt"
    return repr(str(told.get("is"))) if isinstance(told, Mapping) else "what cannot be read"
