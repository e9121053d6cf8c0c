"""Checks with weights, as a station makes them: one at a time on each scale.

1. A check is fed by the same firm levels as a weighing. While it goes on, the scale is the check's:
   an addition that waits for its vessel there is left as it is until the scale is empty again.
2. Nothing is written before the whole check is done. A scale that goes away, a stop of the station
   or a change of mind leave nothing; only the result makes an entry.
3. What an acceptance says of the check comes from here, and from entries alone: the same inputs
   give the same entries.
"""

from __future__ import annotations

from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from weighd.domain.addition import Do, Phase, bench
from weighd.domain.batch import Batch
from weighd.domain.check import Terms
from weighd.domain.check_record import CHECKED, body_of
from weighd.domain.check_routine import Routine
from weighd.domain.check_standing import (
    Duty,
    Past,
    Standing,
    barred,
    last_of,
    standing,
    with_acceptance,
)
from weighd.domain.check_steps import Going, Stood, Wanted, begin, insist, look
from weighd.domain.errors import JournalError, OperatorError
from weighd.domain.metrology import on_steps
from weighd.domain.moments import milliseconds
from weighd.domain.record import Entry
from weighd.domain.settling import Finding
from weighd.domain.zero import nothing_g
from weighd.station.inputs import Answer, Command
from weighd.station.scale import LinkState, ScaleState

if TYPE_CHECKING:
    from weighd.station.station import Station

START, RIGHT, STOP = "start check", "it is right", "stop check"
#: What can be asked of a check.
COMMANDS = frozenset({START, RIGHT, STOP})
#: What may be asked of an addition while its scale is a check's.
_MEANWHILE = (Do.ABANDON, Do.NAME_LOT, Do.USE_SCALE)
_ACCEPTS = (Do.ACCEPT, "accept with reason")
#: A check that nothing happened to for this long is broken off: somebody was called away.
IDLE_S = 900.0
#: After the store refused a result, wait this long before the next try.
RETRY_S = 1.0


@dataclass(frozen=True, slots=True)
class Running:
    """A check under way. ``moved_t``: when it last came on; ``retry_t``: not written before."""

    going: Going
    by: str
    began: str
    key: str
    moved_t: float
    retry_t: float = 0.0
    left_out: tuple[str, ...] = ()


