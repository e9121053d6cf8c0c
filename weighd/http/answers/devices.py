"""Answers about devices."""

from __future__ import annotations

from weighd.http.answers.notation import (
    FLAG,
    MOMENT,
    NULL,
    TEXT,
    WHOLE,
    Answers,
    many,
    one_of,
    thing,
    with_more,
)

_MAY = one_of("look", "work", "all")
_ONE = thing(id=TEXT, name=TEXT, may=_MAY)
_THIS = thing(home=FLAG, device=_ONE | NULL)
_LISTED = with_more(_ONE, since=MOMENT, seen=MOMENT, this=FLAG)
_DEVICES = thing(
    at=many(TEXT).said("What other devices open; empty where none can come in."),
    plain=FLAG.said("They come in without TLS."),
    here=FLAG.said("Whoever asks stands at the station."),
    devices=many(_LISTED),
    waiting=thing(name=TEXT, may=_MAY) | NULL,
)

ANSWERS: Answers = {
    "GET /api/device": _THIS,
    "POST /api/device/pair": thing(device=_ONE),
    "POST /api/device/leave": _THIS,
    "GET /api/devices": _DEVICES,
    "POST /api/devices": thing(
        code=TEXT.said("Eight digits, to be typed at the device once."),
        name=TEXT,
        may=_MAY,
        good_s=WHOLE,
        at=many(TEXT),
    ),
    "POST /api/devices/withdraw": thing(waiting=NULL),
    "POST /api/devices/{device}/forget": _DEVICES,
}
