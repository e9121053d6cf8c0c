"""A batch: the durable half of a weighing, changed by journal entries and by nothing else.

``Batch`` is what the journal says and only that: folding a batch's entries again, after a crash
or in an audit, gives the same ``Batch``. What the scale shows right now is not part of it; that
stands in ``weighing``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import mass
from weighd.domain.accuracy import Accuracy, from_json
from weighd.domain.away import refuse_away
from weighd.domain.check_standing import Duty, duty_of
from weighd.domain.corrections import Written, written_in
from weighd.domain.countersigning import Countersigned, hands_of
from weighd.domain.draws import Draws
from weighd.domain.errors import RecordError
from weighd.domain.formula import BY_DIFFERENCE, is_by_difference
from weighd.domain.kinds import Kind as Kind  # noqa: PLC0414 - the same door as before
from weighd.domain.kinds import Status as Status  # noqa: PLC0414
from weighd.domain.lot_splits import Splits
from weighd.domain.metrology import Budget, Level, Rule, Verdict
from weighd.domain.process import ProcessStep, step_of_content
from weighd.domain.process_run import Process
from weighd.domain.put_right import PutRight
from weighd.domain.record import NOTHING_BEFORE, Entry
from weighd.domain.steps import Step, step_of
from weighd.domain.vessels import Vessel, vessel_of
from weighd.domain.zero import Stood, ZeroMove, on_empty_zero


class Cause(StrEnum):
    """Why an addition is held."""

    OVER = "over"
    SHORT = "short"
    TOO_CLOSE = "too close to call"
    SCALE_LOST = "scale lost"
    SCALE_SILENT = "scale silent"
    SCALE_AT_ZERO = "scale at zero"

    @property
    def of_the_scale(self) -> bool:
        """Held because the scale cannot be heard or trusted, not because of the amount."""
        return self in (Cause.SCALE_LOST, Cause.SCALE_SILENT, Cause.SCALE_AT_ZERO)


CAUSE_OF = {
    Verdict.OVER: Cause.OVER,
    Verdict.SHORT: Cause.SHORT,
    Verdict.TOO_CLOSE: Cause.TOO_CLOSE,
}


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale as a batch knows it: ``interval_g``, ``max_g`` and ``min_g`` in grams."""

    name: str
    driver: str
    interval_g: Decimal
    max_g: Decimal | None = None
    accuracy: Accuracy = field(default_factory=Accuracy)
    min_g: Decimal | None = None
    #: How often it has to be checked, where it has to be.
    duty: Duty | None = None

    def as_json(self) -> dict[str, Any]:
        checked = {} if self.duty is None else {"check": self.duty.as_json()}
        return {
            "driver": self.driver,
            "interval_g": mass.text(self.interval_g),
            "max_g": None if self.max_g is None else mass.text(self.max_g),
            "min_g": None if self.min_g is None else mass.text(self.min_g),
            **self.accuracy.as_json(),
            **checked,
        }


@dataclass(frozen=True, slots=True)
class Planned:
    """One addition as planned for this batch; masses in grams.

    ``step``  its place in a plan of several scales or vessels; ``None`` where every addition is
              weighed whole into the one bowl on the one scale.
    """

    n: int
    ingredient: str
    name: str
    target_g: Decimal
    low_g: Decimal
    high_g: Decimal
    tolerance: str
    scale: str
    allergens: tuple[str, ...] = ()
    caution: str = ""
    #: The source vessel stands on the scale, and what leaves it counts.
    by_difference: bool = False
    step: Step | None = None
    #: The formula's addition that it is of, where neither its own number nor its step says so; a
    #: number beyond the formula's for what the formula does not call for.
    of: int | None = None

    @property
    def amount(self) -> int:
        """The number of the formula's addition that it is of."""
        if self.of is not None:
            return self.of
        return self.step.of if self.step else self.n

    def net_g(self, shown_g: Decimal, tare_g: Decimal) -> Decimal:
        """What a display says was added, where ``tare_g`` stood there before."""
        return tare_g - shown_g if self.by_difference else shown_g - tare_g

    def change_g(self, net_g: Decimal) -> Decimal:
        """By how much adding ``net_g`` changes the display."""
        return -net_g if self.by_difference else net_g

    def as_json(self) -> dict[str, Any]:
        """As a record has it; what is as usual is left out, as it was before it could differ."""
        more: dict[str, Any] = {"method": BY_DIFFERENCE} if self.by_difference else {}
        if self.step is not None:
            more["step"] = self.step.as_json()
        if self.of is not None:
            more["of"] = self.of
        return {
            "n": self.n,
            "ingredient": self.ingredient,
            "name": self.name,
            "target_g": mass.text(self.target_g),
            "low_g": mass.text(self.low_g),
            "high_g": mass.text(self.high_g),
            "tolerance": self.tolerance,
            "scale": self.scale,
            "allergens": list(self.allergens),
            "caution": self.caution,
            **more,
        }


