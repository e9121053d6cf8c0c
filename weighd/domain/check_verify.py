"""Verifying checks, and what acceptances say of them.

In a whole journal every check is there, in order: an acceptance must name the newest of its scale
before it, and stand as that one has it. A batch shown alone carries the checks that its acceptances
name, whole: each must have the hash by which the batch's own chain names it, and follow from its
readings. What a batch alone cannot show is that there was no later check that it leaves out, in
front of an acceptance or behind the batch; that only the whole journal shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Batch, Kind
from weighd.domain.check_record import Read, conclude, placement_of, terms_of
from weighd.domain.check_standing import (
    Last,
    Outcome,
    Standing,
    last_of,
    standing,
    with_acceptance,
)
from weighd.domain.errors import RecordError
from weighd.domain.following import differs, where_of
from weighd.domain.metrology import Level
from weighd.domain.record import Entry
from weighd.domain.rederive import Rederiver


class CheckVerifier:
    """Takes checks and acceptances in the order of the journal.

    ``whole``    every check of the station comes by; else only those that a batch names.
    ``checks``   how many were derived again; ``flagged`` acceptances on a scale that did not
                 stand well, and ``doubted`` those whose scale failed the next check.
    """

    def __init__(self, evidence: Rederiver, *, whole: bool) -> None:
        self.checks = 0
        self.flagged = 0
        self.doubted = 0
        self._evidence = evidence
        self._whole = whole
        self._last: dict[str, Last] = {}
        self._good: dict[str, Last] = {}
        self._given: dict[int, tuple[str, Last]] = {}
        #: Acceptances since the last check of each scale: what a failed one puts in doubt.
        self._since: dict[str, list[int]] = {}

    def check(self, entry: Entry) -> None:
        """A check. Raises :class:`RecordError`; another error for nonsense."""
        body, scale = entry.body, entry.body["scale"]
        last = last_of(entry)
        self._derive(entry, body)
        if self._whole:
            good = self._good.get(scale)
            self._same(entry, "last_good", body["last_good"], good.as_json() if good else None)
            self._last[scale] = last
            self._told(scale, last)
            if last.outcome is Outcome.PASS:
                self._good[scale] = last
        else:
            self._given[entry.seq] = (scale, last)
        self.checks += 1

    def accepted(self, batch: Batch, entry: Entry) -> None:
        """An acceptance, before the batch has it. Raises as :meth:`check` does."""
        if entry.kind != Kind.ACCEPTED:
            return
        scale, told = entry.body["scale"], entry.body.get("check")
        duty = batch.scales[scale].duty
        if duty is None:
            self._same(entry, "check", told, None)
            return
        if told is None:
            raise differs(entry, "check", "missing", "how the scale stood")
        last = self._last.get(scale) if self._whole else self._named(entry, scale, told)
        self._same(entry, "check", told, with_acceptance(last, duty, entry.at))
        if standing(last, duty, entry.at) is not Standing.GOOD:
            self.flagged += 1
        self._since.setdefault(scale, []).append(entry.seq)

    def finish(self) -> None:
        """All is there: of a batch alone, what later checks that it carries say of it."""
        for _, (scale, last) in sorted(self._given.items()):
            self._told(scale, last)

    def _told(self, scale: str, last: Last) -> None:
        """What a check says of the acceptances before it, unless it could not tell."""
        if last.outcome is Outcome.TOO_CLOSE:
            return
        since = self._since.get(scale, [])
        self._since[scale] = [seq for seq in since if seq > last.seq]
        if last.outcome is Outcome.FAIL:
            self.doubted += len(since) - len(self._since[scale])

    def _named(self, entry: Entry, scale: str, told: Mapping[str, Any]) -> Last | None:
        """The newest check before an acceptance, out of those given with the batch."""
        named = told["last"]
        if named is not None and self._given.get(named["seq"], ("", None))[0] != scale:
            raise RecordError(
                "check-missing",
                f"It names entry {named['seq']} as the check of the scale {scale}, which is not "
                "here.",
                where=where_of(entry),
            )
        before = [seq for seq, (of, _) in self._given.items() if of == scale and seq < entry.seq]
        return self._given[max(before)][1] if before else None

    def _derive(self, entry: Entry, body: Mapping[str, Any]) -> None:
        terms = terms_of(body)
        reads = []
        for step in body["steps"]:
            empty = self._level(entry, step, "empty", terms.scale.interval_g)
            loaded = None
            if step["loaded"] is not None:
                loaded = self._level(entry, step, "loaded", terms.scale.interval_g)
            placed = placement_of(step)
            if (loaded is None) is not (placed.weight is None):
                raise differs(entry, "loaded", "not as", "the weight asked for")
            reads.append(Read(placed, empty, loaded))
        if not reads:
            raise RecordError(
                "too-little-evidence", "A check of nothing shows nothing.", where=where_of(entry)
            )
        concluded = conclude(reads, terms)
        for step, one in zip(body["steps"], concluded.each, strict=True):
            for key, value in one.as_json("error_g").items():
                self._same(entry, f"steps[{step['n']}].{key}", step[key], value)
        for step, read in zip(body["steps"], reads, strict=True):
            net = mass.text(read.net_g)
            self._same(entry, f"steps[{step['n']}].net_g", step["net_g"], net)
        for key, told in (
            ("repeatability", concluded.repeatability),
            ("corners", concluded.corners),
            ("outcome", str(concluded.outcome)),
        ):
            self._same(entry, key, body[key], told)

    def _level(self, entry: Entry, step: Mapping[str, Any], which: str, d: Decimal) -> Level:
        stood = step[which]
        shown = self._evidence.level_read(stood, d)
        for key, value in (
            ("grams", mass.text(shown.grams)),
            ("u_g", mass.text(shown.u_g)),
            ("budget", shown.budget.as_json()),
        ):
            self._same(entry, f"steps[{step['n']}].{which}.{key}", stood[key], value)
        return shown

    def _same(self, entry: Entry, key: str, told: Any, expected: Any) -> None:
        if told != expected:
            raise differs(entry, key, told, expected)