class Checking:
    """The checks of a station's scales: those made, and those under way."""

    def __init__(self, past: Mapping[str, Past]) -> None:
        self.past = dict(past)
        self.running: dict[str, Running] = {}
        #: Scales that the addition gets back once nothing stands on them any more.
        self._clearing: dict[str, Going] = {}
        self._stood: dict[str, Standing] = {}

    def holds(self, scale: str) -> bool:
        """Whether the scale is a check's, so that no addition may look at it."""
        return scale in self.running or scale in self._clearing

    def clearing(self, scale: str) -> bool:
        """Whether only what is left of a check stands on it."""
        return scale in self._clearing

    def standing(self, station: Station, scale: str) -> Standing | None:
        """How a scale stands now; ``None`` where it need not be checked."""
        routine = station.scales[scale].setup.check
        if routine is None:
            return None
        return standing(self._past(scale).last, routine.duty, station.at())

    def due(self, station: Station, scale: str) -> str | None:
        """When its next check is due, as the record writes a moment; ``None`` for now."""
        routine, last = station.scales[scale].setup.check, self._past(scale).last
        if routine is None or last is None:
            return None
        holds = routine.duty.due_ms(last.at) - milliseconds(last.at)
        moment = datetime.fromisoformat(last.at) + timedelta(milliseconds=holds)
        return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    # --- additions ------------------------------------------------------------------------------

    def let(self, station: Station, batch: Batch, do: Do) -> Mapping[str, Any] | None:
        """What an acceptance keeps of the scale's check; ``None`` for what keeps nothing.

        Raises :class:`OperatorError` for what has to wait for a check.
        """
        scale = batch.scale
        if scale is None:
            return None
        if self.holds(scale.name) and do not in _MEANWHILE:
            raise _being_checked(scale.name)
        if do is not Do.ACCEPT or scale.duty is None:
            return None
        error = self._barred(station, scale.name, scale.duty)
        if error is not None:
            raise error
        return with_acceptance(self._past(scale.name).last, scale.duty, station.at())

    def offered(self, station: Station, batch: Batch, can: tuple[str, ...]) -> tuple[str, ...]:
        """Of what an addition would take, what does not have to wait for a check."""
        scale = batch.scale
        if scale is None:
            return can
        if self.holds(scale.name):
            return tuple(one for one in can if one in _MEANWHILE)
        if scale.duty is None or not self._barred(station, scale.name, scale.duty):
            return can
        return tuple(one for one in can if one not in _ACCEPTS)

    def _barred(self, station: Station, scale: str, duty: Duty) -> OperatorError | None:
        stands = standing(self._past(scale).last, duty, station.at())
        return barred(scale, stands, duty)

    def may_start(self, station: Station, scale: str) -> None:
        """Raises :class:`OperatorError` where a batch on this scale could not be accepted."""
        if self.holds(scale):
            raise _being_checked(scale)
        routine = station.scales[scale].setup.check
        error = routine and self._barred(station, scale, routine.duty)
        if error:
            raise OperatorError(
                error.code,
                error.message,
                where=error.where,
                remedy="Check the scale with its weights first.",
            )

    # --- what the scale shows -------------------------------------------------------------------

    def seen(self, station: Station, scale: ScaleState, finding: Finding) -> Steps:
        """A reading of a scale that is a check's."""
        run = self.running.get(scale.name)
        if run is None and scale.name not in self._clearing:
            return
        stood = _stood(station, scale, finding)
        if scale.name in self._clearing:
            if stood and self._is_clear(scale, stood.level.grams):
                del self._clearing[scale.name]
                station.mark("live", f"scale:{scale.name}")
            return
        if run is None:
            return
        going = look(run.going, stood)
        moved = (going.wanted, len(going.taken)) != (run.going.wanted, len(run.going.taken))
        run = replace(run, going=going, moved_t=station.t if moved else run.moved_t)
        self.running[scale.name] = run
        if going.wanted is Wanted.NOTHING and station.t >= run.retry_t:
            try:
                yield from self._write(station, scale.name)
            except JournalError:
                # Nobody asked for it now, so nobody can be refused: tried again, and the page says
                # that the record cannot be written.
                self.running[scale.name] = replace(run, retry_t=station.t + RETRY_S)

    def gone(self, station: Station, scale: str) -> None:
        """The scale cannot be heard: what was read so far is worth nothing."""
        if scale in self.running:
            self._break_off(station, scale)
            station.notice("warn", "check-broken-off", scale)

    def idle(self, station: Station) -> None:
        """Before any input: break off what nobody goes on with."""
        for name, run in list(self.running.items()):
            if station.t - run.moved_t >= IDLE_S and run.going.wanted is not Wanted.NOTHING:
                self._break_off(station, name)
                station.notice("info", "check-left", name)

    def tick(self, station: Station) -> None:
        """Time passed: tell of scales whose check holds no longer."""
        for name in station.scales:
            stands = self.standing(station, name)
            before = self._stood.get(name)
            if stands is not None and stands is not before:
                self._stood[name] = stands
                station.mark(f"scale:{name}", "live")
                if stands is Standing.OVERDUE:
                    station.notice("warn", "check-due", name)

    def _write(self, station: Station, name: str) -> Generator[Sequence[Entry], None, None]:
        run = self.running[name]
        good = self._past(name).good
        body: dict[str, Any] = {
            **body_of(run.going, by=run.by, began=run.began, version=station.version),
            "left_out": list(run.left_out),
            "last_good": None if good is None else good.as_json(),
        }
        if run.key:
            body["key"] = run.key
        entry = yield from station.enter(CHECKED, body)
        del self.running[name]
        self.past[name] = self._past(name).then(last_of(entry))
        self._stood.pop(name, None)
        self.tick(station)
        station.mark("live", f"scale:{name}")

    # --- what people ask ------------------------------------------------------------------------

    def command(self, station: Station, command: Command) -> Answer:
        """Start a check, say that an odd load is right, or stop. Raises :class:`OperatorError`."""
        name = command.scale
        scale = station.scales.get(name)
        if scale is None:
            raise OperatorError("unknown-scale", f'No scale is called "{name}".')
        if command.do == START:
            self._start(station, scale, command)
        else:
            run = self.running.get(name)
            if run is None:
                raise OperatorError(
                    "no-check", f"The scale {name} is not being checked.", remedy="Start a check."
                )
            if command.do == STOP:
                self._break_off(station, name)
            else:
                going = insist(run.going)
                if going is None:
                    raise OperatorError(
                        "not-settled",
                        "Nothing stands there that somebody would have to be sure of.",
                        where=f"scale {name}",
                        remedy="Wait until the scale has come to rest.",
                    )
                self.running[name] = replace(run, going=going, moved_t=station.t)
        station.mark("live", f"scale:{name}")
        return Answer("", None)

    def _is_clear(self, scale: ScaleState, grams: Decimal) -> bool:
        """Whether no weight of a check is on the scale any more: it stands as it did when it was
        empty, or at zero, where nothing counts that is on it."""
        return self._clearing[scale.name].is_empty(grams) or abs(grams) <= scale.nothing_g

    def _start(self, station: Station, scale: ScaleState, command: Command) -> None:
        name, routine, facts = scale.name, scale.setup.check, scale.as_scale()
        if routine is None:
            raise OperatorError(
                "no-check",
                f"No check is configured for the scale {name}.",
                remedy=f"Write [scales.{name}.check] into the configuration.",
            )
        by = command.by.strip()
        if not by:
            raise OperatorError(
                "no-operator", "Nobody is named as checking.", remedy="Say who is checking."
            )
        if self.holds(name):
            raise _being_checked(name)
        if facts is None or scale.link is not LinkState.LIVE:
            raise OperatorError(
                "scale-not-heard",
                f"The scale {name} cannot be heard now.",
                remedy="Plug it in and switch it on.",
            )
        left_out: tuple[str, ...] = ()
        plan, batch = routine.plan, station.batch
        if station.current_on(name) and batch is not None and batch.current is not None:
            if station.now.phase is not Phase.AWAITING and not _is_off(station, batch):
                raise OperatorError(
                    "scale-in-use",
                    f"The scale {name} is in use: the {batch.current.name} is being weighed.",
                    where=f"batch {batch.id}",
                    remedy="Take the vessel off first; set it back after the check.",
                )
            if name in batch.keyed and plan.zero:
                # The vessel was tared by the scale's own key: what it shows empty is no zero, and
                # to zero it now would lose the tare.
                plan, left_out = replace(plan, zero=False), ("zero",)
            station.now = replace(station.now, gross_g=None, level=None, claim=None)
        terms = Terms(facts, plan.rule or station.rule, plan.limit_g)
        self.running[name] = Running(
            begin(plan, terms), by, station.at(), command.key, station.t, 0.0, left_out
        )

    def _break_off(self, station: Station, name: str) -> None:
        run = self.running.pop(name)
        if station.current_on(name):
            self._clearing[name] = run.going
        station.mark("live", f"scale:{name}")

    def _past(self, scale: str) -> Past:
        return self.past.get(scale, Past())


