"""Answers about batches."""

from __future__ import annotations

from weighd.http.answers.formulas import DRY_ICE
from weighd.http.answers.notation import (
    ANY,
    FLAG,
    MOMENT,
    NULL,
    NUMBER,
    OBJECT,
    RANGE,
    TEXT,
    WHOLE,
    Answers,
    by_key,
    many,
    maybe,
    thing,
)
from weighd.http.answers.parts import BATCH, DIFFERENCE, DONE, ENTRY, LABELS, LIMIT, SEQ, STANDS

_STARTED = thing(batch=TEXT, seq=SEQ)
_KEPT = many(
    thing(
        of=many(TEXT),
        unit=TEXT,
        value=NUMBER | NULL,
        min=NUMBER | NULL,
        max=NUMBER | NULL,
        source=TEXT,
    )
)
_WAY = thing(
    way=TEXT,
    goes=FLAG,
    why_not=thing(code=TEXT, text=TEXT) | NULL,
    asks_dry=FLAG,
    command=TEXT,
    reason=TEXT,
    take_g=thing(to_target=NUMBER, to_limit=NUMBER) | NULL,
    becomes_g=NUMBER | NULL,
    more_g=NUMBER | NULL,
    weighings=WHOLE,
    exact=FLAG,
    stays=FLAG | NULL,
    todo=many(OBJECT),
    broken=_KEPT,
    effects=many(OBJECT),
    cost=NUMBER | NULL,
    fight=TEXT | NULL,
    change=(OBJECT | NULL).said("To be sent with put right, as it is."),
)

ANSWERS: Answers = {
    "GET /api/batches": thing(
        batches=many(
            thing(
                id=TEXT,
                formula=TEXT,
                name=TEXT,
                batch_g=NUMBER,
                operator=TEXT,
                opened=MOMENT,
                closed=MOMENT | NULL,
                status=TEXT,
                additions=WHOLE,
                accepted=WHOLE,
            )
        )
    ),
    "POST /api/batches": _STARTED,
    "GET /api/batches/{batch}": thing(batch=BATCH),
    "GET /api/batches/{batch}/record": thing(
        weighd_record=WHOLE,
        station=TEXT,
        batch=TEXT,
        entries=many(ENTRY),
        checks=maybe(many(ENTRY)),
        signatures=maybe(many(thing(key=TEXT, entries=WHOLE, head=TEXT, value=TEXT))),
    ),
    "GET /api/batches/{batch}/checks": thing(
        flags=many(
            thing(
                addition=WHOLE,
                scale=TEXT,
                standing=TEXT,
                failed=thing(seq=WHOLE, at=MOMENT) | NULL,
            )
        )
    ),
    "GET /api/batches/{batch}/corrections": thing(
        batch=TEXT,
        written=many(
            thing(
                entry=WHOLE,
                kind=TEXT,
                at=MOMENT,
                addition=WHOLE | NULL,
                ingredient=TEXT,
                name=TEXT,
                fields=by_key(TEXT),
            )
        ),
        corrections=many(
            thing(
                entry=WHOLE,
                kind=TEXT,
                n=WHOLE,
                field=TEXT,
                old=TEXT,
                new=TEXT,
                reason=TEXT,
                by=TEXT,
                at=MOMENT,
                although=TEXT,
            )
        ),
    ),
    "GET /api/batches/{batch}/countersigned": thing(
        batch=TEXT,
        over=FLAG,
        entries=WHOLE,
        countersigned=many(thing(n=WHOLE, upto=WHOLE, by=TEXT, at=MOMENT, note=TEXT, later=WHOLE)),
    ),
    "GET /api/batches/{batch}/composition": thing(
        batch=TEXT,
        status=TEXT,
        formula=TEXT,
        name=TEXT,
        revision=TEXT,
        class_=TEXT,
        in_g=NUMBER,
        in_u_g=NUMBER,
        to_come_g=NUMBER,
        whole=FLAG,
        amounts=many(
            thing(
                of=WHOLE,
                ingredient=TEXT,
                name=TEXT,
                planned_g=NUMBER,
                in_g=NUMBER,
                u_g=NUMBER,
                to_come_g=NUMBER,
            )
        ),
        k=NUMBER,
        overrun_percent=NUMBER | NULL,
        differences=many(
            thing(**DIFFERENCE, planned=RANGE | NULL, weighed=RANGE | NULL, u=NUMBER | NULL)
        ),
        limits=many(thing(**LIMIT, planned=STANDS | NULL, weighed=STANDS | NULL)),
        prices=thing(known=FLAG, date=TEXT),
        missing=by_key(many(TEXT)),
        method=TEXT,
    ),
    "GET /api/batches/{batch}/recovery": thing(
        batch=TEXT,
        addition=WHOLE,
        name=TEXT,
        cause=TEXT,
        net_g=NUMBER,
        target_g=NUMBER,
        low_g=NUMBER,
        high_g=NUMBER,
        interval_g=NUMBER,
        was=OBJECT | NULL,
        batch_g=NUMBER,
        dry=thing(asks=FLAG, taken=FLAG | NULL, why=TEXT),
        serving_c=NUMBER,
        words_from=TEXT,
        limits=_KEPT,
        no_limits_for=many(ANY),
        in_it=TEXT,
        options=many(_WAY),
        on_hand=many(thing(ingredient=TEXT, name=TEXT, grams=NUMBER, lots=many(TEXT), by=TEXT)),
    ),
    "GET /api/batches/{batch}/ingredients": thing(
        ingredients=many(thing(ingredient=TEXT, name=TEXT, allergens=many(TEXT)))
    ),
    "GET /api/batches/{batch}/dry-ice": DRY_ICE,
    "POST /api/batches/{batch}/commands": DONE,
    "GET /api/batches/{batch}/yield": thing(
        batch=TEXT,
        status=TEXT,
        formula=TEXT,
        name=TEXT,
        class_=TEXT,
        density_g_ml=NUMBER | NULL,
        density=TEXT,
        draws=many(thing(draw=WHOLE, by=TEXT, at=MOMENT, mix_g=NUMBER | NULL, why=TEXT)),
        total=thing(in_g=NUMBER, in_u_g=NUMBER, drawn_g=NUMBER | NULL, loss_g=NUMBER | NULL),
        cost=thing(
            known=FLAG,
            date=TEXT,
            batch=RANGE | NULL,
            per_portion=RANGE | NULL,
            per_litre=RANGE | NULL,
            pieces=FLAG,
        ),
        ceilings=many(OBJECT),
    ),
    "POST /api/batches/{batch}/yield": DONE,
    "GET /api/batches/{batch}/labels": thing(
        **LABELS, usual=maybe(thing(draws=WHOLE, containers=WHOLE, net=TEXT))
    ),
}
