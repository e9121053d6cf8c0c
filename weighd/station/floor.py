"""The floor: what every station told, as one who watches a broker knows it.

1. A fold over messages and time; no I/O. ``now`` is seconds of a clock that never falls, ``utc``
   wall time, both of whoever watches. Called from one thread at a time.
2. What is retained may be old: a station counts as *here* only when it spoke while we listened,
   and no longer than :data:`BEATS` of its own beats ago.
3. A section is shown only beside the presence of the same run of the daemon; so nothing of an
   earlier run can pass for what is done now.
4. Whatever is not as agreed is counted and changes nothing. At most :data:`MOST_STATIONS`.
"""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any

from weighd.station.floor_schema import LARGEST, UnfitError, fitting
from weighd.station.floor_topics import CLASH, PRESENCE, TOP, level, split

MOST_STATIONS = 200
#: A station that let so many of its beats pass is silent.
BEATS = 3
#: Who listens for so long without a word of a station that is said to be here knows that it is not.
UNHEARD_S = 20.0
#: A station that gave way says so once a minute; so long its name counts as used twice.
CLASH_S = 150.0
#: The difference of two clocks is told anew when it has changed by so much, in seconds.
CLOCK_S = 1.0


class Standing(StrEnum):
    """Whether what is known of a station is what it does now."""

    HERE = "here"
    #: Only what the broker kept was seen so far.
    UNCONFIRMED = "unconfirmed"
    #: Its connection stands, but it says nothing any more; or nothing came at all.
    SILENT = "silent"
    #: Gone without a word: the broker sent its last will.
    AWAY = "away"
    STOPPED = "stopped"
    #: We have no connection to the broker.
    CUT = "cut"


class Why(StrEnum):
    """Why a message was not taken."""

    FOREIGN = "not a topic of a station"
    LARGE = "too large"
    UNREADABLE = "no JSON object in UTF-8"
    VERSION = "another version"
    UNFIT = "not of the agreed shape"
    STATION = "station and topic do not agree"
    MANY = "too many stations"


@dataclass(slots=True)
class _Station:
    name: str
    presence: dict[str, Any] | None = None
    sections: dict[str, dict[str, Any]] = field(default_factory=dict)
    #: When it last spoke while we listened, on either clock; ``None`` when it did not.
    heard: float | None = None
    heard_utc: str = ""
    #: Since when it stands as it does, where we saw that begin.
    since: str = ""
    standing: Standing = Standing.UNCONFIRMED
    #: Its clock less ours, in seconds.
    ahead_s: float | None = None
    clash: float | None = None
    changed: int = 0


