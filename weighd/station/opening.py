"""Opening a batch: a formula scaled to today's size, each addition given a scale."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Planned, Scale
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula import Formula, from_content, is_by_difference
from weighd.domain.metrology import Rule
from weighd.domain.record import NOTHING_BEFORE
from weighd.station.inputs import Command
from weighd.station.scale import ScaleState

_LONGEST_NAME = 80


def open_batch(
    command: Command,
    identity: str,
    scales: Mapping[str, ScaleState],
    rule: Rule,
    version: str,
) -> dict[str, Any]:
    """The body of the entry that opens a batch.

    Raises :class:`OperatorError` or :class:`FormulaError` for a start that cannot be made.
    """
    operator = (command.by or "").strip()
    if not operator or len(operator) > _LONGEST_NAME or not operator.isprintable():
        raise OperatorError(
            "no-operator", "Nobody is named as weighing.", remedy="Say who is weighing."
        )
    if command.formula is None:
        raise OperatorError("no-formula", "No formula was chosen.", remedy="Choose one.")
    formula = from_content(command.formula)
    size = batch_size(command.batch_g, formula)
    formula = formula.scaled(size)
    scale = choose_scale(command.scale, scales)
    additions = plan(formula, scale, command.method)
    body: dict[str, Any] = {
        "batch": identity,
        "n": 1,
        "after": NOTHING_BEFORE,
        "weighd": version,
        "formula": {
            "id": formula.id,
            "name": formula.name,
            "revision": formula.revision,
            "content": dict(command.formula),
        },
        "batch_g": mass.text(size),
        "operator": operator,
        "rule": {"name": rule.name, "k": mass.text(rule.k)},
        "scales": {scale.name: scale.as_json()},
        "additions": [one.as_json() for one in additions],
    }
    if command.key:
        body["key"] = command.key
    return body


def batch_size(text: str, formula: Formula) -> Decimal:
    """The batch size in grams; the formula's own where none is given."""
    if not text:
        return formula.batch_g
    try:
        return mass.parse(text)
    except ValueError:
        raise FormulaError(
            "bad-batch-size",
            f'"{text}" is not a batch size.',
            remedy="Give it in grams, like 2400.",
        ) from None


def choose_scale(name: str, scales: Mapping[str, ScaleState]) -> Scale:
    """The scale asked for, or the first configured; its interval must be known by now."""
    if not scales:
        raise OperatorError("no-scale", "No scale is configured.", remedy="Add one first.")
    state = scales.get(name) if name else next(iter(scales.values()))
    if state is None:
        raise OperatorError(
            "unknown-scale",
            f'No scale is called "{name}".',
            remedy="There is: " + ", ".join(scales) + ".",
        )
    scale = state.as_scale()
    if scale is None:
        raise OperatorError(
            "scale-not-heard",
            f"The scale {state.name} has not said anything yet, so its interval is not known.",
            remedy="Switch it on, or configure interval_g.",
        )
    return scale


def plan(formula: Formula, scale: Scale, method: str = "") -> tuple[Planned, ...]:
    """Every addition of a scaled formula on one scale, in the formula's order.

    ``method``  how all of them are weighed; as the formula says where it is empty.
    Raises :class:`OperatorError` for an amount that is above the scale's capacity, or a method
    that is none.
    """
    try:
        by_difference = is_by_difference(method)
    except ValueError as error:
        raise OperatorError("bad-method", f"{_sentence(str(error))}.") from None
    out = []
    for n, one in enumerate(formula.additions, start=1):
        low, high = one.band
        if scale.max_g is not None and one.target_g > scale.max_g:
            raise OperatorError(
                "over-capacity",
                f"{mass.text(one.target_g)} g of {one.ingredient.name} are more than the scale "
                f"{scale.name} can weigh ({mass.text(scale.max_g)} g).",
                remedy="Make a smaller batch.",
            )
        out.append(
            Planned(
                n,
                one.ingredient.id,
                one.ingredient.name,
                one.target_g,
                low,
                high,
                one.tolerance.text,
                scale.name,
                one.ingredient.allergens,
                one.ingredient.caution,
                by_difference or one.by_difference,
            )
        )
    return tuple(out)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
