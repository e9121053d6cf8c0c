"""The entry that puts a pour right: what a batch is by it, and whether it follows.

It keeps what went wrong, what is done, what was in by then with the readings that show it, the
whole amounts wanted from now on, the limits that the mix keeps by it, and every weighing that is
then to come with its new limits. What was accepted stays as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from functools import partial
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Batch, Planned, planned_of
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.following import differs, does_not_follow, where_of
from weighd.domain.metrology import Level, root_sum
from weighd.domain.put_right import PutRight
from weighd.domain.record import Entry
from weighd.domain.recovery import Change, State, Way, change_of, state_of
from weighd.domain.recovery_coming import becomes, coming
from weighd.domain.recovery_ways import check
from weighd.domain.steps import stands_tared
from weighd.domain.vessels import K

_differs = partial(differs, source="the batch gives")

_NONE = Decimal(0)
#: The amount in hand may have been read this many intervals beside what a change rests on.
SAME_D = 2

#: Gives the level that the readings of an evidence show, for an interval in grams.
ReadLevel = Callable[[Mapping[str, Any], Decimal], Level]


def body_of(state: State, change: Change) -> dict[str, Any]:
    """What an entry says of a change, and what follows from it."""
    grams = becomes(state, change)
    return {
        **change.as_json(),
        "mass_g": mass.text(sum(grams.values(), _NONE)),
        "additions": [one.as_json() for one in coming(state, change)],
    }


def put_right(batch: Batch, entry: Entry) -> Batch:
    """The batch after the entry."""
    body, done = entry.body, len(batch.accepted)
    was, change = batch.current, change_of(entry.body)
    if was is None or body["addition"] != was.n:
        raise ValueError("it is not about the addition being weighed")
    told = PutRight(
        entry.seq,
        was.n,
        str(change.trouble),
        str(change.way),
        mass.parse(body["mass_g"]),
        body["reason"],
        body["by"],
        entry.at,
    )
    batch = replace(batch, put_right=(*batch.put_right, told), held=None)
    if change.way is Way.START_AGAIN:
        return _started_again(batch, was)
    additions = (*batch.additions[:done], *(planned_of(one) for one in body["additions"]))
    others = {one.id: _content(body, of) for of, one in change.others.items()}
    now = additions[done] if len(additions) > done else None
    lots, splits = dict(batch.lots), dict(batch.splits)
    if now is None or now.ingredient != was.ingredient:
        lots.pop(was.n, None)
        splits.pop(was.n, None)
    batch = replace(
        batch,
        additions=additions,
        wholes=dict(change.wholes),
        others={**batch.others, **others},
        lots=lots,
        splits=splits,
    )
    return batch if now is None or change.rests_on_g else _turned(batch, was, now)


def _content(body: Mapping[str, Any], of: int) -> dict[str, Any]:
    found = next(one for one in body["others"] if one["of"] == of)
    return {key: value for key, value in found.items() if key != "of"}


def _started_again(batch: Batch, was: Planned) -> Batch:
    """Its vessel is emptied of what went in, and tared anew."""
    tares, shifts, emptied = dict(batch.tares), dict(batch.shifts), dict(batch.emptied)
    splits = {n: one for n, one in batch.splits.items() if n != was.n}
    tare = tares.pop(was.scale, None)
    shifts.pop(was.scale, None)
    if tare is not None:
        emptied[was.scale] = tare.level
    return replace(batch, tares=tares, shifts=shifts, emptied=emptied, splits=splits)


def _turned(batch: Batch, was: Planned, now: Planned) -> Batch:
    """Nothing of it was in, and another one comes first: its vessel stands there or is awaited."""
    if stands(batch, was, now):
        return batch
    gone = {was.scale, now.scale}
    return replace(
        batch,
        tares={name: one for name, one in batch.tares.items() if name not in gone},
        shifts={name: one for name, one in batch.shifts.items() if name not in gone},
    )


def stands(batch: Batch, was: Planned, now: Planned) -> bool:
    """Whether the vessel of the addition that now comes first stands tared on its scale."""
    if was.by_difference or now.by_difference:
        return was.by_difference and now.by_difference and was.ingredient == now.ingredient
    if now.scale == was.scale and (now.step is None or was.step is None):
        return True
    if now.scale == was.scale and now.step and was.step and now.step.place == was.step.place:
        return True
    return stands_tared(batch.additions, len(batch.accepted), now)


# --- verifying ------------------------------------------------------------------------------------


def follows(batch: Batch, entry: Entry, read: ReadLevel) -> None:
    """Whether the entry follows from the batch. Raises :class:`RecordError`; another for nonsense.

    ``read``  derives a level from the readings kept.
    """
    body, planned, tare = entry.body, batch.current, batch.tare
    if planned is None or body["addition"] != planned.n or body["scale"] != planned.scale:
        raise RecordError(
            "not-current",
            f"Addition {body['addition']} was not the one being weighed.",
            where=f"entry {entry.seq}",
        )
    interval = batch.scales[planned.scale].interval_g
    change, net = change_of(body), mass.parse(body["net_g"])
    shown = _NONE
    if "evidence" in body:
        if tare is None:
            raise _differs(entry, "net_g", body["net_g"], "nothing: it was not tared")
        try:
            gross = read(body["evidence"], interval)
        except RecordError as error:
            raise RecordError(
                error.code, error.message, where=f"{where_of(entry)}, {error.where}"
            ) from error
        _same(entry, "gross_g", gross.grams)
        _same(entry, "tare_g", tare.level.grams)
        shown = planned.net_g(gross.grams, tare.level.grams)
    if net != shown:
        raise _differs(entry, "net_g", body["net_g"], mass.text(shown))
    if not rests(change, net, interval):
        raise _differs(entry, "rests_on_g", body["rests_on_g"], mass.text(net))
    if not body["reason"]:
        raise _differs(entry, "reason", "none", "a reason")
    try:
        state = state_of(batch, change.trouble, change.rests_on_g, change.was)
        check(state, change)
        due = body_of(state, change)
    except RecordError as error:
        raise RecordError(error.code, error.message, where=where_of(entry)) from error
    except OperatorError as error:
        raise does_not_follow(entry, error.message) from error
    for key in ("mass_g", "additions"):
        if body[key] != due[key]:
            raise _differs(entry, key, "other" if key == "additions" else body[key], "others")


def rests(change: Change, net_g: Decimal, interval_g: Decimal) -> bool:
    """Whether a change was worked out for what is in: nothing is nothing, else near enough."""
    if not change.rests_on_g or not net_g:
        return change.rests_on_g == net_g
    return abs(change.rests_on_g - net_g) <= SAME_D * interval_g


def _same(entry: Entry, key: str, expected: Decimal) -> None:
    if mass.parse(entry.body[key]) != expected:
        raise _differs(entry, key, entry.body[key], mass.text(expected))


# --- the tare after a wrong ingredient ------------------------------------------------------------


def as_before(batch: Batch, scale: str, shown: Level, *, confirmed: bool) -> dict[str, Any]:
    """What a tare entry says of a vessel that a wrong ingredient was to be taken out of.

    Nothing where none was. Raises :class:`OperatorError`, ``not-as-before``, where it does not
    weigh what it did before, and nobody said so.
    """
    stood = batch.emptied.get(scale)
    if stood is None:
        return {}
    agrees = _agrees(batch, scale, stood, shown)
    if not agrees and not confirmed:
        off = shown.grams - stood.grams
        by = mass.text(mass.rounded(abs(off), batch.scales[scale].interval_g))
        raise OperatorError(
            "not-as-before",
            f"The vessel is {by} g {'heavier' if off > 0 else 'lighter'} than it was before the "
            "wrong ingredient went in.",
            remedy="Take all of it out, and nothing else, then press again; or confirm that "
            "another vessel stands there, or that it is to go on as it is.",
        )
    told: dict[str, Any] = {"stood_g": mass.text(stood.grams)}
    return told if agrees else {**told, "stood_confirmed": True}


def _agrees(batch: Batch, scale: str, stood: Level, shown: Level) -> bool:
    room = K * root_sum(stood.u_g, shown.u_g) + 2 * batch.scales[scale].interval_g
    return abs(shown.grams - stood.grams) <= room


def as_before_again(batch: Batch, entry: Entry, shown: Level) -> None:
    """Whether a tare entry says so of it. Raises :class:`RecordError`."""
    body = entry.body
    stood = batch.emptied.get(body["scale"])
    if stood is None:
        if "stood_g" in body:
            raise _differs(entry, "stood_g", body["stood_g"], "nothing to compare with")
        return
    _same(entry, "stood_g", stood.grams)
    noticed = body.get("stood_confirmed", False)
    due = not _agrees(batch, body["scale"], stood, shown)
    if noticed is not due:
        told = "a word of whoever tared it all the same" if due else "no word of it"
        raise _differs(entry, "stood_confirmed", noticed, told)
