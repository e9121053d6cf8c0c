"""Opening a batch: a formula scaled to today's size, each addition given a scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Planned, Scale
from weighd.domain.errors import OperatorError
from weighd.domain.formula import Formula, from_content, is_by_difference
from weighd.domain.metrology import Rule
from weighd.domain.record import NOTHING_BEFORE
from weighd.domain.scale_steps import Rounded
from weighd.domain.sizing import by_mass
from weighd.station.inputs import Command
from weighd.station.outlook import as_it_shows
from weighd.station.planning import as_planned, make_plan, planned, read_vessels
from weighd.station.scale import LinkState, ScaleState
from weighd.station.sizing import at_steps, chosen_size, draw_size, every_on, judged_on

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
    size, asked = chosen_size(command.batch_g, command.size, formula)
    formula, rounded = _scaled(command, formula.scaled(size), scales, rule)
    additions, used, told = _weighings(command, formula, scales, rule)
    if asked is not None or rounded:
        told["size"] = draw_size(asked or by_mass(size), rounded)
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
        "scales": {scale.name: scale.as_json() for scale in used},
        "additions": [one.as_json() for one in additions],
        **told,
    }
    if command.key:
        body["key"] = command.key
    return body


def _scaled(
    command: Command, formula: Formula, scales: Mapping[str, ScaleState], rule: Rule
) -> tuple[Formula, Sequence[Rounded]]:
    """The scaled formula, its targets at the steps of their scales where that was asked for."""
    if not command.rounded:
        return formula, ()
    if not command.plan:
        scale = choose_scale(command.scale, scales)
        return at_steps(formula, every_on(formula, scale), (scale,))
    vessels = read_vessels(command.bowl_g, command.dish_g, command.dish_holds_g)
    known = heard(scales)
    best = make_plan(with_method(formula, command.method), known, rule, vessels)
    return at_steps(formula, judged_on(best), [one for one, _ in known])


def _weighings(
    command: Command, formula: Formula, scales: Mapping[str, ScaleState], rule: Rule
) -> tuple[tuple[Planned, ...], Sequence[Scale], dict[str, Any]]:
    """What is weighed, on which scales, and what the record keeps of the plan."""
    if not command.plan:
        scale = choose_scale(command.scale, scales)
        return plan(formula, scale, command.method), (scale,), {}
    formula = with_method(formula, command.method)
    vessels = read_vessels(command.bowl_g, command.dish_g, command.dish_holds_g)
    known = heard(scales)
    best = make_plan(formula, known, rule, vessels)
    additions = planned(best, formula)
    by_name = {one.name: one for one, _ in known}
    told = {
        "plan": {
            "moves": best.moves,
            "offered": {one.name: as_it_shows(one, noise).as_json() for one, noise in known},
            "unfit": best.cost.unfit,
            "bowl_g": mass.text(vessels.bowl_g),
            "dish_g": mass.text(vessels.dish_g),
            "dish_holds_g": None
            if vessels.dish_holds_g is None
            else mass.text(vessels.dish_holds_g),
            "premixes": [one.as_json() for one in best.premixes],
        }
    }
    return additions, [by_name[name] for name in best.scales], told


#: Nothing is planned on a scale that is known not to be there.
_AWAY = (LinkState.LOST, LinkState.SILENT)


def heard(scales: Mapping[str, ScaleState]) -> list[tuple[Scale, float]]:
    """The scales to plan with, each with how its display wavers, in grams.

    Those whose interval is known, less those that are away; all of them where all are.
    """
    known = [(state, one) for state in scales.values() if (one := state.as_scale())]
    there = [(state, one) for state, one in known if state.link not in _AWAY]
    return [(one, state.noise_g) for state, one in there or known]


def left_out(scales: Mapping[str, ScaleState]) -> list[str]:
    """The scales that are not planned with: away, or their interval is not known."""
    used = {one.name for one, _ in heard(scales)}
    return [name for name in scales if name not in used]


def batch_size(text: str, formula: Formula) -> Decimal:
    """The batch size in grams; the formula's own where none is given."""
    return chosen_size(text, "", formula)[0]


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
    out = []
    for n, one in enumerate(with_method(formula, method).additions, start=1):
        if scale.max_g is not None and one.target_g > scale.max_g:
            raise OperatorError(
                "over-capacity",
                f"{mass.text(one.target_g)} g of {one.ingredient.name} are more than the scale "
                f"{scale.name} can weigh ({mass.text(scale.max_g)} g).",
                remedy="Make a smaller batch.",
            )
        out.append(as_planned(n, one, scale.name))
    return tuple(out)


def with_method(formula: Formula, method: str) -> Formula:
    """The formula with every addition weighed so; as it says where ``method`` is empty.

    Raises :class:`OperatorError`, ``bad-method``.
    """
    try:
        if not is_by_difference(method):
            return formula
    except ValueError as error:
        raise OperatorError("bad-method", f"{_sentence(str(error))}.") from None
    additions = tuple(replace(one, by_difference=True) for one in formula.additions)
    return replace(formula, additions=additions)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
