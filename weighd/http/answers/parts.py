"""Shapes that several answers share."""

from __future__ import annotations

from weighd.http.answers.notation import (
    ANY,
    FLAG,
    FLOAT,
    MOMENT,
    MOMENT_OR_EMPTY,
    NULL,
    NUMBER,
    NUMBER_OR_EMPTY,
    OBJECT,
    RANGE,
    TEXT,
    WHOLE,
    by_key,
    many,
    maybe,
    thing,
)

SEQ = WHOLE.said("The number of the picture that shows it.")
DONE = thing(seq=SEQ, entry=(WHOLE | NULL).said("The entry that it made."))
TAG = TEXT.said("The tag to change it under (If-Match); also in ETag.")
NOTE = thing(level=maybe(TEXT), code=maybe(TEXT), text=maybe(TEXT))
CAUTION = thing(name=TEXT, text=TEXT)
OWN_RULE = thing(name=TEXT, k=NUMBER)
FORMULA_NAMED = thing(id=TEXT, name=TEXT, revision=TEXT)

HEAT_PAIR = thing(
    pair=TEXT, celsius=TEXT, time=TEXT, time_s=NUMBER, source=TEXT, status=TEXT, at_least=maybe(ANY)
)
HEAT_TABLE = thing(
    id=TEXT, name=TEXT, note=TEXT, notice=TEXT, pairs=many(HEAT_PAIR), cooling=maybe(OBJECT | NULL)
)
STEP = {
    "kind": TEXT,
    "name": TEXT,
    "how": TEXT,
    "with": TEXT,
    "limits": TEXT,
    "needs_temperature": FLAG,
    "cautions": many(CAUTION),
    "table": HEAT_TABLE | NULL,
}
#: One doing of a step of a batch.
RUN = thing(
    begun=MOMENT,
    begun_entered=FLAG,
    by=TEXT,
    confirmed=many(TEXT),
    pair=TEXT,
    dry_ice=OBJECT | NULL,
    values=many(
        thing(
            n=WHOLE, temperature=TEXT, at=MOMENT, by=TEXT, held_s=NUMBER, entered=FLAG, struck=TEXT
        )
    ),
    notes=many(thing(text=TEXT, at=MOMENT, by=TEXT)),
    ended=MOMENT | NULL,
    ended_entered=FLAG,
    ended_by=TEXT,
    outcome=TEXT | NULL,
    faults=many(TEXT),
    reached=TEXT | NULL,
    told=TEXT,
    failed=TEXT,
    decision=TEXT | NULL,
    reason=TEXT,
    decided=MOMENT | NULL,
    decided_by=TEXT,
)
BATCH_STEP = thing(n=WHOLE, **STEP, status=TEXT, runs=many(RUN))

ADDITION = {
    "n": WHOLE,
    "ingredient": TEXT,
    "name": TEXT,
    "target_g": NUMBER,
    "low_g": NUMBER,
    "high_g": NUMBER,
    "tolerance": TEXT,
    "allergens": many(TEXT),
    "caution": TEXT,
    "method": maybe(TEXT),
}
OUTLOOK = {"judgeable": FLAG | NULL, "least_g": NUMBER | NULL, "finest_g": NUMBER | NULL}
FORMULA = {
    "id": TEXT,
    "name": TEXT,
    "note": TEXT,
    "revision": TEXT,
    "batch_g": NUMBER,
    "scenario": TEXT,
    "cautions": many(TEXT),
    "allergens": many(TEXT),
    "steps": maybe(many(thing(**STEP))),
}

