"""Answers about the kitchen's files: ingredients, limits, and formulas as drafts."""

from __future__ import annotations

from weighd.http.answers.notation import (
    FLAG,
    NULL,
    NUMBER,
    NUMBER_OR_EMPTY,
    OBJECT,
    TEXT,
    WHOLE,
    Answers,
    by_key,
    many,
    maybe,
    thing,
)
from weighd.http.answers.parts import CAUTION, COMPOSITION, HEAT_TABLE, INGREDIENT, TAG

_USED = {**INGREDIENT, "formulas": many(TEXT)}
_LIMITS = many(
    thing(of=many(TEXT), unit=TEXT, min=NUMBER_OR_EMPTY, max=NUMBER_OR_EMPTY, source=TEXT)
)
_DRAFT = {
    "id": TEXT,
    "name": TEXT,
    "note": TEXT,
    "kind": TEXT,
    "cautions": many(TEXT),
    "additions": many(
        thing(
            ingredient=TEXT,
            target=TEXT,
            tolerance=TEXT,
            method=TEXT,
            carrier=TEXT,
            was=WHOLE | NULL,
        )
    ),
    "steps": many(
        thing(
            kind=TEXT,
            name=TEXT,
            how=TEXT,
            with_=TEXT,
            temperature=TEXT,
            time=TEXT,
            table=TEXT,
            cautions=many(CAUTION),
            was=WHOLE | NULL,
        )
    )
    | NULL,
    "own_ingredients": many(thing(id=TEXT, name=TEXT)),
    "kept": many(TEXT),
    "fixed": TEXT,
    "tag": TAG,
}
_LINE = thing(
    n=WHOLE,
    text=TEXT,
    outcome=TEXT,
    ingredient=TEXT,
    name=TEXT,
    amount=TEXT,
    amount_g=NUMBER | NULL,
    tolerance=TEXT,
    offered=many(thing(id=TEXT, name=TEXT)),
    why=TEXT,
)
_TEMPERATURE = thing(written=TEXT, celsius=TEXT, fahrenheit=TEXT) | NULL

ANSWERS: Answers = {
    "GET /api/ingredients": thing(
        fixed=TEXT,
        ingredients=many(thing(**_USED)),
        parts=many(TEXT),
        of_which=many(TEXT),
        sugars=by_key(TEXT),
        tag=TAG,
    ),
    "GET /api/ingredients/{ingredient}": thing(**_USED, tag=TAG),
    "PUT /api/ingredients/{ingredient}": thing(**INGREDIENT, tag=TAG),
    "DELETE /api/ingredients/{ingredient}": thing(removed=TEXT, tag=TAG),
    "POST /api/ingredients/{ingredient}/check": thing(
        stated_g=NUMBER, left_g=NUMBER, missing=many(TEXT)
    ),
    "GET /api/ingredient-table": thing(ingredients=many(thing(**INGREDIENT))),
    "POST /api/ingredient-import/look": thing(
        columns=many(TEXT),
        strange=many(TEXT),
        rows=many(
            thing(
                line=WHOLE,
                cells=many(TEXT),
                ingredient=thing(**INGREDIENT) | NULL,
                there=FLAG,
                error=thing(where=TEXT, message=TEXT) | NULL,
            )
        ),
        tag=TAG,
    ),
    "POST /api/ingredient-import": thing(taken=many(TEXT), left=many(TEXT), tag=TAG),
    "GET /api/limits": thing(
        own=FLAG,
        fixed=TEXT,
        every=TEXT,
        classes=many(thing(id=TEXT, name=TEXT, limits=_LIMITS)),
        quantities=by_key(TEXT),
        tag=TAG,
    ),
    "PUT /api/limits/{kind}": thing(id=TEXT, name=TEXT, limits=_LIMITS, tag=TAG),
    "GET /api/formulas/{formula}/source": thing(**_DRAFT),
    "GET /api/formulas/{formula}/revisions/{revision}/source": thing(
        **_DRAFT,
        revision=TEXT,
        otherwise=many(thing(ingredient=TEXT, name=TEXT, why=TEXT)),
        stays=many(TEXT),
        there=FLAG,
    ),
    "POST /api/compose": thing(**COMPOSITION, batch_g=NUMBER),
    "POST /api/paste": thing(
        lines=many(_LINE),
        taken=WHOLE,
        taken_g=NUMBER,
        sum_g=NUMBER | NULL,
        not_understood=WHOLE,
        warning=TEXT,
    ),
    "GET /api/steps": thing(
        kinds=many(OBJECT),
        tables=many(HEAT_TABLE),
        notice=TEXT,
        brings=by_key(many(CAUTION)),
        usual=many(thing(id=TEXT, source=TEXT, steps=many(OBJECT))),
        most=WHOLE,
    ),
    "POST /api/steps": thing(
        faults=many(thing(where=TEXT, message=TEXT)),
        steps=many(
            thing(
                kind=TEXT,
                name=TEXT,
                how=TEXT,
                with_=TEXT,
                table=TEXT | NULL,
                cautions=many(CAUTION),
                at_least=_TEMPERATURE,
                at_most=_TEMPERATURE,
                least_s=NUMBER | NULL,
                most_s=NUMBER | NULL,
                keeps=maybe(FLAG),
            )
            | NULL
        ),
    ),
}
