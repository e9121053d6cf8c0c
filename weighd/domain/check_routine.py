"""The routine of a scale: what its check consists of, and how long one holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from weighd.domain import mass
from weighd.domain.check import Plan
from weighd.domain.check_standing import Duty, duty_of
from weighd.domain.metrology import Rule
from weighd.domain.weights import weight_of


@dataclass(frozen=True, slots=True)
class Routine:
    """A plan and a duty; as JSON values it goes into the header of a recorded session."""

    plan: Plan
    duty: Duty = field(default_factory=Duty)

    def as_json(self) -> dict[str, Any]:
        """JSON values."""
        plan = self.plan
        return {
            **self.duty.as_json(),
            "zero": plan.zero,
            "masses": [one.as_json() for one in plan.masses],
            "corners": plan.corners.as_json() if plan.corners else None,
            "repeat": plan.repeat.as_json() if plan.repeat else None,
            "repeat_n": plan.repeat_n,
            "limit_g": None if plan.limit_g is None else mass.text(plan.limit_g),
            "rule": None
            if plan.rule is None
            else {"name": plan.rule.name, "k": mass.text(plan.rule.k)},
        }


def routine_of(body: Mapping[str, Any]) -> Routine:
    """The inverse of :meth:`Routine.as_json`. Raises ``KeyError`` or ``ValueError``."""
    rule, limit = body["rule"], body["limit_g"]
    plan = Plan(
        bool(body["zero"]),
        tuple(weight_of(one) for one in body["masses"]),
        weight_of(body["corners"]) if body["corners"] else None,
        weight_of(body["repeat"]) if body["repeat"] else None,
        int(body["repeat_n"]),
        None if limit is None else mass.parse(limit),
        None if rule is None else Rule(rule["name"], mass.parse(rule["k"])),
    )
    return Routine(plan, duty_of(body))
