"""A station as its daemon runs it, in one thread and without a clock; it can die anywhere.

What :class:`~weighd.station.runner.Runner` does with an event loop and a writer's thread is done
here in turn: inputs are taken one by one, entries are written before anything is shown, a key is
looked for in the journal first, a batch that is over is taken up again. Between any two effects
stands a named point, at which the life can end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Protocol

from tests.simulation.chance import Chance
from tests.simulation.setting import Setting
from weighd.domain import mass
from weighd.domain.away import refuse_away
from weighd.domain.check_routine import routine_of
from weighd.domain.clock_said import Wall
from weighd.domain.errors import JournalError, WeighdError
from weighd.domain.metrology import Rule
from weighd.domain.record import Entry
from weighd.domain.vessels import Vessel
from weighd.main.drivers import session_decoder
from weighd.station import check_history
from weighd.station.inputs import (
    Answer,
    ClockSet,
    Command,
    Input,
    LinkFound,
    Recalled,
)
from weighd.station.known import Known
from weighd.station.lot_history import book_in
from weighd.station.off_bench import asks_for, without_evidence
from weighd.station.picture import Picture
from weighd.station.ports import Journal
from weighd.station.replay import setup
from weighd.station.session import Header, header_line, line
from weighd.station.station import Station, Steps
from weighd.station.vessel_shelf import Kept

NAME, VERSION = "sim", "0"
#: When the first life of a kitchen begins.
MORNING = datetime.fromisoformat("2026-11-25T08:00:00.000+00:00")
#: What an ordinary day is like, in the words of the points below.
POINTS = ("to be written", "durable, nobody told", "told, nobody shown", "taken")


class Died(Exception):  # noqa: N818 - nothing went wrong
    """The process is gone."""


class Watcher(Protocol):
    """Whoever looks on, and raises where a rule is broken."""

    def to_be_written(self, entries: Sequence[Entry]) -> None: ...

    def durable(self, entries: Sequence[Entry]) -> None: ...

    def refused(self, error: JournalError) -> None: ...

    def taken(self, event: Input) -> None: ...


class Nobody:
    """A watcher that sees nothing."""

    def to_be_written(self, entries: Sequence[Entry]) -> None: ...

    def durable(self, entries: Sequence[Entry]) -> None: ...

    def refused(self, error: JournalError) -> None: ...

    def taken(self, event: Input) -> None: ...


def utc(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


class House:
    """Lives of one station over one journal.

    ``opened``    opens the journal, as each life does.
    ``die_at``    the point at which the present life ends, after so many that it passes by.
    ``fails``     what the store answers in the place of writing, so many times.
    ``ahead_s``   how far the wall clock is ahead of the clock that never falls.
    """

    def __init__(self, setting: Setting, opened: Callable[[], Journal]) -> None:
        self.setting, self._opened = setting, opened
        self.watcher: Watcher = Nobody()
        #: The chance of whoever looks on; a turn has its own.
        self.look = Chance(setting.seed)
        self.die_at: tuple[str, int] | None = None
        self.fails: list[JournalError] = []
        self.ahead_s = self.most_ahead_s = 0.0
        self.ms = self.base_ms = 0
        self.lives = 0
        self.learned: dict[str, Known] = {}
        self.vessels: dict[str, Kept] = {}
        self.lines: list[str] = []
        self.header: Header | None = None
        self._finished = 0
        self._rule = Rule(setting.rule)
        #: Whether the store refused anything in the present life, which no recording has.
        self.refused = False
        #: Whether that life began with nothing on the bench.
        self.fresh = True
        self.journal = opened()
        self.station: Station
        self.picture: Picture

    # --- a life -----------------------------------------------------------------------------------

    def begin(self, linked: Mapping[str, bool]) -> None:
        """As a daemon starts: on what the journal holds, and what is kept beside it."""
        if self.lives:
            self.journal.close()
            self.journal = self._opened()
        self.lives += 1
        self.base_ms = self.ms
        journal, settings = self.journal, self.settings()
        tail, made, history = journal.tail(), journal.count_batches(), journal.open_batch()
        self.fresh = not history
        asked = {name for name, one in settings.items() if one.get("check")}
        past = check_history.past(journal, asked | check_history.asked_by(history))
        lots = book_in(journal)
        newest = list(journal.entries(after=tail.seq - 1, limit=1)) if tail.seq else []
        wall = Wall.after(newest[0]) if newest else Wall()
        known = dict(self.learned)
        vessels = [*self.vessels.values(), *self._configured()]
        setups = [
            replace(setup(name, one, session_decoder), known=known.get(name))
            for name, one in settings.items()
        ]
        self.station = Station(
            NAME, setups, tail=tail, history=history, made=made, rule=self._rule,
            version=VERSION, past=past, vessels=vessels, lots=lots, wall=wall,
        )  # fmt: skip
        self.picture = Picture(self.station, boot=f"life {self.lives}")
        self.lines, self.header = [], None
        if self.setting.recorded:
            rule = {"name": self._rule.name, "k": mass.text(self._rule.k)}
            self.header = Header(
                settings, "simulated", NAME, rule, VERSION, tail.seq, tail.hash, made, known,
                past, tuple(vessels), tuple(lots), None, wall,
            )  # fmt: skip
            self.lines.append(header_line(self.header))
        self._finished, self.refused = 0, False
        clock = ClockSet(self.t, self.wall())
        self._record(clock)
        self._drive(self.station.handle(clock))
        self._drive(self.station.wake())
        for entries in journal.in_process():
            self._recall(entries)
        self.picture.refresh()
        for name, there in linked.items():
            if there:
                self.take(LinkFound(self.t, name, "a simulated scale"))

    def settings(self) -> dict[str, dict[str, Any]]:
        """Its scales as a session's header has them."""
        out = {}
        for one in self.setting.makes:
            out[one.name] = {**one.settings, **self.setting.stated}
            if self.setting.checks and one is self.setting.makes[0]:
                out[one.name]["check"] = routine_of(self.routine()).as_json()
        return out

    def routine(self) -> dict[str, Any]:
        """The check of the first scale: one weight, and twice the same."""
        weight = {
            "name": "K-500", "nominal_g": "500", "mass_g": "500", "r111_class": "M1",
            "error_g": None, "u_g": None,
        }  # fmt: skip
        return {
            "then": self.setting.checks, "every_h": "24", "new_day_utc": None, "zero": True,
            "masses": [weight], "corners": None, "repeat": None, "repeat_n": 0,
            "limit_g": str(4 * float(self.setting.makes[0].interval)), "rule": None,
        }  # fmt: skip

    def _configured(self) -> Iterator[Kept]:
        if self.setting.shelf:
            d = mass.parse(self.setting.makes[0].interval)
            bowl = mass.rounded(mass.parse(str(self.setting.bowl_g)), d)
            yield Kept(Vessel("bowl", bowl, allow_g=2 * d), configured=True)

    @property
    def t(self) -> float:
        """The station's clock: seconds of the present life."""
        return (self.ms - self.base_ms) / 1000

    def wall(self) -> str:
        """What the wall clock shows."""
        self.most_ahead_s = max(self.most_ahead_s, self.ahead_s)
        return utc(MORNING + timedelta(milliseconds=self.ms, seconds=self.ahead_s))

    # --- what comes in ----------------------------------------------------------------------------

    def take(self, event: Input) -> Answer | None:
        """Take one input to its end, as the runner does. Raises what it raises."""
        self._recall_for(event)
        self._record(event)
        try:
            answer = self._drive(self.station.handle(event))
        except WeighdError:
            self._show()
            raise
        self._show()
        if self.station.finished > self._finished:
            self._finished = self.station.finished
            self.keep_learned()
        self.watcher.taken(event)
        self.point("taken")
        return answer

    def _show(self) -> None:
        self.point("told, nobody shown")
        self.picture.refresh()

    def ask(self, command: Command) -> Answer:
        """A command of a person, from whatever page. Raises what the station raises."""
        if command.key:
            entry = self.journal.entry_for_key(command.key)
            if entry is not None:
                return Answer(entry.body.get("batch", ""), entry.seq, again=True)
        answer = self.take(replace(command, t=self.t))
        assert answer is not None
        return answer

    def point(self, name: str) -> None:
        """Between two effects."""
        if self.die_at is not None and self.die_at[0] == name:
            self.die_at = (name, self.die_at[1] - 1)
            if self.die_at[1] <= 0:
                self.die_at = None
                raise Died(name)

    def keep_learned(self) -> None:
        """What was learned of the scales is kept beside the record."""
        for name, scale in self.station.scales.items():
            known = scale.known()
            if known is not None:
                self.learned[name] = replace(known, since=known.since or self.wall())

    def _recall_for(self, event: Input) -> None:
        if isinstance(event, Command) and asks_for(self.station, event):
            entries = self.journal.batch(event.batch)
            if entries:
                refuse_away(entries)
                self._recall(entries)

    def _recall(self, entries: Sequence[Entry]) -> None:
        event = Recalled(self.station.t, tuple(without_evidence(one) for one in entries))
        self._record(event)
        self._drive(self.station.handle(event))

    def _record(self, event: Input) -> None:
        if self.header is not None:
            text = line(event)
            if text is not None:
                self.lines.append(text)

    def _drive(self, steps: Steps) -> Answer | None:
        try:
            entries = next(steps)
            while True:
                self.watcher.to_be_written(entries)
                self.point("to be written")
                try:
                    self._append(entries)
                except JournalError as error:
                    self.watcher.refused(error)
                    entries = steps.throw(error)
                else:
                    self.watcher.durable(entries)
                    self.point("durable, nobody told")
                    entries = steps.send(None)
        except StopIteration as stop:
            answer: Answer | None = stop.value
            return answer

    def _append(self, entries: Sequence[Entry]) -> None:
        if self.fails:
            self.refused = True
            raise self.fails.pop()
        self.journal.append(entries)

    def close(self) -> None:
        """Let go of the journal."""
        with suppress(JournalError):
            self.journal.close()
