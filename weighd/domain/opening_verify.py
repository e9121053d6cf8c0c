"""Whether what a batch was opened with follows from the formula that its record keeps.

Made again are the formula's revision, its size and each whole amount with its limits; of a batch
that was planned, that only scales that were offered are used, and how many moves it takes. Not
made again is the search for the plan: a later weighd may find a better one, and what was weighed
by the plan that was chosen stays true.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.acts import acts
from weighd.domain.batch import Batch, Planned, scale_of
from weighd.domain.errors import FormulaError
from weighd.domain.following import differs, does_not_follow
from weighd.domain.formula import Formula, from_content
from weighd.domain.record import Entry
from weighd.domain.scale_steps import to_steps

_SOURCE = "its formula gives"


def check_opening(batch: Batch, entry: Entry) -> None:
    """Raises :class:`RecordError`; ``KeyError`` and the like for what is no such entry."""
    kept = entry.body["formula"]
    try:
        formula = from_content(kept["content"])
        scaled = formula.scaled(batch.batch_g)
    except FormulaError as error:
        raise does_not_follow(entry, f"Its formula cannot be used: {error.message}") from error
    for key, due in (("id", formula.id), ("name", formula.name), ("revision", formula.revision)):
        if kept[key] != due:
            raise differs(entry, f"formula.{key}", kept[key], due, "the formula's content gives")
    scaled = _at_steps(entry, scaled)
    _amounts(entry, batch.additions, scaled)
    if "plan" in entry.body:
        _plan(entry, batch.additions, entry.body["plan"])


def _at_steps(entry: Entry, scaled: Formula) -> Formula:
    """The formula with its targets moved to the steps of scales, as the entry says they were."""
    told = entry.body.get("size", {}).get("rounded", ())
    if not told:
        return scaled
    scales = {int(one["n"]): str(one["scale"]) for one in told}
    intervals = {name: mass.parse(one["interval_g"]) for name, one in entry.body["scales"].items()}
    made, rounded = to_steps(scaled, scales, intervals)
    if [one.as_json() for one in rounded] != told:
        raise does_not_follow(
            entry, "size.rounded is not what the steps of its scales make of the formula."
        )
    return made


def _amounts(entry: Entry, additions: Sequence[Planned], formula: Formula) -> None:
    """Each weighing's whole amount is one of the formula's, and none of those is missing."""
    for one in additions:
        if not 1 <= one.amount <= len(formula.additions):
            raise differs(
                entry, f"additions[{one.n - 1}].of", one.amount, "no such amount", _SOURCE
            )
        due = formula.additions[one.amount - 1]
        low, high = due.band
        step = one.step
        found: tuple[Decimal, ...] = (one.target_g, one.low_g, one.high_g)
        if step is not None:
            found = step.whole_g, step.low_g, step.high_g
        for key, was, is_due in (
            ("target_g", found[0], due.target_g),
            ("low_g", found[1], low),
            ("high_g", found[2], high),
            ("name", one.name, due.ingredient.name),
            ("tolerance", one.tolerance, due.tolerance.text),
            ("allergens", one.allergens, due.ingredient.allergens),
        ):
            if was != is_due:
                raise differs(entry, f"additions[{one.n - 1}].{key}", was, is_due, _SOURCE)
    missing = set(range(1, len(formula.additions) + 1)) - {one.amount for one in additions}
    if missing:
        raise does_not_follow(entry, f"Nothing is weighed of amount {min(missing)} of its formula.")


def _plan(entry: Entry, additions: Sequence[Planned], plan: Mapping[str, Any]) -> None:
    if "offered" not in plan:
        return  # of a weighd that did not keep it
    offered = {name: scale_of(name, one) for name, one in plan["offered"].items()}
    for one in additions:
        if one.scale not in offered:
            raise differs(
                entry, f"additions[{one.n - 1}].scale", one.scale, "another", "what was offered is"
            )
    for name, one in entry.body["scales"].items():
        if scale_of(name, one).interval_g != offered[name].interval_g:
            raise differs(
                entry,
                f"scales.{name}.interval_g",
                one["interval_g"],
                mass.text(offered[name].interval_g),
                "what was offered has",
            )
    steps = [one for one in additions if one.step is not None]
    moves = sum(one.moves for one in acts(additions)) if steps else 1
    if plan["moves"] != moves:
        raise differs(entry, "plan.moves", plan["moves"], moves, "its weighings take")