#: A batch as its page shows it.
BATCH = thing(
    id=TEXT,
    formula=FORMULA_NAMED,
    batch_g=NUMBER,
    operator=TEXT,
    opened=MOMENT,
    closed=MOMENT | NULL,
    status=TEXT,
    reason=TEXT,
    rule=OWN_RULE,
    allergens=many(TEXT),
    cautions=many(TEXT),
    current=WHOLE | NULL,
    called=maybe(WHOLE),
    weighed=maybe(MOMENT_OR_EMPTY),
    additions=many(
        thing(
            **ADDITION,
            **OUTLOOK,
            scale=TEXT,
            lot=TEXT,
            status=TEXT,
            net_g=NUMBER | NULL,
            deviation_g=NUMBER | NULL,
            verdict=TEXT | NULL,
            reason=TEXT,
            step=maybe(OBJECT),
            of=maybe(WHOLE),
        )
    ),
    acts=maybe(many(thing(do=TEXT, n=maybe(WHOLE)))),
    steps=maybe(many(BATCH_STEP)),
    put_right=maybe(
        many(
            thing(
                addition=WHOLE,
                cause=TEXT,
                way=TEXT,
                mass_g=NUMBER,
                reason=TEXT,
                by=TEXT,
                at=MOMENT,
            )
        )
    ),
)

FREEZING = thing(
    method=TEXT,
    begins_c=NUMBER | NULL,
    begins_at_lowest_c=NUMBER | NULL,
    terms_c=by_key(NUMBER) | NULL,
    sucrose_g_in_100_g_water=NUMBER | NULL,
    half_frozen_c=NUMBER | NULL,
    half_frozen_at_lowest_c=NUMBER | NULL,
    curve=many(
        thing(
            at_c=NUMBER,
            frozen_percent=NUMBER | NULL,
            at_most_percent=NUMBER | NULL,
            more_than_percent=maybe(NUMBER),
        )
    ),
    ends=thing(at_c=NUMBER, frozen_percent=NUMBER) | NULL,
)
SHARE = thing(
    grams=NUMBER | NULL,
    percent=NUMBER | NULL,
    at_most=maybe(OBJECT | NULL),
    missing=maybe(many(TEXT)),
)
_VOLUME = thing(
    overrun_percent=NUMBER,
    volume_ml=RANGE | NULL,
    density_g_ml=RANGE | NULL,
    cost_per_litre=RANGE | NULL,
)
LIMIT = {
    "class": TEXT,
    "of": many(TEXT),
    "unit": TEXT,
    "min": NUMBER | NULL,
    "max": NUMBER | NULL,
    "source": TEXT,
}
STANDS = thing(value=RANGE | NULL, standing=TEXT, why=TEXT)
COMPOSITION = {
    "formula": TEXT,
    "name": TEXT,
    "revision": TEXT,
    "class": TEXT,
    "mass_g": NUMBER,
    "parts": by_key(SHARE),
    "sugars": thing(kinds=by_key(SHARE)),
    "of_which": by_key(SHARE),
    "total_solids": SHARE,
    "lactose_in_water": RANGE | NULL,
    "sweetness": SHARE | NULL,
    "energy_per_100_g": thing(kcal=RANGE, kj=RANGE) | NULL,
    "cost": thing(batch=RANGE, per_kg=RANGE) | NULL,
    "mix": _VOLUME | NULL,
    "product": _VOLUME | NULL,
    "freezing": FREEZING | NULL,
    "limits": many(thing(**LIMIT, value=RANGE | NULL, standing=TEXT, why=TEXT)),
    "allergens": many(TEXT),
    "allergen_statement": TEXT,
    "missing": by_key(many(TEXT)),
    "assumptions": many(TEXT),
    "additions": many(
        thing(ingredient=TEXT, name=TEXT, grams=NUMBER, volume_ml=NUMBER | NULL, source=TEXT)
    ),
}

#: A difference between two, and what it comes from.
DIFFERENCE = {
    "of": TEXT,
    "unit": TEXT,
    "change": RANGE | NULL,
    "told": TEXT,
    "at_c": maybe(NUMBER),
}

