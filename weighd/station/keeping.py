"""What is learned of the scales, kept from one start to the next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Protocol

from weighd.station.known import Known
from weighd.station.station import Station

#: Of each scale which one it is, and what is known of it.
News = Mapping[str, tuple[str, Known]]


class LearnedStore(Protocol):
    """Where it is kept. Calls may come from any thread; each may raise ``JournalError``."""

    def keep(self, known: News, at: str) -> None: ...

    def forget(self, scale: str) -> bool: ...


class Keeper:
    """Hands on what is new; ``identities`` say of each scale which one it is."""

    def __init__(self, store: LearnedStore, identities: Mapping[str, str]) -> None:
        self._store = store
        self._identities = identities
        self._kept: dict[str, Known] = {}

    def news(self, station: Station) -> News:
        """What was learned since it was last kept; in the loop that the station lives in."""
        out = {}
        for name, scale in station.scales.items():
            known = scale.known()
            if known is None or name not in self._identities:
                continue
            # A scale that says nothing more teaches nothing more.
            if known == self._kept.get(name, scale.setup.known):
                continue
            if not known.since:
                scale.since = station.at()
                known = replace(known, since=scale.since)
            out[name] = (self._identities[name], known)
        return out

    def keep(self, news: News, at: str) -> None:
        """Store news, from any thread. Raises :class:`JournalError`."""
        if news:
            self._store.keep(news, at)
            self._kept |= {name: known for name, (_, known) in news.items()}

    def forget(self, scale: str) -> None:
        """Forget a scale, from any thread. Raises :class:`JournalError`."""
        self._store.forget(scale)
        self._kept.pop(scale, None)
