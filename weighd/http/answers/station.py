"""Answers of the station: its state, scales, checks, trends, vessels, simulation, first start."""

from __future__ import annotations

from weighd.http.answers.notation import (
    ANY,
    FLAG,
    FLOAT,
    MOMENT,
    MOMENT_OR_EMPTY,
    NULL,
    NUMBER,
    OBJECT,
    TEXT,
    WHOLE,
    Answers,
    by_key,
    many,
    maybe,
    one_of,
    thing,
)
from weighd.http.answers.parts import BATCH, DONE, ENTRY, READING, SEQ

_WEIGHT = thing(name=TEXT, nominal_g=NUMBER, mass_g=NUMBER, r111_class=TEXT)
_CHECK = thing(
    then=TEXT,
    every_h=NUMBER | NULL,
    new_day_utc=TEXT | NULL,
    standing=TEXT,
    barred=FLAG,
    last=thing(seq=WHOLE, hash=TEXT, at=MOMENT, outcome=TEXT) | NULL,
    due=MOMENT | NULL,
    overdue_since=MOMENT | NULL,
    doubts=many(TEXT),
    weights=many(_WEIGHT),
    placements=WHOLE,
    clearing=FLAG,
    running=OBJECT | NULL,
)
_SCALE = thing(
    name=TEXT,
    driver=TEXT,
    max_g=NUMBER | NULL,
    min_g=NUMBER | NULL,
    interval_g=NUMBER | NULL,
    link=TEXT,
    why=TEXT,
    what=TEXT,
    reading=READING | NULL,
    phase=TEXT | NULL,
    readings=WHOLE,
    rejected=WHOLE,
    last_rejected=TEXT | NULL,
    learned=OBJECT | NULL,
    check=_CHECK | NULL,
)
_VESSEL = {
    "name": TEXT,
    "mass_g": NUMBER,
    "u_g": NUMBER,
    "allow_g": NUMBER,
    "configured": FLAG,
    "scale": TEXT,
    "at": MOMENT_OR_EMPTY,
    "by": TEXT,
}
#: The addition that is being weighed, as it stands.
_LIVE = thing(
    batch=TEXT,
    addition=WHOLE,
    scale=TEXT,
    phase=TEXT,
    why=TEXT,
    settled=FLAG,
    gross_g=NUMBER | NULL,
    tare_g=NUMBER | NULL,
    net_g=NUMBER | NULL,
    lifted=FLAG,
    to_go_g=NUMBER | NULL,
    sum_g=NUMBER | NULL,
    u_g=NUMBER | NULL,
    budget=by_key(NUMBER) | NULL,
    guard_g=NUMBER | NULL,
    verdict=TEXT | NULL,
    held=OBJECT | NULL,
    taking_out=FLAG,
    checking=FLAG,
    vessel=OBJECT | NULL,
    can=many(TEXT).said("The commands that are taken now."),
    cue=thing(cue=TEXT, landing_g=NUMBER | NULL, sigma_g=NUMBER | NULL) | NULL,
)
_SHARING = (
    thing(
        state=TEXT,
        store=TEXT,
        behind=WHOLE,
        since=MOMENT | NULL,
        contact=MOMENT | NULL,
        code=TEXT,
        why=TEXT,
    )
    | NULL
)
_STATE = thing(
    scales=by_key(_SCALE),
    station=thing(
        name=TEXT,
        version=TEXT,
        boot=TEXT,
        simulation=FLAG,
        vessels=many(thing(**_VESSEL)),
        notices=many(thing(id=TEXT, level=TEXT, code=TEXT, text=TEXT, at=MOMENT)),
        store=thing(ok=FLAG, code=TEXT, text=TEXT),
    ),
    batch=BATCH | NULL,
    live=_LIVE | NULL,
    process=thing(at=MOMENT_OR_EMPTY, batches=many(thing(id=TEXT, name=TEXT, state=TEXT))),
    sharing=_SHARING,
)
_GROUP = {
    "by": TEXT,
    "key": TEXT,
    "name": TEXT,
    "n": WHOLE,
    "few": FLAG,
    "since": MOMENT | NULL,
    "until": MOMENT | NULL,
    "off_g": NUMBER,
    "over_g": NUMBER,
    "over_cost": NUMBER | NULL,
    "out_of_tolerance": WHOLE,
    "sure_share": FLOAT | NULL,
    "bias_percent": thing(mean=FLOAT, low=FLOAT, high=FLOAT, sure=FLAG) | NULL,
    "capability": by_key(FLOAT | NULL) | NULL,
    "steady": FLAG | NULL,
    "signals": many(OBJECT),
}
_POINT = thing(
    seq=WHOLE,
    at=MOMENT,
    batch=TEXT,
    addition=WHOLE,
    ingredient=TEXT,
    scale=TEXT,
    operator=TEXT,
    net_g=NUMBER,
    target_g=NUMBER,
    off_g=NUMBER,
    share=FLOAT,
    sure=FLOAT | NULL,
    verdict=TEXT,
)
_SIMULATED = thing(load=OBJECT, pour_g_s=FLOAT, cook=thing(working=FLAG), speed=FLOAT)
_PLACES = thing(places=many(thing(id=TEXT, driver=TEXT, where=TEXT, what=TEXT, state=TEXT)))

