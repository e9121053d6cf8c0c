"""What is made of a batch after weighing: the steps of a formula, each with its limits.

1. A step is of a kind of the trade. Its temperature limit is to be *reached* by some kinds (cool,
   freeze, harden, temper, mix) and *kept* by others (age, fill): what is reached is judged by the
   last temperature entered, and by when it was first met for good; what is kept by all of them.
2. A heat treatment has no limits of its own: it follows a table of published pairs
   (:mod:`~weighd.domain.heat_tables`), which stands whole in the formula's content.
3. A step changes nothing of what is weighed, and follows no batch size.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import mass
from weighd.domain.cautions import Caution, caution_of
from weighd.domain.duration import words
from weighd.domain.heat_tables import HeatTable, table_of
from weighd.domain.temperature import Temperature, read_temperature

MOST_STEPS = 40


class StepKind(StrEnum):
    """What is done in a step, in the trade's words."""

    MIX = "mix"
    HEAT_TREAT = "heat-treat"
    COOL = "cool"
    AGE = "age"
    FREEZE = "freeze"
    HARDEN = "harden"
    TEMPER = "temper"
    FILL = "fill"


#: Kinds whose temperature is kept from the beginning to the end; the others reach it.
KEPT = frozenset({StepKind.AGE, StepKind.FILL})

#: What a step of a kind has to have, by the names of a formula file.
NEEDS: Mapping[StepKind, tuple[str, ...]] = {
    StepKind.HEAT_TREAT: ("table",),
    StepKind.COOL: ("temperature",),
    StepKind.AGE: ("time",),
}


def takes(kind: StepKind) -> tuple[str, ...]:
    """What holds a step of a kind to account: a published table, or limits of its own."""
    return ("table",) if kind is StepKind.HEAT_TREAT else ("temperature", "time")


USUAL_NAMES = {
    StepKind.MIX: "Mix until dissolved",
    StepKind.HEAT_TREAT: "Heat-treat",
    StepKind.COOL: "Cool",
    StepKind.AGE: "Age",
    StepKind.FREEZE: "Freeze",
    StepKind.HARDEN: "Harden",
    StepKind.TEMPER: "Temper",
    StepKind.FILL: "Fill",
}


@dataclass(frozen=True, slots=True)
class Limits:
    """At least and at most, temperature and time (seconds); ``None`` where there is no limit."""

    at_least: Temperature | None = None
    at_most: Temperature | None = None
    least_s: Decimal | None = None
    most_s: Decimal | None = None

    @property
    def of_temperature(self) -> bool:
        """Whether a temperature has to be entered."""
        return self.at_least is not None or self.at_most is not None

    def met(self, temperature: Temperature) -> bool:
        """Whether a temperature lies within."""
        return not self.too_cool(temperature) and not self.too_warm(temperature)

    def too_cool(self, temperature: Temperature) -> bool:
        return self.at_least is not None and temperature < self.at_least

    def too_warm(self, temperature: Temperature) -> bool:
        return self.at_most is not None and self.at_most < temperature


@dataclass(frozen=True, slots=True)
class ProcessStep:
    """One step of a formula.

    ``how``    free text for whoever does it.
    ``means``  what it is done with; "dry ice" brings cautions of its own.
    ``table``  of a heat treatment: the published pairs that it follows.
    """

    kind: StepKind
    name: str
    how: str = ""
    means: str = ""
    limits: Limits = Limits()
    cautions: tuple[Caution, ...] = ()
    table: HeatTable | None = None

    @property
    def kept(self) -> bool:
        """Whether its limits are kept throughout, not reached."""
        return self.kind in KEPT

    @property
    def needs_temperature(self) -> bool:
        """Whether it cannot be judged before a temperature was entered."""
        return self.table is not None or self.limits.of_temperature

    def content(self) -> dict[str, Any]:
        """As a formula's content and a record have it; what is not there is left out."""
        limits = self.limits
        degrees = {"at_least": limits.at_least, "at_most": limits.at_most}
        seconds = {"least_s": limits.least_s, "most_s": limits.most_s}
        out: dict[str, Any] = {"kind": str(self.kind), "name": self.name}
        out |= {key: one for key, one in {"how": self.how, "with": self.means}.items() if one}
        out |= {key: str(one) for key, one in degrees.items() if one is not None}
        out |= {key: mass.text(one) for key, one in seconds.items() if one is not None}
        if self.cautions:
            out["cautions"] = [one.content() for one in self.cautions]
        if self.table is not None:
            out["table"] = self.table.content()
        return out


def step_of_content(content: Mapping[str, Any]) -> ProcessStep:
    """The inverse of :meth:`ProcessStep.content`. Raises ``KeyError`` or ``ValueError``."""
    kind = StepKind(content["kind"])
    if (kind is StepKind.HEAT_TREAT) is not ("table" in content):
        raise ValueError(f"a step of the kind {kind} that has a table or should")
    return ProcessStep(
        kind,
        content["name"],
        content.get("how", ""),
        content.get("with", ""),
        Limits(
            _degrees(content.get("at_least")),
            _degrees(content.get("at_most")),
            _seconds(content.get("least_s")),
            _seconds(content.get("most_s")),
        ),
        tuple(caution_of(one) for one in content.get("cautions", ())),
        table_of(content["table"]) if "table" in content else None,
    )


def limits_in_words(step: ProcessStep) -> str:
    """``"at most 4 °C, within 90 min"``; for a heat treatment its pairs. Empty without limits."""
    if step.table is not None:
        return " or ".join(str(one) for one in step.table.pairs)
    limits, told = step.limits, []
    if limits.at_least is not None and limits.at_most is not None:
        told.append(f"{limits.at_least} to {limits.at_most}")
    elif limits.at_least is not None:
        told.append(f"at least {limits.at_least}")
    elif limits.at_most is not None:
        told.append(f"at most {limits.at_most}")
    if limits.least_s is not None and limits.most_s is not None:
        told.append(f"{words(limits.least_s)} to {words(limits.most_s)}")
    elif limits.least_s is not None:
        told.append(f"at least {words(limits.least_s)}")
    elif limits.most_s is not None:
        told.append(f"within {words(limits.most_s)}")
    return ", ".join(told)


def _degrees(text: str | None) -> Temperature | None:
    return None if text is None else read_temperature(text)


def _seconds(text: str | None) -> Decimal | None:
    return None if text is None else mass.parse(text)
