"""Answers that a station keeps, so that a command sent twice acts once."""

from __future__ import annotations

from collections import OrderedDict

from weighd.domain.record import Entry
from weighd.station.inputs import Answer

#: Keys remembered; older ones are found in the journal.
KEYS_KEPT = 512


class Answers:
    """The newest answers, by the key of their command."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, Answer] = OrderedDict()

    def again(self, key: str) -> Answer | None:
        """The answer to a key that was used before."""
        done = self._kept.get(key) if key else None
        return None if done is None else Answer(done.batch, done.entry, again=True)

    def keep(self, key: str, answer: Answer) -> None:
        """Keep an answer; nothing without a key."""
        if not key:
            return
        self._kept[key] = answer
        while len(self._kept) > KEYS_KEPT:
            self._kept.popitem(last=False)

    def remember(self, entry: Entry) -> None:
        """Keep the answer that an entry was."""
        self.keep(entry.body.get("key", ""), Answer(entry.body.get("batch", ""), entry.seq))
