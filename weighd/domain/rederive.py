"""Whether what an entry says follows from the readings it keeps.

For every weighing the bytes kept as evidence must decode to the grams recorded, the grams give the
levels, and the levels, what is stated of the scale, the limits and the rule give the net, each
component of its uncertainty, the guard band and the verdict; and a moved zero must give the tare
that was weighed on with. A weighing without a budget is of the time before budgets were kept, and
is held to what was done then (``metrology_before``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any, Protocol

from weighd.domain import mass
from weighd.domain import metrology_before as before
from weighd.domain.batch import Batch, Cause, Kind, Planned, Scale, Status, Tare
from weighd.domain.dry_ice_record import check_dry_ice
from weighd.domain.errors import RecordError
from weighd.domain.following import differs
from weighd.domain.formula import BY_DIFFERENCE
from weighd.domain.lot_splits import as_fields
from weighd.domain.metrology import (
    Budget,
    Level,
    acceptance,
    half_hours,
    judge,
    level,
    net_budget,
    root_sum,
)
from weighd.domain.moments import seconds_between
from weighd.domain.process_orders import here
from weighd.domain.process_verify import check_process
from weighd.domain.reading import Reading, steps_of
from weighd.domain.record import Entry
from weighd.domain.recovery_record import as_before_again, follows
from weighd.domain.settling import FEWEST
from weighd.domain.shares import carried
from weighd.domain.tipping import expected, sums_as_json
from weighd.domain.vessel_record import as_body
from weighd.domain.vessels import vessel_of
from weighd.domain.zero import (
    FEWEST_AFTER,
    FEWEST_BEFORE,
    Moved,
    new_tare,
    of_body,
    shown_level,
)


class Rereader(Protocol):
    """Something that decodes the bytes of one reading again."""

    def feed(self, t: float, data: bytes) -> Sequence[Reading]: ...


#: Makes a fresh decoder from the spec kept as evidence; ``KeyError`` where none is known.
Reread = Callable[[Mapping[str, Any]], Rereader]


class Rederiver:
    """Checks entries against their evidence. ``unread``: decoders that are not installed here.

    ``reread``  decodes evidence again; without it the grams are taken as recorded.
    """

    def __init__(self, reread: Reread | None) -> None:
        self.weighings = 0
        self.steps = 0
        self.unread: set[str] = set()
        self._reread = reread
        self._rules: Mapping[str, Callable[[Batch, Entry], None]] = {
            Kind.HELD: self._held,
            Kind.ZERO_MOVED: self._zero_moved,
            Kind.LOT_NAMED: self._next_lot,
            Kind.ACCEPTED: self._accepted,
        }

    def check(self, batch: Batch, entry: Entry) -> None:
        """Whether an entry follows. Raises :class:`RecordError`; another error for nonsense."""
        if batch.status is Status.OPEN:
            self._weighing(batch, entry)
        elif batch.status is Status.IN_PROCESS:
            check_process(batch, entry)
            self.steps += entry.kind == Kind.STEP_ENDED
            check_dry_ice(batch, entry, here(batch).step, self.displayed)

    def _weighing(self, batch: Batch, entry: Entry) -> None:
        body = entry.body
        if batch.budgets and "budget" not in body and _weighs(entry):
            raise differs(entry, "budget", "missing", "what the uncertainty is made of")
        if entry.kind == Kind.TARED:
            found = self._level(batch, body, body["evidence"], "readings")
            self._base(entry, found)
            if "vessel" in body:
                said = as_body(batch, vessel_of(body["vessel"]), found)
                if dict(body["vessel"]) != said:
                    raise differs(entry, "vessel", body["vessel"], said)
            if "not_added_g" in body:
                self._same(entry, "not_added_g", _net(batch, found))
            self._expected(batch, entry, found)
            as_before_again(batch, entry, found)
        elif entry.kind == Kind.RESUMED and "tare_g" in body:
            shown = self._level(batch, body, body["evidence"], "readings")
            if batch.tare is None:
                raise differs(entry, "tare_g", body["tare_g"], "no other, for nothing was tared")
            total, tare = mass.parse(body["sum_g"]), batch.tare.level
            u = before.net_uncertainty(shown, tare)
            self._base(entry, Level(shown.grams - total, u))
        elif entry.kind == Kind.PUT_RIGHT:
            follows(batch, entry, self.level_read)
        elif rule := self._rules.get(entry.kind):
            rule(batch, entry)
        elif entry.kind == Kind.SCALE_CHANGED:
            current = batch.current
            if current is None or body["from"] != current.scale:
                raise differs(entry, "from", body["from"], current and current.scale)
        elif entry.kind in (Kind.WEIGHED, Kind.CLOSED) and batch.current is not None:
            raise RecordError(
                "closed-early",
                f"The batch is closed with {len(batch.accepted)} of {len(batch.additions)} "
                "additions accepted.",
                where=f"entry {entry.seq}",
            )
        elif entry.kind in (Kind.WEIGHED, Kind.CLOSED):
            self._ended(batch, entry)

    def _next_lot(self, batch: Batch, entry: Entry) -> None:
        """At which amount the lot changed, where one ran out in the middle of an addition."""
        if "from_g" not in entry.body:
            return
        shown = self._level(batch, entry.body, entry.body["evidence"], "readings")
        self._same(entry, "gross_g", shown.grams)
        self._same(entry, "from_g", _net(batch, shown))
        self._components(entry, "budget", shown.budget)

    def _expected(self, batch: Batch, entry: Entry, shown: Level) -> None:
        """What the bowl should have weighed when it was tared again, and that it was noticed."""
        body, due = entry.body, expected(batch)
        if due is None:
            if "expected_g" in body:
                raise differs(entry, "expected_g", body["expected_g"], "nothing to expect")
            return
        self._same(entry, "expected_g", due.level.grams)
        self._same(entry, "expected_u_g", due.level.u_g)
        noticed = body.get("expected_confirmed", False)
        if due.agrees(shown) is noticed:
            told = "no word of it" if noticed else "a word of whoever tared it all the same"
            raise differs(entry, "expected_confirmed", noticed, told)

    def _ended(self, batch: Batch, entry: Entry) -> None:
        """The end of the weighing, or of what came after it."""
        if batch.has_steps is not (entry.kind == Kind.WEIGHED):
            due = Kind.WEIGHED if batch.has_steps else Kind.CLOSED
            raise differs(entry, "kind", entry.kind, due)
        if entry.body["additions"] != len(batch.additions):
            raise differs(entry, "additions", entry.body["additions"], len(batch.additions))
        self._sums(batch, entry)

    def _sums(self, batch: Batch, entry: Entry) -> None:
        """The sums over all weighings of each amount, where an amount takes several."""
        due = sums_as_json(batch)
        if entry.body.get("as_weighed") != due:
            raise differs(entry, "as_weighed", "other sums", "those of its weighings")

    def _held(self, batch: Batch, entry: Entry) -> None:
        """What stood on the scale when it went, and when it was back, where that is known."""
        went, _ = self._stood(batch, entry, "before"), self._stood(batch, entry, "after")
        if went is not None and batch.tare is not None:
            self._same(entry, "sum_g", max(_net(batch, went), Decimal(0)))

    def _zero_moved(self, batch: Batch, entry: Entry) -> None:
        body, tare, held = entry.body, batch.tare, batch.held
        cause = Moved(body["cause"])
        went, back = self._stood(batch, entry, "before"), self._stood(batch, entry, "after")
        if tare is None or back is None:
            raise differs(entry, "after_g", "missing", "a reading")
        asked = held is not None and held.cause is Cause.SCALE_AT_ZERO
        if cause is not Moved.EMPTIED and asked is not (cause is Moved.AT_ZERO):
            raise differs(entry, "cause", cause, "another: what it was held for says so")
        if held is not None and body["by"] and held.before is not None and went is not None:
            self._same(entry, "before_g", held.before.level.grams)
        total = None if body["sum_g"] is None else mass.parse(body["sum_g"])
        interval = batch.scales[body["scale"]].interval_g
        planned = batch.current
        assert planned is not None
        change = None if total is None else planned.change_g(total)
        base, moved = new_tare(cause, tare.level, batch.shift, went, back, change, interval)
        known = held.sum_g if held and body["by"] else None
        if cause is Moved.TARE_KEY and went is not None:
            known = _net(batch, went)
        elif cause is Moved.EMPTIED:
            known = planned.net_g(back.grams, base.grams)
        if total != known:
            raise differs(entry, "sum_g", body["sum_g"], known)
        self._base(entry, base)
        self._level_of(entry, "shift", moved)

    def _stood(self, batch: Batch, entry: Entry, which: str) -> Level | None:
        """What a display stood at, from its readings; ``None`` where the entry has none."""
        stood = of_body(entry.body, which)
        if stood is None:
            return None
        few = FEWEST_AFTER if which == "after" else FEWEST_BEFORE if stood.settled else 1
        interval = batch.scales[entry.body["scale"]].interval_g
        shown = self._displayed(stood.evidence, "readings", few, interval)
        steps = steps_of(interval, stood.evidence["readings"])
        found = shown_level(shown, steps, settled=stood.settled)
        self._level_of(entry, which, found)
        return found

    def _level_of(self, entry: Entry, which: str, found: Level) -> None:
        self._same(entry, f"{which}_g", found.grams)
        self._same(entry, f"{which}_u_g", found.u_g)
        self._components(entry, f"{which}_budget", found.budget)

    def _accepted(self, batch: Batch, entry: Entry) -> None:
        body, planned, tare = entry.body, batch.current, batch.tare
        if planned is None or tare is None or body["addition"] != planned.n:
            raise RecordError(
                "not-current",
                f"Addition {body['addition']} was not the one being weighed.",
                where=f"entry {entry.seq}",
            )
        scale = batch.scales[planned.scale]
        for key, due in (
            ("ingredient", planned.ingredient),
            ("name", planned.name),
            ("tolerance", planned.tolerance),
            ("scale", planned.scale),
            ("rule", {"name": batch.rule.name, "k": mass.text(batch.rule.k)}),
            ("method", BY_DIFFERENCE if planned.by_difference else None),
        ):
            if body.get(key) != due:
                raise differs(entry, key, body.get(key), due)
        for key, grams in (
            ("target_g", planned.target_g),
            ("low_g", planned.low_g),
            ("high_g", planned.high_g),
            ("interval_g", scale.interval_g),
            ("repeatability_g", scale.accuracy.repeatability_g),
            ("tare_g", tare.level.grams),
            ("tare_u_g", tare.level.u_g),
        ):
            self._same(entry, key, grams)
        moves = [one.n for one in tare.moves]
        if body.get("zero_moves", []) != moves:
            raise differs(entry, "zero_moves", body.get("zero_moves"), moves)
        if tuple(body["evidence"]["tare"]) != tare.evidence:
            raise differs(entry, "evidence.tare", "other readings", "those of the tare")
        gross = self._level(batch, body, body["evidence"], "gross")
        net = _net(batch, gross)
        self._same(entry, "gross_g", gross.grams)
        self._same(entry, "gross_u_g", gross.u_g)
        self._same(entry, "net_g", net)
        lots = as_fields(batch.splits.get(planned.n, ()), batch.lots.get(planned.n, ""), net)
        for key in ("lot", "lots"):
            if body.get(key) != lots.get(key):
                raise differs(entry, key, body.get(key), lots.get(key))
        self._same(entry, "deviation_g", net - planned.target_g)
        u = self._uncertainty(batch, entry, gross, tare, planned, scale)
        self._same(entry, "u_g", u)
        verdict = judge(net, u, planned.low_g, planned.high_g, batch.rule)
        if body["verdict"] != verdict:
            raise differs(entry, "verdict", body["verdict"], verdict)
        if verdict != "on target" and not body["reason"]:
            raise differs(entry, "reason", "none", "a reason, since it is not on target")
        self.weighings += 1

    def _uncertainty(
        self,
        batch: Batch,
        entry: Entry,
        gross: Level,
        tare: Tare,
        planned: Planned,
        scale: Scale,
    ) -> Decimal:
        """The uncertainty of a net in grams; its components and the guard band as recorded."""
        body = entry.body
        if "budget" not in body:
            return before.net_uncertainty(gross, tare.level, scale.accuracy.repeatability_g)
        periods = half_hours(seconds_between(tare.at, entry.at))
        budget = net_budget(gross, tare.level, scale.accuracy, periods)
        self._components(entry, "budget", budget)
        self._components(entry, "gross_budget", gross.budget)
        net_g = gross.grams - tare.level.grams
        more = carried(planned, batch.additions, batch.accepted, net_g, budget)
        if mass.parse(body.get("carried_u_g", "0")) != more:
            raise differs(entry, "carried_u_g", body.get("carried_u_g"), mass.text(more))
        u = root_sum(budget.u_g, more)
        guard = batch.rule.guard(u)
        low, high = acceptance(planned.low_g, planned.high_g, guard)
        self._same(entry, "guard_g", guard)
        self._same(entry, "accept_low_g", low)
        self._same(entry, "accept_high_g", high)
        return u

    def _base(self, entry: Entry, base: Level) -> None:
        """What a tare is recorded to be."""
        self._same(entry, "tare_g", base.grams)
        self._same(entry, "u_g", base.u_g)
        if "budget" in entry.body:
            self._components(entry, "budget", base.budget)

    def _components(self, entry: Entry, key: str, budget: Budget) -> None:
        if dict(entry.body[key]) != budget.as_json():
            raise differs(entry, key, entry.body[key], budget.as_json())

    def _level(
        self, batch: Batch, body: Mapping[str, Any], evidence: Mapping[str, Any], key: str
    ) -> Level:
        interval = batch.scales[body["scale"]].interval_g
        # Before budgets were kept, nothing was said of what a display stepped in.
        kept = "budget" in body
        displayed = self._displayed(evidence, key, FEWEST, interval if kept else None)
        how = level if kept else before.level
        return how(displayed, steps_of(interval, evidence[key]))

    def level_read(self, evidence: Mapping[str, Any], interval_g: Decimal) -> Level:
        """The level that ``readings`` of an evidence show. Raises as :meth:`check` does."""
        displayed = self._displayed(evidence, "readings", FEWEST, interval_g)
        return level(displayed, steps_of(interval_g, evidence["readings"]))

    def displayed(
        self, evidence: Mapping[str, Any], fewest: int, interval_g: Decimal
    ) -> Sequence[Decimal]:
        """What ``readings`` of an evidence show, once their bytes say so too."""
        return self._displayed(evidence, "readings", fewest, interval_g)

    def _displayed(
        self, evidence: Mapping[str, Any], key: str, fewest: int, interval_g: Decimal | None
    ) -> list[Decimal]:
        """What stood on the display, from readings of evidence, once their bytes say so too."""
        readings = evidence[key]
        if len(readings) < fewest:
            raise RecordError(
                "too-little-evidence", f"{len(readings)} readings decide nothing.", where=key
            )
        displayed = [mass.parse(one["grams"]) for one in readings]
        self._read_again(evidence["decoder"], readings, displayed, interval_g)
        return displayed

    def _read_again(
        self,
        spec: Mapping[str, Any],
        readings: Iterable[Mapping[str, Any]],
        displayed: Sequence[Decimal],
        interval_g: Decimal | None,
    ) -> None:
        if self._reread is None:
            return
        for one, grams in zip(readings, displayed, strict=True):
            try:
                decoder = self._reread(spec)
            except KeyError:
                self.unread.add(str(spec.get("driver", "?")))
                return
            again = decoder.feed(one["t"], bytes.fromhex(one["raw"]))
            if len(again) != 1 or again[0].grams != grams:
                raise RecordError(
                    "evidence-differs",
                    f"The bytes {one['raw']} do not read as {mass.text(grams)} g.",
                    where=f"reading at {one['t']} s",
                )
            if again[0].as_evidence(interval_g).get("step_g") != one.get("step_g"):
                raise RecordError(
                    "evidence-differs",
                    f"The bytes {one['raw']} are of a display with other steps.",
                    where=f"reading at {one['t']} s",
                )

    def _same(self, entry: Entry, key: str, expected: Decimal) -> None:
        if mass.parse(entry.body[key]) != expected:
            raise differs(entry, key, entry.body[key], mass.text(expected))


def _net(batch: Batch, shown: Level) -> Decimal:
    """What a display says was added to the current addition: by its method, in grams."""
    planned, tare = batch.current, batch.tare
    if planned is None or tare is None:
        raise ValueError("nothing was tared")
    return planned.net_g(shown.grams, tare.level.grams)


def _weighs(entry: Entry) -> bool:
    """Whether an entry rests on readings of its own."""
    return entry.kind in (Kind.TARED, Kind.ACCEPTED, Kind.ZERO_MOVED) or (
        entry.kind == Kind.RESUMED and "tare_g" in entry.body
    )