class Floor:
    """All stations below one topic.

    ``changed``  counts up with everything that a watcher could see.
    """

    def __init__(self, top: str = TOP) -> None:
        self.top = top
        self.changed = 0
        self.ignored: Counter[str] = Counter()
        self.messages = 0
        self.link = False
        self.why = ""
        self.since = ""
        self.link_changed = 0
        self._listening = 0.0
        self._stations: dict[str, _Station] = {}
        self._gone: dict[str, int] = {}

    # --- the connection -----------------------------------------------------------------------

    def connected(self, now: float, utc: str) -> None:
        """The broker answers: from now on we listen."""
        self.link, self.why, self.since, self._listening = True, "", utc, now
        self._mark_link()
        self.tick(now, utc)

    def cut(self, now: float, utc: str, why: str) -> None:
        """The broker does not answer; ``why`` in words. What was known is known no more."""
        if self.link or not self.since:
            self.since = utc
        elif why == self.why:
            return
        self.link, self.why = False, why
        for one in self._stations.values():
            one.heard = None
        self._mark_link()
        self.tick(now, utc)

    def _mark_link(self) -> None:
        self.changed += 1
        self.link_changed = self.changed

    # --- messages -----------------------------------------------------------------------------

    def take(self, topic: str, payload: bytes, *, retained: bool, now: float, utc: str) -> None:
        """Take a message; ``retained`` as the broker marked it: kept, not said now."""
        self.messages += 1
        why = self._take(topic, payload, retained, now, utc)
        if why is not None:
            self.ignored[why] += 1

    def _take(self, topic: str, payload: bytes, retained: bool, now: float, utc: str) -> Why | None:
        where = split(self.top, topic)
        if where is None:
            return Why.FOREIGN
        at, section = where
        if not payload:
            self._forget(at, section, now, utc)
            return None
        if len(payload) > LARGEST:
            return Why.LARGE
        try:
            value = json.loads(payload.decode("utf-8"), parse_constant=_no_number)
        except (ValueError, RecursionError):
            return Why.UNREADABLE
        if not isinstance(value, dict):
            return Why.UNREADABLE
        try:
            said = fitting(section, value)
        except UnfitError:
            return Why.VERSION if value.get("v") != 1 else Why.UNFIT
        if level(said["station"]) != at:
            return Why.STATION
        one = self._stations.get(at)
        if one is None:
            if section == CLASH:
                return None  # of a station that we do not know
            if len(self._stations) >= MOST_STATIONS:
                return Why.MANY
            one = self._stations[at] = _Station(said["station"])
            self._gone.pop(at, None)
        self._keep(one, section, said, retained, now, utc)
        return None

    def _keep(
        self,
        one: _Station,
        section: str,
        said: dict[str, Any],
        retained: bool,
        now: float,
        utc: str,
    ) -> None:
        if section == CLASH:
            if not retained:
                one.clash = now
        elif section == PRESENCE:
            before = one.presence
            one.presence = said
            if before is not None and said | {"at": ""} != before | {"at": ""}:
                self._mark(one)
        elif one.sections.get(section) != said:
            one.sections[section] = said
            self._mark(one)
        # A last will is the broker's word, not the station's; so is what was kept.
        if not retained and said.get("state") != "away" and section != CLASH:
            one.heard, one.heard_utc = now, utc
            self._compare(one, said["at"], utc)
        self._stand(one, now, utc, retained=retained)

    def _compare(self, one: _Station, at: str, utc: str) -> None:
        """Its clock with ours; how long the message was under way is not known, and small."""
        ahead = _seconds(utc, at)
        if ahead is None:
            return
        if one.ahead_s is None or abs(ahead - one.ahead_s) > CLOCK_S:
            one.ahead_s = round(ahead, 1)
            self._mark(one)

    def _forget(self, at: str, section: str, now: float, utc: str) -> None:
        """A retained message was taken off the broker."""
        one = self._stations.get(at)
        if one is None:
            return
        if section == PRESENCE:
            del self._stations[at]
            self.changed += 1
            self._gone[one.name] = self.changed
            if len(self._gone) > MOST_STATIONS:
                self._gone.pop(next(iter(self._gone)))
            return
        if one.sections.pop(section, None) is not None:
            self._mark(one)
            self._stand(one, now, utc)

    def _mark(self, one: _Station) -> None:
        self.changed += 1
        one.changed = self.changed

    # --- standing -----------------------------------------------------------------------------

    def tick(self, now: float, utc: str) -> None:
        """Time has passed: who is silent now?"""
        for one in self._stations.values():
            if one.clash is not None and now - one.clash > CLASH_S:
                one.clash = None
                self._mark(one)
            self._stand(one, now, utc)

    def _stand(self, one: _Station, now: float, utc: str, *, retained: bool = False) -> None:
        standing = self._standing(one, now)
        if standing is not one.standing or not one.changed:
            # What the broker kept has stood so since nobody knows when.
            one.standing, one.since = standing, "" if retained else utc
            self._mark(one)

    def _standing(self, one: _Station, now: float) -> Standing:
        if not self.link:
            return Standing.CUT
        said = one.presence
        if said is not None and said["state"] != "here":
            return Standing(said["state"])
        patience = UNHEARD_S if said is None else max(said["beat_s"] * BEATS, 1.0)
        if one.heard is None or said is None:
            waited = now - max(self._listening, one.heard or 0.0)
            return Standing.SILENT if waited > patience else Standing.UNCONFIRMED
        return Standing.HERE if now - one.heard <= patience else Standing.SILENT

    # --- what is shown ------------------------------------------------------------------------

    def names(self) -> list[str]:
        """The stations, by name."""
        return sorted(one.name for one in self._stations.values())

    def of_link(self, seen: int = -1) -> dict[str, Any] | None:
        """The connection, where it changed after ``seen``; always with -1."""
        if self.link_changed <= seen:
            return None
        return {"connected": self.link, "why": self.why, "since": self.since}

    def cards(self, seen: int = -1) -> dict[str, Any]:
        """Every station that changed after ``seen``, by name; ``None`` for one that is no more."""
        out: dict[str, Any] = {
            name: None for name, changed in self._gone.items() if changed > seen >= 0
        }
        for one in self._stations.values():
            if one.changed > seen:
                out[one.name] = _card(one)
        return out


def _card(one: _Station) -> dict[str, Any]:
    """A station as watchers see it; sections of another run of it are left out."""
    said = one.presence
    run = said["instance"] if said is not None else None
    sections = {
        name: section
        for name, section in one.sections.items()
        if run is None or section["instance"] == run
    }
    known = [*sections.values(), *([said] if said is not None and said["state"] != "away" else [])]
    batch = sections.get("batch")
    return {
        "name": one.name,
        "standing": str(one.standing),
        "since": one.since,
        "heard": one.heard_utc,
        "said": max((section["at"] for section in known), default=""),
        "ahead_s": one.ahead_s,
        "twice": one.clash is not None,
        "version": "" if said is None else said["version"],
        "batch": None if batch is None else batch["batch"],
        "last": None if batch is None else batch["last"],
        "steps": _body(sections.get("steps"), "batches", "more"),
        "scales": _body(sections.get("scales"), "scales", "more"),
        "sharing": _body(sections.get("sharing"), "state", "behind", "since", "code"),
        "notices": _body(sections.get("notices"), "store", "notices"),
    }


def _body(section: dict[str, Any] | None, *keys: str) -> dict[str, Any] | None:
    return None if section is None else {key: section[key] for key in keys}


def _seconds(earlier: str, later: str) -> float | None:
    """From one moment to another; ``None`` where a text that looks like one is none."""
    try:
        return (datetime.fromisoformat(later) - datetime.fromisoformat(earlier)).total_seconds()
    except ValueError:
        return None


def _no_number(text: str) -> Any:
    raise ValueError(f"{text} is no number of JSON")