@dataclass(frozen=True, slots=True)
class Accepted:
    """What went in, as the record has it; masses in grams."""

    n: int
    net_g: Decimal
    deviation_g: Decimal
    verdict: Verdict
    reason: str
    lot: str
    seq: int
    at: str
    budget: Budget = field(default_factory=lambda: Budget(Decimal(0), Decimal(0)))
    #: The vessel it went into, where that was named.
    vessel: str = ""
    #: The number of its entry in the batch.
    entry: int = 0


@dataclass(frozen=True, slots=True)
class Tare:
    """The level that stood before an addition, and the readings that show it, as JSON values.

    ``moves``  how the scale's zero moved since; ``level`` is on the present one.
    """

    level: Level
    evidence: tuple[Mapping[str, Any], ...]
    at: str
    moves: tuple[ZeroMove, ...] = ()


@dataclass(frozen=True, slots=True)
class Held:
    """Why the current addition is held. ``sum_g``: what was in when the scale went, if known.

    ``before``, ``after``  what the scale stood at when it went, and at zero when it was back.
    ``shift``              how far its zero had moved by then since the vessel was tared.
    """

    cause: Cause
    since: str
    sum_g: Decimal | None = None
    before: Stood | None = None
    after: Stood | None = None
    shift: Level | None = None


@dataclass(frozen=True, slots=True)
class Batch:
    """One making of one formula, as its entries tell it.

    ``budgets``  whether it was opened by a weighd that keeps a budget with every weighing.
    """

    id: str
    formula: Mapping[str, Any]
    batch_g: Decimal
    operator: str
    opened: str
    rule: Rule
    scales: Mapping[str, Scale]
    additions: tuple[Planned, ...]
    n: int = 0
    after: str = NOTHING_BEFORE
    status: Status = Status.OPEN
    closed: str | None = None
    reason: str = ""
    accepted: tuple[Accepted, ...] = ()
    tares: Mapping[str, Tare] = field(default_factory=dict)
    #: How far each scale's zero moved since its vessel was tared, where it did.
    shifts: Mapping[str, Level] = field(default_factory=dict)
    #: What stood on a scale when its tare ended with an addition, where the next one there is to
    #: be tared anew.
    left: Mapping[str, Level] = field(default_factory=dict)
    #: The vessel that was chosen for the batch, and the name of the one tared last on each scale.
    vessel: Vessel | None = None
    standing: Mapping[str, str] = field(default_factory=dict)
    #: Scales that showed nothing under the vessel when it was tared: what their empty pan shows
    #: is not known.
    keyed: frozenset[str] = frozenset()
    #: What each scale showed of the bowl when something was last weighed into it there.
    bowls: Mapping[str, Level] = field(default_factory=dict)
    lots: Mapping[int, str] = field(default_factory=dict)
    #: Lots that ran out in the middle of an addition, each with the net at which it had.
    splits: Mapping[int, Splits] = field(default_factory=dict)
    held: Held | None = None
    budgets: bool = True
    #: How what went wrong was put right, and since then the whole target of each amount.
    put_right: tuple[PutRight, ...] = ()
    wholes: Mapping[int, Decimal] = field(default_factory=dict)
    #: What went in, or is to, that the formula does not call for: contents by ingredient.
    others: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    #: What stood on a scale before a wrong ingredient, which is to be out of there again.
    emptied: Mapping[str, Level] = field(default_factory=dict)
    #: What is made of it after weighing, when it was all weighed, and how far it is.
    steps: tuple[ProcessStep, ...] = ()
    weighed: str = ""
    process: Process = field(default_factory=Process)
    #: What came out of it, as far as that was recorded.
    draws: Draws = field(default_factory=Draws)
    #: What people wrote in its entries, as it stands now, with all corrections.
    written: tuple[Written, ...] = ()
    #: Who had a part in it (:func:`~weighd.domain.countersigning.hands_of`), and who signed it too.
    hands: frozenset[str] = frozenset()
    countersigned: tuple[Countersigned, ...] = ()

    @property
    def has_steps(self) -> bool:
        """Whether its formula goes on after weighing."""
        return bool(self.steps)

    @property
    def is_over(self) -> bool:
        """Whether nothing is done to it any more."""
        return self.status in (Status.CLOSED, Status.ABANDONED)

    @property
    def current(self) -> Planned | None:
        """The addition that is being weighed; ``None`` when the batch is over."""
        if self.status is not Status.OPEN or len(self.accepted) == len(self.additions):
            return None
        return self.additions[len(self.accepted)]

    @property
    def scale(self) -> Scale | None:
        """The scale of the current addition."""
        return self.scales[self.current.scale] if self.current else None

    @property
    def tare(self) -> Tare | None:
        """What stood on that scale before the current addition; ``None`` until it is tared."""
        return self.tares.get(self.current.scale) if self.current else None

    @property
    def shift(self) -> Level | None:
        """How far that scale's zero moved since the vessel was tared; ``None`` if it did not."""
        return self.shifts.get(self.current.scale) if self.current else None

    @property
    def origin(self) -> Level | None:
        """The tare on the zero of the empty pan; ``None`` where that is not known."""
        if self.tare is None or self.current is None or self.current.scale in self.keyed:
            return None
        return on_empty_zero(self.tare.level, self.shift)

    def ends_with(self, planned: Planned) -> tuple[str, ...]:
        """The scales whose tare ends with an addition: what is poured from is no vessel to pour
        into, and each vessel that is poured from has a tare of its own."""
        following = self.additions[planned.n] if planned.n < len(self.additions) else None
        ends = {planned.scale} if planned.by_difference else set()
        if following is not None and following.by_difference:
            ends.add(following.scale)
        return tuple(sorted(ends))

    @property
    def allergens(self) -> tuple[str, ...]:
        return tuple(sorted({a for one in self.additions for a in one.allergens}))


