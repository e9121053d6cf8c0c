"""How a weighing belongs to a plan: which amount it is of, and which vessel it goes into."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from weighd.domain import mass
from weighd.domain.plan_words import Into, Role

if TYPE_CHECKING:
    from weighd.domain.batch import Planned


#: Limits and amounts that were reckoned are kept to this, finer than any scale shows.
LIMIT = Decimal("0.0001")


@dataclass(frozen=True, slots=True)
class Step:
    """A weighing's place in a plan; masses in grams.

    ``of``      the formula's addition that it is of; several weighings may be of one.
    ``vessel``  which dish or premix, from 1; 0 for the bowl.
    ``whole_g`` the target of the whole amount, with ``low_g`` and ``high_g`` its limits. What is
                left of it for this weighing, the weighings before it decide (``shares``).
    """

    of: int
    into: Into
    vessel: int
    role: Role
    part: int
    parts: int
    premix: int
    whole_g: Decimal
    low_g: Decimal
    high_g: Decimal

    @property
    def place(self) -> tuple[Into, int]:
        """The vessel, told from every other of the batch."""
        return self.into, self.vessel

    @property
    def goes_in(self) -> bool:
        """Whether what is weighed goes into the batch, or into a premix first."""
        return self.into is not Into.PREMIX

    def as_json(self) -> dict[str, Any]:
        return {
            "of": self.of,
            "into": str(self.into),
            "vessel": self.vessel,
            "role": str(self.role),
            "part": self.part,
            "parts": self.parts,
            "premix": self.premix,
            "whole_g": mass.text(self.whole_g),
            "low_g": mass.text(self.low_g),
            "high_g": mass.text(self.high_g),
        }


def step_of(body: Mapping[str, Any]) -> Step:
    """The inverse of :meth:`Step.as_json`. Raises ``KeyError`` or ``ValueError``."""
    return Step(
        int(body["of"]),
        Into(body["into"]),
        int(body["vessel"]),
        Role(body["role"]),
        int(body["part"]),
        int(body["parts"]),
        int(body["premix"]),
        mass.parse(body["whole_g"]),
        mass.parse(body["low_g"]),
        mass.parse(body["high_g"]),
    )


def stands_tared(additions: Sequence[Planned], done: int, following: Planned) -> bool:
    """Whether the vessel of ``following`` stands on its scale as it was after a weighing before.

    ``done``  how many of ``additions`` are weighed. It does when the newest weighing on that scale
    was into the same vessel, and, for the bowl, nothing was tipped into it since.
    """
    step = following.step
    if step is None:
        return any(one.scale == following.scale for one in additions[:done])
    tipped = False
    for one in reversed(additions[:done]):
        if one.step is None:
            return False
        if one.scale == following.scale:
            return one.step.place == step.place and not tipped
        tipped |= step.into is Into.BOWL and one.step.goes_in
    return False
