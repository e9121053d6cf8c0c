"""Answers about lots."""

from __future__ import annotations

from weighd.http.answers.notation import (
    FLAG,
    FLOAT,
    MOMENT,
    NULL,
    NUMBER,
    NUMBER_OR_EMPTY,
    OBJECT,
    TEXT,
    WHOLE,
    Answers,
    many,
    maybe,
    one_of,
    thing,
)
from weighd.http.answers.parts import DONE, LABELS, LOT, SEQ

ANSWERS: Answers = {
    "GET /api/lots": thing(
        day=TEXT,
        lots=many(thing(**LOT)),
        shared=maybe(thing(heard_at=TEXT, cut_off=TEXT)),
    ),
    "POST /api/lots": thing(lot=TEXT, entry=WHOLE, seq=SEQ),
    "GET /api/lots/{lot}": thing(
        **LOT, history=many(thing(seq=WHOLE, kind=TEXT, at=MOMENT, hash=TEXT))
    ),
    "POST /api/lots/{lot}/commands": DONE,
    "GET /api/lots/{lot}/labels": thing(**LABELS),
    "POST /api/scan": thing(
        is_=one_of("lot", "ingredient", "goods", "nothing", "misread", "gtin", "unknown"),
        text=TEXT,
        misread=TEXT,
        lot=TEXT,
        ingredient=TEXT,
        name=TEXT,
        gtin=TEXT,
        supplier_lot=TEXT,
        use_by=TEXT,
        best_before=TEXT,
        produced=TEXT,
        net_g=NUMBER | NULL,
        packs=WHOLE | NULL,
        current=thing(addition=WHOLE, fits=FLAG, refusal=OBJECT | NULL) | NULL,
    ),
    "GET /api/trace/{lot}": thing(
        lot=TEXT,
        known=thing(**LOT) | NULL,
        forward=many(
            thing(
                batch=TEXT, depth=WHOLE, g=NUMBER, batch_g=NUMBER, percent=NUMBER | NULL, name=TEXT
            )
        ),
        back=many(thing(lot=TEXT, ingredient=TEXT, depth=WHOLE, g=NUMBER, made=FLAG, name=TEXT)),
        circles=many(TEXT),
        name=TEXT,
        balance=thing(
            received_g=NUMBER,
            used_g=NUMBER,
            u_used_g=NUMBER,
            wasted_g=NUMBER,
            left_g=NUMBER,
            difference_g=NUMBER | NULL,
            adds_up=FLAG | NULL,
        )
        | NULL,
        sums=thing(in_stock_g=NUMBER, wasted_g=NUMBER, out_g=NUMBER_OR_EMPTY),
        tell=many(thing(why=TEXT, who=TEXT, of=TEXT)),
        day=TEXT,
        took_ms=FLOAT,
        drill=FLAG,
        everywhere=maybe(FLAG),
        stations=maybe(many(TEXT)),
        owners=maybe(many(TEXT)),
        unseen=maybe(many(TEXT)),
        said=maybe(TEXT),
        why=maybe(TEXT),
    ),
}