def opened(entry: Entry) -> Batch:
    """The batch that a ``batch opened`` entry begins. Raises :class:`RecordError`."""
    body = entry.body
    refuse_away((entry,))
    if entry.kind != Kind.OPENED:
        raise RecordError("not-a-batch", f"Entry {entry.seq} does not open a batch.")
    try:
        wrote = written_in(entry)
        return Batch(
            body["batch"],
            body["formula"],
            mass.parse(body["batch_g"]),
            body["operator"],
            entry.at,
            Rule(body["rule"]["name"], mass.parse(body["rule"]["k"])),
            {name: scale_of(name, one) for name, one in body["scales"].items()},
            tuple(planned_of(one) for one in body["additions"]),
            n=body["n"],
            after=entry.hash,
            budgets=all("creep_g" in one for one in body["scales"].values()),
            vessel=vessel_of(body["vessel"]) if "vessel" in body else None,
            steps=tuple(
                step_of_content(one) for one in body["formula"]["content"].get("steps", ())
            ),
            written=(wrote,) if wrote else (),
            hands=hands_of(entry),
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise unreadable(entry, error) from error


def scale_of(name: str, body: Mapping[str, Any]) -> Scale:
    """The inverse of :meth:`Scale.as_json`. Raises ``KeyError`` or ``ValueError``."""
    return Scale(
        name,
        body["driver"],
        mass.parse(body["interval_g"]),
        None if body["max_g"] is None else mass.parse(body["max_g"]),
        from_json(body),
        None if body.get("min_g") is None else mass.parse(body["min_g"]),
        duty_of(body["check"]) if "check" in body else None,
    )


def planned_of(body: Mapping[str, Any]) -> Planned:
    """The inverse of :meth:`Planned.as_json`. Raises ``KeyError`` or ``ValueError``."""
    return Planned(
        body["n"],
        body["ingredient"],
        body["name"],
        mass.parse(body["target_g"]),
        mass.parse(body["low_g"]),
        mass.parse(body["high_g"]),
        body["tolerance"],
        body["scale"],
        tuple(body["allergens"]),
        body["caution"],
        is_by_difference(body.get("method", "")),
        step_of(body["step"]) if "step" in body else None,
        int(body["of"]) if "of" in body else None,
    )


def unreadable(entry: Entry, error: Exception) -> RecordError:
    return RecordError(
        "unreadable-entry",
        f"Entry {entry.seq} ({entry.kind}) is not what such an entry should be: {error!r}.",
    )