Steps = Generator[Sequence[Entry], None, None]


def _stood(station: Station, scale: ScaleState, finding: Finding) -> Stood | None:
    """The firm level of a scale, known no better than its display steps."""
    if finding.level is None or not finding.firm:
        return None
    level = finding.level if scale.step_g is None else on_steps(finding.level, scale.step_g)
    return Stood(level, scale.evidence(), finding.shift_g, station.at())


def _is_off(station: Station, batch: Batch) -> bool:
    """Whether the vessel is seen to be off, though an amount that was held keeps its addition from
    saying so; or whether the empty pan itself was tared, with nothing on it to take off."""
    here, level = bench(batch, station.now), station.now.level
    if here is None or here.tare is None or level is None or station.now.unsure:
        return False
    if batch.held is not None and batch.held.cause.of_the_scale:
        return False
    tare = here.tare.level.grams
    bare = max(abs(level.grams), abs(tare)) <= nothing_g(here.scale.interval_g)
    return bare or here.is_gone(here.planned.net_g(level.grams, tare))


def _being_checked(scale: str) -> OperatorError:
    return OperatorError(
        "scale-being-checked",
        f"The scale {scale} is being checked.",
        where=f"scale {scale}",
        remedy="Finish the check, or stop it.",
    )


__all__ = ["COMMANDS", "Checking", "Routine", "Running"]
