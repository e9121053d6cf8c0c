"""Answers about formulas: sized, planned, composed, solved, compared, frozen, shared."""

from __future__ import annotations

from weighd.http.answers.notation import (
    ANY,
    FLAG,
    MOMENT,
    MOMENT_OR_EMPTY,
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
from weighd.http.answers.parts import (
    ADDITION,
    AMOUNTS,
    CAUTION,
    COMPOSITION,
    DIFFERENCE,
    FORMULA,
    FREEZING,
    LIMIT,
    OUTLOOK,
    SOLVED,
    STANDS,
    TAG,
)

_SIZE = thing(by=TEXT, asked=TEXT, batch_g=NUMBER, words=TEXT, rounded=maybe(many(OBJECT)))
_SIDE = thing(revision=TEXT, name=TEXT, batch_g=NUMBER, allergens=many(TEXT))
_ONE = thing(ingredient=TEXT, name=TEXT, grams=NUMBER)
_LOT = thing(lot=TEXT, left_g=NUMBER, use_by=TEXT, best_before=TEXT, opened=FLAG)
#: What it takes to freeze a batch, and what that does to the air of a room.
DRY_ICE = thing(
    formula=TEXT,
    name=TEXT,
    revision=TEXT,
    batch_g=NUMBER,
    cautions=many(CAUTION),
    asked=OBJECT,
    heat=OBJECT | NULL,
    charge=OBJECT | NULL,
    portions=OBJECT | NULL,
    elsewhere=OBJECT | NULL,
    room=OBJECT | NULL,
    constants=many(thing(name=TEXT, value=TEXT, unit=TEXT, source=TEXT, status=TEXT)),
    missing=by_key(many(TEXT)),
    assumptions=many(TEXT),
)

ANSWERS: Answers = {
    "GET /api/formulas": thing(
        formulas=many(
            thing(
                **FORMULA,
                additions=many(thing(**ADDITION)),
                scales=many(
                    thing(
                        scale=TEXT,
                        interval_g=NUMBER | NULL,
                        additions=many(thing(n=WHOLE, **OUTLOOK)),
                        warnings=many(OBJECT | TEXT),
                    )
                ),
            )
        ),
        problems=many(thing(file=TEXT, line=WHOLE | NULL, field=TEXT, message=TEXT)),
    ),
    "GET /api/formulas/{formula}": thing(
        **FORMULA,
        additions=many(thing(**ADDITION, **OUTLOOK)),
        scale_known=FLAG,
        scale=TEXT | NULL,
        warnings=many(OBJECT | TEXT),
    ),
    "PUT /api/formulas/{formula}": thing(id=TEXT, name=TEXT, tag=TAG),
    "DELETE /api/formulas/{formula}": thing(removed=TEXT, file=TEXT),
    "GET /api/formulas/{formula}/size": thing(
        formula=TEXT,
        name=TEXT,
        size=_SIZE,
        batch_g=NUMBER,
        amounts=many(
            thing(
                n=WHOLE,
                ingredient=TEXT,
                name=TEXT,
                exact_g=NUMBER,
                target_g=NUMBER,
                low_g=NUMBER,
                high_g=NUMBER,
                scale=TEXT | NULL,
                interval_g=NUMBER | NULL,
                kept=FLAG,
            )
        ),
        composition=many(OBJECT),
    ),
    "GET /api/formulas/{formula}/plan": thing(
        formula=TEXT,
        batch_g=NUMBER,
        moves=WHOLE,
        plain=FLAG,
        unfit=WHOLE,
        scales=many(TEXT),
        vessels=by_key(NUMBER | NULL),
        weighings=many(
            thing(
                n=WHOLE,
                addition=WHOLE | NULL,
                name=TEXT,
                scale=TEXT,
                into=TEXT,
                vessel=WHOLE,
                role=TEXT,
                part=WHOLE,
                parts=WHOLE,
                premix=WHOLE | NULL,
                target_g=NUMBER,
                low_g=NUMBER,
                high_g=NUMBER,
                share=NUMBER | NULL,
                fit=FLAG,
            )
        ),
        acts=many(thing(do=TEXT)),
        premixes=many(OBJECT),
        shortfalls=many(OBJECT),
        text=many(TEXT),
        left_out=many(ANY),
        size=maybe(_SIZE),
    ),
    "GET /api/formulas/{formula}/composition": thing(**COMPOSITION),
    "GET /api/formulas/{formula}/stock": thing(
        formula=TEXT,
        day=TEXT,
        batch_g=NUMBER,
        needs=many(
            thing(
                n=WHOLE,
                ingredient=TEXT,
                name=TEXT,
                target_g=NUMBER,
                low_g=NUMBER,
                high_g=NUMBER,
                stock=TEXT,
                short_g=maybe(NUMBER),
                lots=maybe(many(_LOT)),
                aside=maybe(many(_LOT)),
            )
        ),
        most=thing(batch_g=NUMBER, size=TEXT, scarcest=TEXT, words=TEXT) | NULL,
    ),
    "GET /api/made": thing(
        made=by_key(thing(batch=TEXT, opened=MOMENT, operator=TEXT, batch_g=NUMBER))
    ),
    "GET /api/formulas/{formula}/revisions": thing(
        formula=TEXT,
        name=TEXT,
        now=TEXT | NULL,
        revisions=many(
            thing(
                revision=TEXT,
                name=TEXT,
                now=FLAG,
                since=MOMENT_OR_EMPTY,
                batch_g=NUMBER,
                additions=WHOLE,
                met=many(thing(where=TEXT, at=TEXT, by=TEXT, station=TEXT)),
                batches=thing(
                    count=WHOLE,
                    first=MOMENT | NULL,
                    last=MOMENT | NULL,
                    newest=many(thing(batch=TEXT, at=MOMENT, by=TEXT)),
                ),
            )
        ),
        away=WHOLE,
        problems=many(OBJECT),
    ),
    "GET /api/formulas/{formula}/changes": thing(
        formula=TEXT,
        name=TEXT,
        then=_SIDE,
        now=_SIDE,
        nothing=FLAG,
        only_size=FLAG,
        change_g=NUMBER,
        texts=many(OBJECT),
        allergens=thing(new=many(TEXT), gone=many(TEXT)),
        additions=many(thing(ingredient=TEXT, name=TEXT, how=TEXT, moved=FLAG)),
        steps=many(thing(kind=TEXT, name=TEXT, how=TEXT, moved=FLAG)),
        differences=many(thing(**DIFFERENCE, then=RANGE | NULL, now=RANGE | NULL)),
        class_=TEXT,
        unknown_class=TEXT,
        limits=many(thing(**LIMIT, then=STANDS | NULL, now=STANDS | NULL)),
        freezing=thing(then=FREEZING | NULL, now=FREEZING | NULL) | NULL,
        prices=thing(known=FLAG, date=TEXT),
        missing=by_key(many(TEXT)),
        method=TEXT,
    ),
    "POST /api/solve": thing(**SOLVED, composition=thing(**COMPOSITION)),
    "POST /api/swap": thing(
        formula=TEXT,
        old=_ONE,
        new=_ONE,
        ratio=thing(value=NUMBER, by=TEXT, words=TEXT, note=TEXT, source=TEXT),
        water=thing(old_g=NUMBER | NULL, new_g=NUMBER | NULL) | NULL,
        allergens=thing(before=many(TEXT), after=many(TEXT), new=many(TEXT), gone=many(TEXT)),
        values=many(thing(of=TEXT, name=TEXT, unit=TEXT)),
        unknown=many(TEXT),
        new_missing=many(TEXT),
        same=TEXT | NULL,
        same_words=TEXT,
        additions=AMOUNTS,
        balance=thing(**SOLVED) | NULL,
        composition=thing(**COMPOSITION),
    ),
    "GET /api/dry-ice": thing(cautions=many(CAUTION), usual=by_key(TEXT), materials=many(TEXT)),
    "GET /api/formulas/{formula}/dry-ice": DRY_ICE,
    "GET /api/shared/formulas": thing(
        sharing=FLAG,
        formulas=many(
            thing(number=WHOLE, formula=TEXT, revision=TEXT, name=TEXT, station=TEXT, at=MOMENT)
        ),
    ),
    "POST /api/shared/formulas/{formula}": thing(
        id=TEXT, name=TEXT, number=WHOLE, revision=TEXT, chosen=TEXT
    ),
    "POST /api/formulas/{formula}/publish": thing(
        id=TEXT, name=TEXT, number=WHOLE, revision=TEXT, new=FLAG
    ),
}
