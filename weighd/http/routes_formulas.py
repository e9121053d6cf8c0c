"""Formulas: what can be made, and what it comes to at a batch size on a scale."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Query
from starlette.responses import JSONResponse, Response

from weighd.domain import mass
from weighd.domain.batch import Scale
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula import BY_DIFFERENCE, Formula
from weighd.domain.metrology import Rule
from weighd.domain.plan import Vessels
from weighd.domain.sizing import by_mass
from weighd.http import shapes
from weighd.http.ports import Here, Room
from weighd.station import composing, opening, outlook, planning, sizing
from weighd.station.process_picture import draw_step

router = APIRouter(tags=["formulas"])

Sizing = Annotated[
    str,
    Query(
        max_length=300,
        description='Instead of batch_g: "5 L at 30 %", "40 servings of 80 g", "cream=900 g".',
    ),
]
AtSteps = Annotated[
    bool, Query(description="Move targets to the steps of the scales that judge them.")
]

#: A scale that cannot be judged by yet is no reason not to show a formula.
_NOT_YET = ("no-scale", "scale-not-heard")


@router.get("/api/formulas")
async def formulas(room: Here) -> Response:
    """Every formula at its own size, with what each scale can judge of it.

    And the files that cannot be used, with line and field.
    """
    station = room.runner.station
    scales = {name: state.as_scale() for name, state in station.scales.items()}
    noises = {name: state.noise_g for name, state in station.scales.items()}

    def drawn() -> dict[str, Any]:
        good, bad = room.shelf.all()
        return {
            "formulas": [
                {**draw_formula(one), "scales": draw_outlooks(one, scales, station.rule, noises)}
                for one in good
            ],
            "problems": [draw_problem(one) for one in bad],
        }

    return JSONResponse(await to_thread.run_sync(drawn, limiter=room.shelf_turn))


@router.get("/api/formulas/{formula}")
async def formula(
    room: Here,
    formula: shapes.FormulaId,
    batch_g: Annotated[str, Query(description="Batch size in grams; the formula's own.")] = "",
    size: Sizing = "",
    rounded: AtSteps = False,
    scale: Annotated[str, Query(description="The scale to use; the first configured.")] = "",
    method: Annotated[str, Query(description='"by difference", or as the formula says.')] = "",
    vessel: Annotated[str, Query(description="The known vessel that is weighed into.")] = "",
) -> Response:
    """One formula scaled to a batch, with what the scale can judge and what it cannot."""
    scaled, grams = await _sized(room, formula, batch_g, size)
    states = room.runner.station.scales
    known, shelf = _scale(room, scale), room.runner.station.shelf
    if rounded and known is not None:
        scaled = sizing.on_one_scale(by_mass(grams), scaled, known).formula
    # The size asked for: the targets, each rounded, may add up to something beside it.
    drawn = {**draw_formula(scaled), "batch_g": mass.text(grams)}
    into = shelf.get(vessel)
    told: dict[str, Any]
    if known is None:
        name = scale or next(iter(states), "")
        told = {
            "scale_known": False,
            "scale": None,
            "warnings": [outlook.not_heard(name)] if name else [],
        }
        looks = [outlook.NOT_KNOWN] * len(scaled.additions)
    else:
        rule, noise = room.runner.station.rule, states[known.name].noise_g
        others = [
            one for state in states.values() if (one := state.as_scale()) not in (None, known)
        ]
        # An amount above capacity is a warning here; starting such a batch is refused.
        planned = opening.plan(scaled, replace(known, max_g=None), method)
        told = {
            "scale_known": True,
            "scale": known.name,
            "warnings": outlook.warnings(
                planned, known, rule, others, noise, into, shelf.vessels()
            ),
        }
        shows = outlook.as_it_shows(known, noise)
        looks = [outlook.outlook(one, shows, rule).as_json() for one in planned]
    additions = [{**one, **look} for one, look in zip(drawn["additions"], looks, strict=True)]
    return JSONResponse({**drawn, "additions": additions, **told})


@router.get("/api/formulas/{formula}/size")
async def sized(
    room: Here,
    formula: shapes.FormulaId,
    size: Sizing = "",
    batch_g: Annotated[str, Query(description="Batch size in grams; the formula's own.")] = "",
    rounded: AtSteps = False,
    scale: Annotated[str, Query(description="All on this scale; as the plan says.")] = "",
) -> Response:
    """A formula at a size, and with ``rounded`` at the steps of its scales: what it is then."""
    chosen = await find(room, formula)
    vessels = planning.read_vessels(**shapes.vessels({}, room.settings.vessels))

    def made() -> dict[str, Any]:
        return sizing.draw_sized(
            at_size(room, chosen, (batch_g, size), vessels if rounded else None, scale)
        )

    return JSONResponse(await to_thread.run_sync(made))


def at_size(
    room: Room,
    formula: Formula,
    asked: tuple[str, str],
    vessels: Vessels | None,
    scale: str = "",
) -> sizing.Sized:
    """At a mass or a size in words; rounded for these vessels, or not at all without any."""
    grams, by = sizing.chosen_size(shapes.batch_size(asked[0]), asked[1], formula)
    exact = formula.scaled(grams)
    if vessels is None:
        return sizing.Sized(by or by_mass(grams), exact, exact)
    station = room.runner.station
    known = opening.heard(station.scales)
    if scale:
        one = opening.choose_scale(scale, station.scales)
        return sizing.on_one_scale(by or by_mass(grams), exact, one)
    plan = planning.make_plan(exact, known, station.rule, vessels)
    return sizing.as_planned(by or by_mass(grams), exact, plan, [each for each, _ in known])


@router.get("/api/formulas/{formula}/plan")
async def plan(
    room: Here,
    formula: shapes.FormulaId,
    batch_g: Annotated[str, Query(description="Batch size in grams; the formula's own.")] = "",
    size: Sizing = "",
    rounded: AtSteps = False,
    bowl_g: Annotated[str, Query(description="Mass of the empty bowl.")] = "",
    dish_g: Annotated[str, Query(description="Mass of the empty dish.")] = "",
    dish_holds_g: Annotated[str, Query(description="Most that the dish takes.")] = "",
) -> Response:
    """The best weighing plan for a batch on the scales that were heard, with its words."""
    chosen = await find(room, formula)
    given = {"bowl_g": bowl_g, "dish_g": dish_g, "dish_holds_g": dish_holds_g}
    vessels = planning.read_vessels(**shapes.vessels(given, room.settings.vessels))
    station = room.runner.station
    scales, rule = opening.heard(station.scales), station.rule
    away = opening.left_out(station.scales)

    def made() -> dict[str, Any]:
        one = at_size(room, chosen, (batch_g, size), vessels if rounded else None)
        found = planning.make_plan(one.formula, scales, rule, vessels)
        told = {**planning.draw_plan(found, one.formula), "left_out": away}
        return (
            {**told, "size": sizing.draw_size(one.size, one.rounded)} if size or rounded else told
        )

    return JSONResponse(await to_thread.run_sync(made))


@router.get("/api/formulas/{formula}/composition")
async def composition(
    room: Here,
    formula: shapes.FormulaId,
    batch_g: Annotated[str, Query(description="Batch size in grams; the formula's own.")] = "",
    size: Sizing = "",
    overrun: Annotated[str, Query(description="Air in percent of the mix's volume.")] = "",
    kind: Annotated[str, Query(description="Whose limits; the formula's own kind.")] = "",
    at: Annotated[
        str, Query(max_length=400, description="Points of the curve in °C: -4,-8; the usual ones.")
    ] = "",
) -> Response:
    """What the mix is, how it freezes, and what lies outside the limits of its kind."""
    scaled, _ = await _sized(room, formula, batch_g, size)
    air = composing.read_overrun(overrun)
    points = tuple(composing.read_temperature(one) for one in at.split(",")) if at else None

    def made() -> dict[str, Any]:
        kinds = room.shelf.kinds()
        one = composing.composed(
            scaled, kinds, kind=kind, overrun_percent=air, at_c=points or composing.USUAL_C
        )
        return composing.draw_composition(one)

    return JSONResponse(await to_thread.run_sync(made, limiter=room.shelf_turn))


async def find(room: Room, identity: str) -> Formula:
    """A formula of the shelf. Raises :class:`FormulaError`."""
    return await to_thread.run_sync(
        room.shelf.get, shapes.formula_id(identity), limiter=room.shelf_turn
    )


async def _sized(room: Room, formula: str, batch_g: str, size: str) -> tuple[Formula, Decimal]:
    """A formula scaled to the batch size asked for, and that size in grams."""
    chosen = await find(room, formula)
    grams, _ = sizing.chosen_size(shapes.batch_size(batch_g), size, chosen)
    return chosen.scaled(grams), grams


def _scale(room: Room, name: str) -> Scale | None:
    try:
        return opening.choose_scale(name, room.runner.station.scales)
    except OperatorError as error:
        if error.code in _NOT_YET:
            return None
        raise


def draw_formula(formula: Formula) -> dict[str, Any]:
    """A formula as JSON values, masses as decimal strings in grams."""
    return {
        "id": formula.id,
        "name": formula.name,
        "note": formula.note,
        "revision": formula.revision,
        "batch_g": mass.text(formula.batch_g),
        "scenario": formula.scenario,
        "cautions": list(formula.cautions),
        "allergens": list(formula.allergens),
        "additions": [
            {
                "n": n,
                "ingredient": one.ingredient.id,
                "name": one.ingredient.name,
                "target_g": mass.text(one.target_g),
                "low_g": mass.text(one.band[0]),
                "high_g": mass.text(one.band[1]),
                "tolerance": one.tolerance.text,
                "allergens": list(one.ingredient.allergens),
                "caution": one.ingredient.caution,
                **({"method": BY_DIFFERENCE} if one.by_difference else {}),
            }
            for n, one in enumerate(formula.additions, start=1)
        ],
        **({"steps": [draw_step(one) for one in formula.steps]} if formula.steps else {}),
    }


def draw_outlooks(
    formula: Formula,
    scales: Mapping[str, Scale | None],
    rule: Rule,
    noises: Mapping[str, float],
) -> list[dict[str, Any]]:
    """What each configured scale can judge of a formula at its own size.

    ``noises``  standard deviation of each display at rest, as learned, in grams.
    """
    out: list[dict[str, Any]] = []
    for name, scale in scales.items():
        if scale is None:
            told: dict[str, Any] = {
                "interval_g": None,
                "additions": [],
                "warnings": [outlook.not_heard(name)],
            }
        else:
            planned = opening.plan(formula, replace(scale, max_g=None))
            others = [one for one in scales.values() if one is not None and one is not scale]
            shows = outlook.as_it_shows(scale, noises[name])
            told = {
                "interval_g": mass.text(scale.interval_g),
                "additions": [
                    {"n": one.n, **outlook.outlook(one, shows, rule).as_json()} for one in planned
                ],
                "warnings": outlook.warnings(planned, scale, rule, others, noises[name]),
            }
        out.append({"scale": name, **told})
    return out


def draw_problem(error: FormulaError) -> dict[str, Any]:
    """What is wrong with a file: the place taken apart into file, line and field."""
    found = re.fullmatch(r"(.*?)(?:, line (\d+))?(?:, ([^,]*))?", error.where)
    file, line, field = found.groups() if found else (error.where, None, None)
    return {
        "file": file,
        "line": int(line) if line else None,
        "field": field or "",
        "message": f"{error.message} {error.remedy}".strip(),
    }
