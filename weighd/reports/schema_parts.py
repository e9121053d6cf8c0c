"""What the JSON Schema of records is put together from: fields, objects, and parts that recur.

An object built here is *open* in the schema that is published (a later weighd may say more, and a
reader passes over what it does not know) and *closed* in the one that tests use, so that nothing
can be recorded that the schema does not tell of.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum
from typing import Any

from weighd.domain.accuracy import AccuracyClass
from weighd.domain.check_standing import Outcome, Standing, Then
from weighd.domain.clock_said import Doubt
from weighd.domain.formula import BY_DIFFERENCE
from weighd.domain.metrology import Verdict
from weighd.domain.plan_words import Into, Role
from weighd.domain.weights import WeightClass
from weighd.domain.whose import PIN

Schema = dict[str, Any]
Fields = Mapping[str, Schema]


def ref(name: str) -> Schema:
    """A part that stands under ``$defs``."""
    return {"$ref": f"#/$defs/{name}"}


def one_of(words: Iterable[str] | type[StrEnum], about: str = "") -> Schema:
    """One of some words: those of an enumeration of the domain, where it has one."""
    return _told({"enum": [str(one) for one in words]}, about)


def listed(items: Schema, least: int = 0) -> Schema:
    """A list."""
    return {"type": "array", "items": items, **({"minItems": least} if least else {})}


def by_name(values: Schema) -> Schema:
    """An object whose names are free."""
    return {"type": "object", "additionalProperties": values}


def maybe(schema: Schema) -> Schema:
    """That, or ``null``: not known, or not stated."""
    return {"anyOf": [schema, {"type": "null"}]}


def thing(must: Fields, may: Fields | None = None, about: str = "") -> Schema:
    """An object: fields that it must have, and those that it may have."""
    made = {
        "type": "object",
        "properties": {**must, **(may or {})},
        "required": list(must),
        "additionalProperties": CLOSED,
    }
    return _told(made, about)


def about(schema: Schema, words: str) -> Schema:
    """The same with a sentence about it."""
    return {**schema, "description": words}


def _told(schema: Schema, words: str) -> Schema:
    return about(schema, words) if words else schema


#: Stands in every object of :func:`thing` until it is known whether it is to be closed.
CLOSED = object()

TEXT: Schema = {"type": "string"}
TRUE: Schema = {"const": True}
COUNT: Schema = {"type": "integer", "minimum": 0}
NUMBER: Schema = {"type": "integer", "minimum": 1}
SECONDS: Schema = {"type": "number"}
ANYTHING: Schema = {"type": "object"}
MASS, POSITIVE, TIME, HASH = ref("mass"), ref("unsigned"), ref("time"), ref("hash")

_BUDGET = ("rounding", "spread", "repeatability", "permissible_error", "creep")
_SCALE = {
    "driver": TEXT,
    "interval_g": POSITIVE,
    "max_g": maybe(POSITIVE),
    "repeatability_g": POSITIVE,
}
_SCALE_SINCE = {
    "min_g": maybe(POSITIVE),
    "max_error_g": maybe(POSITIVE),
    "accuracy_class": maybe(one_of(AccuracyClass)),
    "verification_interval_g": maybe(POSITIVE),
    "creep_g": POSITIVE,
    "check": ref("duty"),
}
_CHECK = {
    "seq": NUMBER,
    "hash": HASH,
    "at": TIME,
    "outcome": one_of(Outcome),
}
_RULE = thing({"name": TEXT, "k": POSITIVE}, about="decision rule; the guard band is k u wide")
_AN_INGREDIENT = {
    "ingredient": TEXT,
    "name": TEXT,
    "allergens": listed(TEXT),
    "caution": TEXT,
}
_FOUND = {
    "u_g": POSITIVE,
    "budget": by_name(POSITIVE),
    "limit_g": POSITIVE,
    "guard_g": POSITIVE,
    "outcome": one_of(Outcome),
}

#: How the name in an entry was given, where it was not only chosen.
NAMED: Fields = {
    "proved": about(by_name(one_of([PIN])), "who showed by a PIN who they are, and how"),
    "allowed_by": about(TEXT, "a second person, who let them do what they may not do alone"),
}
#: Parts that several entries have.
PARTS: Mapping[str, Schema] = {
    "mass": {
        "type": "string",
        "pattern": r"^-?[0-9]{1,20}(\.[0-9]{1,20})?$",
        "description": "A decimal number: grams, where the field's name ends in _g.",
    },
    "unsigned": {
        "type": "string",
        "pattern": r"^[0-9]{1,20}(\.[0-9]{1,20})?$",
        "description": "A decimal number that is not below zero.",
    },
    "time": {
        "type": "string",
        "format": "date-time",
        "pattern": "Z$",
        "description": "A moment, RFC 3339, in UTC.",
    },
    "hash": {
        "type": "string",
        "pattern": "^[0-9a-f]{64}$",
        "description": "SHA-256, in hexadecimal.",
    },
    "key": {
        "type": "string",
        "pattern": "^[0-9a-f]{64}$",
        "description": "A public key of Ed25519 (RFC 8032), in hexadecimal.",
    },
    "signed": {"type": "string", "pattern": "^[0-9a-f]{128}$"},
    "budget": thing(
        dict.fromkeys(_BUDGET[:2], POSITIVE),
        dict.fromkeys(_BUDGET[2:], POSITIVE),
        "What an uncertainty is made of: standard uncertainties in grams.",
    ),
    "decoder": {
        "type": "object",
        "description": "What makes the decoder again that read the bytes.",
        "properties": {"driver": TEXT},
    },
    "readings": listed(
        thing(
            {
                "t": about(SECONDS, "seconds of the station's clock"),
                "raw": {"type": "string", "pattern": "^([0-9a-f]{2})*$"},
                "grams": maybe(MASS),
            },
            {"step_g": about(POSITIVE, "what the display stepped in, where that is coarser")},
        )
    ),
    "evidence": thing({"decoder": ref("decoder"), "readings": ref("readings")}),
    "rule": _RULE,
    "duty": thing(
        {"then": one_of(Then), "every_h": maybe(POSITIVE), "new_day_utc": maybe(TEXT)},
        about="How often a scale has to be checked.",
    ),
    "scale": thing(_SCALE, _SCALE_SINCE, "What is stated of a scale."),
    "check": thing(_CHECK, about="A check of a scale, as other entries name it."),
    "vessel": thing({"name": TEXT, "mass_g": POSITIVE, "u_g": POSITIVE, "allow_g": POSITIVE}),
    "ingredient": thing(_AN_INGREDIENT, {"composition": ANYTHING}),
    "step": thing(
        {
            "of": NUMBER,
            "into": one_of(Into),
            "vessel": COUNT,
            "role": one_of(Role),
            "part": NUMBER,
            "parts": NUMBER,
            "premix": COUNT,
            "whole_g": POSITIVE,
            "low_g": MASS,
            "high_g": POSITIVE,
        },
        about="A weighing's place in a plan of several scales or vessels.",
    ),
    "plan": thing(
        {
            "moves": COUNT,
            "unfit": about(COUNT, "how many weighings no scale can judge"),
            "bowl_g": POSITIVE,
            "dish_g": POSITIVE,
            "dish_holds_g": maybe(POSITIVE),
            "premixes": listed(ANYTHING),
        },
        {"offered": by_name(ref("scale"))},
        about="The plan of several scales and vessels that the batch was begun by.",
    ),
    "planned": thing(
        {
            "n": NUMBER,
            **_AN_INGREDIENT,
            "target_g": POSITIVE,
            "low_g": MASS,
            "high_g": POSITIVE,
            "tolerance": TEXT,
            "scale": TEXT,
        },
        {
            "method": one_of([BY_DIFFERENCE]),
            "step": ref("step"),
            "of": about(NUMBER, "the formula's addition that it is of"),
        },
        "A weighing as planned for this batch.",
    ),
    "sum": thing(
        {
            "addition": NUMBER,
            "ingredient": TEXT,
            "name": TEXT,
            "target_g": POSITIVE,
            "net_g": MASS,
            "u_g": POSITIVE,
        },
        about="What went in of one amount of the formula, over all its weighings.",
    ),
    "clock": thing(
        {"is": one_of(Doubt)},
        {
            "newest": about(TIME, "the newest time in the record that is not in doubt"),
            "since": about(TIME, "when it first was so far ahead"),
        },
        "Only where the clock that gave the entry its time was in doubt: unset, before weighd was "
        "made; behind, before a time that is recorded; ahead, far after it.",
    ),
    "standing": thing({"standing": one_of(Standing), "last": maybe(ref("check"))}),
    "weight": thing(
        {
            "name": TEXT,
            "nominal_g": POSITIVE,
            "mass_g": POSITIVE,
            "r111_class": maybe(one_of(WeightClass)),
            "error_g": maybe(POSITIVE),
            "u_g": maybe(POSITIVE),
        },
        about="What stands on a scale when it is checked.",
    ),
    "level": thing(
        {
            "grams": MASS,
            "u_g": POSITIVE,
            "budget": ref("budget"),
            "decoder": ref("decoder"),
            "readings": ref("readings"),
        }
    ),
    "spread": thing({"n": NUMBER, "s_g": POSITIVE, "range_g": POSITIVE, **_FOUND}),
    "verdict": one_of(Verdict),
    "typed_mass": thing(
        {"g": POSITIVE, "u_g": POSITIVE},
        {"typed": TEXT},
        "A mass as somebody typed it, and in grams.",
    ),
    "typed_volume": thing({"ml": POSITIVE, "u_ml": POSITIVE}, {"typed": TEXT}),
}

_BATCH: Fields = {
    "batch": about(TEXT, "the batch that the entry is of"),
    "n": about(NUMBER, "its number among the batch's entries"),
    "after": about(HASH, "the hash of the batch's entry before it; zeros for the first"),
}
#: Stands in an entry that a command made.
KEY: Fields = {"key": about(TEXT, "idempotency key of the command that made it")}


def of_batch(must: Fields, may: Fields | None = None, words: str = "") -> Schema:
    """The body of an entry of a batch: with what binds it to that."""
    return thing({**_BATCH, **must}, {**KEY, **NAMED, **(may or {})}, words)