INGREDIENT = {
    "id": TEXT,
    "name": TEXT,
    "allergens": many(TEXT),
    "caution": TEXT,
    "composition": by_key(NUMBER | by_key(NUMBER)),
    "density_g_ml": NUMBER_OR_EMPTY,
    "cost_per_kg": NUMBER_OR_EMPTY,
    "supplier_code": TEXT,
    "shelf_life_days": NUMBER_OR_EMPTY,
    "shelf_life_opened_days": NUMBER_OR_EMPTY,
    "source": TEXT,
    "instead": many(thing(ingredient=TEXT, ratio=NUMBER, note=TEXT, source=TEXT)),
    "stated_g": NUMBER,
    "left_g": NUMBER,
    "missing": many(TEXT),
}

LOT = {
    "lot": TEXT,
    "ingredient": TEXT,
    "name": TEXT,
    "supplier": TEXT,
    "supplier_lot": TEXT,
    "gtin": TEXT,
    "made_in": TEXT,
    "document": TEXT,
    "note": TEXT,
    "temperature_c": NUMBER_OR_EMPTY,
    "quantity_g": NUMBER,
    "left_g": NUMBER,
    "used_g": NUMBER,
    "u_used_g": NUMBER,
    "over_g": NUMBER,
    "wasted_g": NUMBER,
    "counted_g": NUMBER | NULL,
    "uses": WHOLE,
    "station": TEXT,
    "elsewhere": many(thing(station=TEXT, g=NUMBER)),
    "use_by": TEXT,
    "use_by_closed": TEXT,
    "best_before": TEXT,
    "days_left": WHOLE | NULL,
    "opened": MOMENT_OR_EMPTY,
    "keeps_days": WHOLE | NULL,
    "blocked": TEXT,
    "used_up": TEXT,
    "received": MOMENT,
    "by": TEXT,
    "fit": TEXT,
}

#: An entry of the record; of its body: /api/schema/record.json.
ENTRY = thing(seq=WHOLE, station=TEXT, kind=TEXT, at=MOMENT, body=OBJECT, prev=TEXT, hash=TEXT)

LABELS = {
    "size": TEXT,
    "sizes": many(TEXT),
    "mm": thing(wide=NUMBER, high=NUMBER),
    "sheet": thing(
        page=thing(wide=NUMBER, high=NUMBER),
        across=WHOLE,
        down=WHOLE,
        gap=thing(across=NUMBER, down=NUMBER),
    ),
    "labels": many(
        thing(
            name=TEXT,
            code=TEXT,
            facts=many(many(TEXT)),
            allergens=many(TEXT),
            contains=TEXT,
            station=TEXT,
            count=TEXT,
            nth=many(WHOLE) | NULL,
            scanned=TEXT,
            path=TEXT,
            modules=WHOLE,
        )
    ),
    "not_in_fonts": many(TEXT),
}

AMOUNTS = many(thing(ingredient=TEXT, target_g=NUMBER, tolerance=TEXT))
#: A mix that was found for targets.
SOLVED = {
    "formula": TEXT | NULL,
    "name": TEXT,
    "met": FLAG,
    "aim": TEXT,
    "aim_words": TEXT,
    "batch_g": NUMBER,
    "amounts": many(
        thing(
            ingredient=TEXT,
            name=TEXT,
            grams=NUMBER,
            before_g=NUMBER | NULL,
            percent=NUMBER,
            kept=FLAG,
        )
    ),
    "additions": AMOUNTS,
    "targets": many(
        thing(
            of=many(TEXT),
            unit=TEXT,
            min=NUMBER | NULL,
            max=NUMBER | NULL,
            value=NUMBER | NULL,
            met=FLAG,
            off_by=NUMBER | NULL,
            source=TEXT,
        )
    ),
    "asked_amounts": many(OBJECT),
    "conflict": thing(ties=many(OBJECT), words=TEXT) | NULL,
    "left_out": many(ANY),
}

#: What of a scale can be told from its reports.
READING = thing(
    t=FLOAT,
    grams=NUMBER | NULL,
    shown=NUMBER | NULL,
    unit=TEXT | NULL,
    stable=FLAG | NULL,
    over=FLAG,
    fault=TEXT,
)
