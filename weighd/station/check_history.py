"""Checks in the journal: the history of a scale, and what a batch has to do with it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import islice
from typing import Any

from weighd.domain.batch import Kind
from weighd.domain.check_standing import Outcome, Past, last_of, past_of
from weighd.domain.fold import fold
from weighd.domain.record import Entry
from weighd.station.check_picture import digest
from weighd.station.ports import Journal


def past(journal: Journal, scales: Collection[str]) -> dict[str, Past]:
    """How the checks of these scales stand, by what the journal holds.

    It is read back only as far as it has to be: to the newest that passed, for each scale.
    """
    return past_of(journal.checks(), scales) if scales else {}


def asked_by(batch: Sequence[Entry]) -> set[str]:
    """The scales of a batch that have to be checked, by its entries."""
    folded = fold(batch)
    return {name for name, one in folded.scales.items() if one.duty} if folded else set()


def history(
    journal: Journal, scale: str, *, before: int | None = None, limit: int = 50
) -> list[dict[str, Any]]:
    """Checks of one scale, newest first, without their readings; a failed one names the weighings
    that it puts in doubt."""
    found = (one for one in journal.checks(before=before) if one.body["scale"] == scale)
    return [{**digest(one), "doubted": doubted(journal, one)} for one in islice(found, limit)]


def doubted(journal: Journal, check: Entry) -> list[dict[str, Any]]:
    """What was accepted on a scale between its last good check and one that failed.

    By batch: ``{"batch": ..., "additions": [...]}``; nothing where the check did not fail.
    """
    if last_of(check).outcome is not Outcome.FAIL:
        return []
    good = check.body["last_good"]
    out: dict[str, list[int]] = {}
    for entry in journal.entries(after=good["seq"] if good else 0, kind=str(Kind.ACCEPTED)):
        if entry.seq > check.seq:
            break
        if entry.body["scale"] == check.body["scale"]:
            out.setdefault(entry.body["batch"], []).append(entry.body["addition"])
    return [{"batch": batch, "additions": found} for batch, found in out.items()]


def of_batch(journal: Journal, entries: Sequence[Entry]) -> list[Entry]:
    """The checks that a batch's record is complete with, oldest first.

    Those that its acceptances name, and the first after each of them that could tell whether the
    scale was still right.
    """
    accepted = [one for one in entries if one.kind == Kind.ACCEPTED and one.body.get("check")]
    if not accepted:
        return []
    wanted: dict[int, Entry] = {}
    named = {one.body["check"]["last"]["seq"] for one in accepted if one.body["check"]["last"]}
    for entry in _named(journal, named):
        wanted[entry.seq] = entry
    scales = {one.body["scale"] for one in accepted}
    later: list[Entry] = []
    for check in journal.checks():
        if check.seq < accepted[0].seq:
            break
        if check.body["scale"] in scales and last_of(check).outcome is not Outcome.TOO_CLOSE:
            later.append(check)
    for one in accepted:
        after = [c for c in later if c.seq > one.seq and c.body["scale"] == one.body["scale"]]
        if after:
            wanted[after[-1].seq] = after[-1]
    return [wanted[seq] for seq in sorted(wanted)]


def _named(journal: Journal, wanted: set[int]) -> Iterator[Entry]:
    for seq in sorted(wanted):
        found = journal.entries(after=seq - 1, limit=1)
        yield from (one for one in found if one.seq == seq)


def said_of(batch: Sequence[Entry], checks: Sequence[Entry]) -> list[dict[str, Any]]:
    """What checks say of a batch's acceptances, where they do not say that all is well.

    ``standing`` of the scale when it was accepted, and the check that failed next, if one did.
    """
    out = []
    for entry in batch:
        told = entry.body.get("check") if entry.kind == Kind.ACCEPTED else None
        if told is None:
            continue
        after = next(
            (
                one
                for one in checks
                if one.seq > entry.seq
                and one.body["scale"] == entry.body["scale"]
                and last_of(one).outcome is not Outcome.TOO_CLOSE
            ),
            None,
        )
        failed = after if after and last_of(after).outcome is Outcome.FAIL else None
        if told["standing"] == "good" and failed is None:
            continue
        out.append(
            {
                "addition": entry.body["addition"],
                "scale": entry.body["scale"],
                "standing": told["standing"],
                "failed": None if failed is None else {"seq": failed.seq, "at": failed.at},
            }
        )
    return out
