"""Answers about people."""

from __future__ import annotations

from weighd.http.answers.notation import (
    FLAG,
    FLOAT,
    MOMENT,
    MOMENT_OR_EMPTY,
    NULL,
    TEXT,
    WHOLE,
    Answers,
    many,
    thing,
)

_PERSON = {"name": TEXT, "rights": many(TEXT), "since": MOMENT, "retired": MOMENT_OR_EMPTY}
_ME = thing(**_PERSON, left_s=WHOLE)
_PEOPLE = thing(
    listed=FLAG,
    people=many(thing(**_PERSON)),
    me=_ME | NULL,
    rights=many(thing(right=TEXT, about=TEXT)),
    stay_s=FLOAT,
    device=thing(name=TEXT, may=TEXT) | NULL,
)

ANSWERS: Answers = {
    "GET /api/people": _PEOPLE,
    "POST /api/people": _PEOPLE,
    "POST /api/people/{name}/pin": _PEOPLE,
    "POST /api/people/{name}/rights": _PEOPLE,
    "POST /api/people/{name}/retire": _PEOPLE,
    "POST /api/sign-in": thing(me=_ME),
    "POST /api/sign-out": thing(me=NULL),
    "POST /api/allow": thing(token=TEXT, by=TEXT),
}
