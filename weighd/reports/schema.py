"""The JSON Schema (draft 2020-12) of an exported record, made from the table of its entries.

It ships as ``weighd/data/record.schema.json``; a test holds that file to what is made here, and
``python -m weighd.reports.schema`` prints it anew.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from weighd.domain.signing import FORMAT as SIGNING_FORMAT
from weighd.domain.verify import FORMAT
from weighd.reports.schema_kinds import KINDS
from weighd.reports.schema_parts import (
    CLOSED,
    HASH,
    NUMBER,
    PARTS,
    TEXT,
    TIME,
    Schema,
    about,
    listed,
    ref,
    thing,
)

#: The name of the file among ``weighd.data``.
FILE = "record.schema.json"
#: A name that stays, and no address: records are checked without any network.
IDENTITY = "urn:weighd:schema:record:1"

_ENVELOPE = {
    "seq": about(NUMBER, "number of the entry in the station's journal: this gives the order"),
    "station": TEXT,
    "kind": TEXT,
    "at": about(TIME, "what the station's clock showed, in UTC; body.clock tells of doubt in it"),
    "body": {"type": "object"},
    "prev": about(HASH, "hash of the journal's entry before it; zeros for the very first"),
    "hash": about(HASH, "SHA-256 of the RFC 8785 canonical JSON of all fields but this one"),
}
_HEAD = thing(
    {
        "weighd_head": {"const": SIGNING_FORMAT},
        "station": TEXT,
        "entries": NUMBER,
        "root": HASH,
        "at": TIME,
        "key": ref("key"),
        "value": ref("signed"),
    },
    about="A station's signature under its whole journal.",
)


def schema(*, closed: bool = False) -> dict[str, Any]:
    """The schema as JSON values.

    ``closed``  refuse fields that it does not tell of; what is published passes over them.
    """
    definitions = {
        **PARTS,
        **{_name(kind): _with_clock(body) for kind, body in KINDS.items()},
        "entry": _entry(),
        "signature": thing(
            {"key": ref("key"), "entries": NUMBER, "head": HASH, "value": ref("signed")},
            about="That the station's key signed the batch as far as this number of entries.",
        ),
        "proof": thing(
            {"head": _HEAD, "seq": NUMBER, "path": listed(HASH)},
            about="That the newest entry is under a head of the journal (RFC 9162).",
        ),
    }
    record = thing(
        {
            "weighd_record": about({"const": FORMAT}, "version of the export"),
            "station": TEXT,
            "batch": TEXT,
            "entries": listed(ref("entry"), 1),
        },
        {
            "checks": about(listed(ref("entry"), 1), "checks of scales that acceptances rest on"),
            "signatures": listed(ref("signature"), 1),
            "proof": ref("proof"),
        },
    )
    made = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": IDENTITY,
        "title": "As-weighed record of a batch",
        "description": "Masses are decimal strings in grams. That a record fits this schema does "
        "not say that it is true: weighd verify does.",
        **record,
        "$defs": definitions,
    }
    out = _settled(made, closed=closed)
    assert isinstance(out, dict)
    return out


def schema_text() -> str:
    """The schema as the file that ships."""
    return json.dumps(schema(), ensure_ascii=False, indent=1) + "\n"


def _entry() -> Schema:
    of_kind = [
        {
            "if": {"properties": {"kind": {"const": str(kind)}}},
            "then": {"properties": {"body": ref(_name(kind))}},
        }
        for kind in KINDS
    ]
    kinds = {"enum": [str(one) for one in KINDS]}
    return {**thing({**_ENVELOPE, "kind": kinds}), "allOf": of_kind}


def _with_clock(body: Schema) -> Schema:
    return {**body, "properties": {**body["properties"], "clock": ref("clock")}}


def _name(kind: str) -> str:
    return f"body-of-{kind.replace(' ', '-')}"


def _settled(value: Any, *, closed: bool) -> Any:
    """Objects open or closed."""
    if isinstance(value, Mapping):
        out = {key: _settled(one, closed=closed) for key, one in value.items() if one is not CLOSED}
        if closed and value.get("additionalProperties") is CLOSED:
            out["additionalProperties"] = False
        return out
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_settled(one, closed=closed) for one in value]
    return value


if __name__ == "__main__":
    print(schema_text(), end="")  # noqa: T201 -- this is how the file is made
