"""The program damaged on purpose, so that the simulation can be seen to notice.

Each damage breaks one of the rules in one place, and is undone afterwards.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from dataclasses import replace
from typing import Any

from weighd.domain import rederive, weighing, zero, zeroing
from weighd.domain.addition import Evidence, Link, Move, Phase
from weighd.domain.fold import evolve
from weighd.domain.metrology import Verdict, level
from weighd.domain.record import Entry
from weighd.domain.settling import Phase as Load
from weighd.station import ordering
from weighd.station.answers import Answers
from weighd.station.scale import ScaleState
from weighd.station.seeing import Seeing
from weighd.station.station import Station
from weighd.storage.memory import MemoryJournal

#: Sets an attribute for the length of a test, as pytest's ``monkeypatch.setattr`` does.
Patch = Callable[[Any, str, Any], None]


def shown_before_it_is_durable(patch: Patch) -> None:
    """The batch has an entry, and its picture too, before the journal does."""
    real = Station._append

    def early(self: Station, entries: Sequence[Entry]) -> Generator[Sequence[Entry], None, None]:
        batch = self.batch
        for one in entries:
            if batch is not None and one.body.get("batch") == batch.id and one.body["n"] > 1:
                batch = evolve(batch, one)
        self.batch = batch
        yield from real(self, entries)

    patch(Station, "_append", early)


def keys_are_forgotten(patch: Patch) -> None:
    """A command sent twice is taken for another one."""
    patch(Answers, "again", lambda self, key: None)
    patch(MemoryJournal, "entry_for_key", lambda self, key: None)


def evidence_is_dropped(patch: Patch) -> None:
    """What is accepted keeps no readings."""
    patch(ScaleState, "evidence", lambda self: Evidence(dict(self.setup.decoder.spec), ()))


def one_reading_decides(patch: Patch) -> None:
    """Whatever the display shows once is taken for settled."""
    real = ScaleState.take

    def take(self: ScaleState, reading: Any, empty_g: Any = None) -> Any:
        finding = real(self, reading, empty_g)
        if reading.grams is None or self.interval_g is None:
            return finding
        found = level([reading.grams], self.interval_g)
        self.finding = replace(finding, phase=Load.SETTLED, firm=True, level=found, why="")
        return self.finding

    patch(ScaleState, "take", take)
    patch(ScaleState, "_resting", lambda self: (self.reading,) if self.reading else ())


def verdicts_are_kind(patch: Patch) -> None:
    """Everything is on target."""
    patch(weighing, "_seen", _kind(weighing._seen))


def _kind(real: Any) -> Any:
    def seen(here: Any, event: Any) -> Move:
        move: Move = real(here, event)
        claim = move.now.claim
        if claim is None or move.drafts:
            return move
        return replace(move, now=replace(move.now, claim=replace(claim, verdict=Verdict.ON_TARGET)))

    return seen


def moved_zeros_are_reckoned_wrong(patch: Patch) -> None:
    """The tare on a moved zero is off by 40 g, also for whoever verifies: only the truth tells."""
    real = zero.new_tare

    def wrong(*given: Any) -> Any:
        tare, moved = real(*given)
        return replace(tare, grams=tare.grams + 40), moved

    patch(zeroing, "new_tare", wrong)
    patch(rederive, "new_tare", wrong)


def a_lost_scale_changes_nothing(patch: Patch) -> None:
    """What it showed last stands, and can be accepted."""
    for phase in Phase:
        for link in (Link.LOST, Link.SILENT):
            if (phase, link) in weighing.TABLE:
                patch_row(patch, phase, link)


def patch_row(patch: Patch, phase: Phase, link: Link) -> None:
    """One row of the table does nothing."""
    table = {**weighing.TABLE, (phase, link): lambda here, _event: Move(here.now)}
    patch(weighing, "TABLE", table)


def a_failed_write_is_let_stand(patch: Patch) -> None:
    """A scale that goes while the store fails leaves its last claim standing."""

    def gone(self: Seeing, station: Station, event: Any) -> Any:
        now = station.now
        if not (yield from self.sight(station, event)):
            station.now = now

    patch(Seeing, "gone", gone)


def late_presses_act(patch: Patch) -> None:
    """A press that was meant for the addition before acts on this one."""
    patch(weighing, "guard", lambda here, order: None)


def an_open_batch_is_not_found(patch: Patch) -> None:
    """A start does not take up what was being weighed."""
    patch(MemoryJournal, "open_batch", lambda self: [])


def an_entry_is_edited(patch: Patch) -> None:
    """The journal gives back another reason than was written."""
    real = MemoryJournal.entries

    def entries(self: MemoryJournal, **given: Any) -> Any:
        for one in real(self, **given):
            body = {**one.body, "reason": "nice"} if one.body.get("reason") else one.body
            yield replace(one, body=body)

    patch(MemoryJournal, "entries", entries)


def pages_are_not_told(patch: Patch) -> None:
    """The batch changes, and pages go on showing what it was."""
    real = Station.mark

    def mark(self: Station, *sections: str) -> None:
        real(self, *(one for one in sections if one != "batch"))

    patch(Station, "mark", mark)


def refusals_take_effect(patch: Patch) -> None:
    """A command that could not be written took effect all the same."""
    real = ordering.order

    def order(station: Station, command: Any) -> Any:
        batch, asked = ordering.order_of(station, command)
        move = weighing.step(batch, station.now, asked)
        station.now = move.now
        return (yield from real(station, command))

    patch(ordering, "order", order)


#: Each damage, and how many seeds at most it takes to see it.
MUTATIONS: dict[Callable[[Patch], None], int] = {
    shown_before_it_is_durable: 30,
    keys_are_forgotten: 30,
    evidence_is_dropped: 3,
    one_reading_decides: 10,
    verdicts_are_kind: 60,
    moved_zeros_are_reckoned_wrong: 60,
    a_lost_scale_changes_nothing: 60,
    a_failed_write_is_let_stand: 1500,
    late_presses_act: 150,
    an_open_batch_is_not_found: 30,
    an_entry_is_edited: 40,
    pages_are_not_told: 30,
    refusals_take_effect: 300,
}