ANSWERS: Answers = {
    "GET /api/health": thing(
        # A device that was not let in is told this alone.
        status=one_of("ok", "degraded"),
        version=maybe(TEXT),
        station=maybe(TEXT),
        scales=maybe(by_key(TEXT)),
        store=maybe(TEXT),
        sharing=maybe(_SHARING),
    ),
    "GET /api/state": thing(seq=SEQ, state=_STATE),
    "GET /api/scales": thing(scales=by_key(_SCALE)),
    "GET /api/scales/{name}/wire": thing(
        name=TEXT,
        driver=TEXT,
        shape=OBJECT | TEXT | NULL,
        reports=many(thing(bytes=many(TEXT), marks=many(many(TEXT | WHOLE)))),
        rejected=WHOLE,
        last_rejected=many(TEXT),
    ),
    "GET /api/scales/{name}/loss": thing(
        scale=TEXT,
        grams=NUMBER | NULL,
        loses=FLAG | NULL,
        rate_g_min=NUMBER | NULL,
        u_rate_g_min=NUMBER | NULL,
        watched_s=FLOAT | NULL,
        want_g=NUMBER | NULL,
        wait_s=NUMBER,
        weigh_out_g=NUMBER | NULL,
        lost_g=NUMBER | NULL,
        at_use_g=NUMBER | NULL,
        u_at_use_g=NUMBER | NULL,
        why=TEXT,
    ),
    "POST /api/scales/{name}/forget": thing(seq=SEQ),
    "POST /api/scales/{name}/check": DONE,
    "GET /api/scales/{name}/checks": thing(
        checks=many(
            thing(
                seq=WHOLE,
                at=MOMENT,
                hash=TEXT,
                by=TEXT,
                scale=TEXT,
                outcome=TEXT,
                steps=many(OBJECT),
            )
        )
    ),
    "GET /api/checks/{seq}": ENTRY,
    "GET /api/operators": thing(operators=many(TEXT)),
    "POST /api/notices/{notice}/dismiss": thing(seq=SEQ),
    "GET /api/trends": thing(by=TEXT, groups=many(thing(**_GROUP))),
    "GET /api/trends/{by}/{key}": thing(
        **_GROUP,
        points=many(_POINT),
        chart=by_key(FLOAT | NULL) | NULL,
    ),
    "GET /api/vessels": thing(vessels=many(thing(**_VESSEL))),
    "POST /api/vessels": thing(**_VESSEL, seq=SEQ),
    "POST /api/vessels/{name}/forget": thing(seq=SEQ),
    "GET /api/find": thing(found=many(thing(kind=TEXT, id=TEXT, name=TEXT, about=TEXT))),
    "GET /api/head": thing(
        configured=FLAG,
        head=maybe(
            thing(day=TEXT, short=TEXT, entries=WHOLE, at=MOMENT, key=TEXT, missed=many(TEXT))
            | NULL
        ),
        next=maybe(MOMENT | NULL),
        folder=maybe(TEXT),
        problem=maybe(TEXT | NULL),
    ),
    "GET /api/simulation": _SIMULATED,
    "POST /api/simulation": _SIMULATED,
    "GET /api/floor": thing(kind=TEXT, seq=SEQ, state=OBJECT),
    "POST /api/first/look": _PLACES,
    "POST /api/first/learn": thing(places=many(ANY)),
    "POST /api/first/scale": thing(scale=TEXT, anew=FLAG),
    "POST /api/first/name": thing(name=TEXT),
    "GET /api/first/formulas": thing(
        examples=many(
            thing(
                id=TEXT,
                name=TEXT,
                note=TEXT,
                batch_g=NUMBER,
                additions=WHOLE,
                steps=WHOLE,
                allergens=many(TEXT),
            )
        )
    ),
    "POST /api/first/list": thing(
        lines=many(thing(n=WHOLE, text=TEXT, outcome=TEXT, why=TEXT)),
        taken=WHOLE,
        taken_g=NUMBER,
        sum_g=NUMBER | NULL,
        not_understood=WHOLE,
        warning=TEXT,
        new=many(TEXT),
    ),
    "POST /api/first/formula": thing(formula=TEXT),
}
