"""What a station tells the floor, as a JSON Schema (draft 2020-12); and the check of it.

It ships as ``weighd/data/floor.schema.json``; a test holds that file to what is made here, and
``python -m weighd.mqtt.schema`` prints it anew. :func:`fitting` holds a payload to it without
another library: it knows the words of JSON Schema that stand here, and no others.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any

from weighd.domain.addition import Phase
from weighd.domain.batch import Cause, Status
from weighd.domain.check_standing import Standing
from weighd.domain.metrology import Verdict
from weighd.domain.pouring import Cue
from weighd.domain.process_judge import Fault
from weighd.domain.process_run import State
from weighd.station.floor_topics import CLASH, PRESENCE, SECTIONS, VERSION
from weighd.station.outgoing import Going
from weighd.station.scale import LinkState

#: The name of the file among ``weighd.data``.
FILE = "floor.schema.json"
#: A name that stays, and no address: payloads are checked without any network.
IDENTITY = f"urn:weighd:schema:floor:{VERSION}"
#: Bytes of a payload. What is longer was not sent by a station.
LARGEST = 64 * 1024
#: How many of each a payload holds at the most.
MOST_BATCHES, MOST_SCALES, MOST_NOTICES, MOST_ALLERGENS = 20, 16, 8, 40
#: Characters of a name, of an id, and of what is told in a sentence.
NAME, WORD, SENTENCE = 200, 80, 300

Schema = dict[str, Any]

_TIME = r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$"


def _text(longest: int, about: str = "") -> Schema:
    return _told({"type": "string", "maxLength": longest}, about)


def _mass(about: str = "") -> Schema:
    return _told({"type": "string", "maxLength": 40, "pattern": r"^-?\d+(\.\d+)?$"}, about)


def _time(about: str = "") -> Schema:
    return _told({"type": "string", "maxLength": 30, "pattern": _TIME}, about)


def _count(about: str = "", most: int = 1_000_000_000) -> Schema:
    return _told({"type": "integer", "minimum": 0, "maximum": most}, about)


def _words(*words: Any, about: str = "") -> Schema:
    return _told({"enum": [str(one) for one in words]}, about)


def _maybe(schema: Schema) -> Schema:
    return {"anyOf": [{"type": "null"}, schema]}


def _listed(items: Schema, most: int) -> Schema:
    return {"type": "array", "items": items, "maxItems": most}


def _thing(must: Mapping[str, Schema], may: Mapping[str, Schema] | None = None) -> Schema:
    return {"type": "object", "properties": {**must, **(may or {})}, "required": list(must)}


def _told(schema: Schema, about: str) -> Schema:
    return {**schema, "description": about} if about else schema


_HEAD: Mapping[str, Schema] = {
    "v": {"const": VERSION},
    "station": _text(NAME, "its name as configured; in the topic it is made safe"),
    "instance": _text(WORD, "this run of the daemon: another one after each start"),
    "at": _time("when this was so"),
    "clock": _words("station", about="whose clock all times are of: the station's"),
}

_ADDITION = _thing(
    {
        "n": _count("counted from 1", 10_000),
        "name": _text(NAME, "of the ingredient"),
        "scale": _text(WORD),
        "target_g": _mass(),
        "low_g": _mass("least that is on target"),
        "high_g": _mass("most that is on target"),
        "net_g": _maybe(_mass("how much is in; null while nobody can know")),
        "phase": _words(*(one for one in Phase if one is not Phase.ACCEPTED)),
        "why": _text(WORD, "what disturbs the load, where something does"),
        "verdict": _maybe(_words(*Verdict)),
        "cue": _maybe(_words(*Cue)),
        "held": _maybe(_thing({"cause": _words(*Cause), "since": _time()})),
        "lifted": {"type": "boolean", "description": "weighed by difference, and in the hand"},
    }
)

_BATCH = _thing(
    {
        "id": _text(WORD),
        "formula": _text(NAME, "its name"),
        "batch_g": _mass(),
        "opened": _time(),
        "of": _count("how many additions it has", 10_000),
        "accepted": _count("how many of them are in", 10_000),
        "allergens": _listed(_text(WORD), MOST_ALLERGENS),
        "addition": _maybe(_ADDITION),
    },
    {"operator": _text(NAME, "only where the station was told to say names")},
)

_IN_PROCESS = _thing(
    {
        "id": _text(WORD),
        "name": _text(NAME, "of its formula"),
        "state": _words(*State),
        "step": _maybe(_count("the step that runs or comes next, counted from 1", 1000)),
        "of": _count("how many steps it has", 1000),
        "what": _text(NAME, "name of that step"),
        "begun": _maybe(_time()),
        "ready_at": _maybe(_time("it may end from then on")),
        "late_at": _maybe(_time("it is too long, or too slow, from then on")),
        "awaited": _listed(_words("temperature", "time", "done"), 3),
        "out": _listed(_words(*Fault), len(Fault)),
        "held": _maybe(_listed(_words(*Fault), len(Fault))),
        "cool_by": _maybe(_time("a heat treatment asks for it to be cold by then")),
    }
)

_SCALE = _thing(
    {
        "name": _text(WORD),
        "link": _words(*LinkState),
        "why": _text(SENTENCE, "why it is lost or silent, where that is known"),
        "check": _maybe(
            _thing(
                {
                    "standing": _words(*Standing),
                    "barred": {"type": "boolean", "description": "nothing is accepted on it"},
                    "due": _maybe(_time()),
                }
            )
        ),
    }
)

_NOTICE = _thing(
    {
        "level": _words("info", "warn", "error"),
        "code": _text(WORD),
        "text": _text(SENTENCE),
        "at": _time(),
    }
)

_BODIES: Mapping[str, Mapping[str, Schema]] = {
    PRESENCE: {
        "state": _words(
            "here",
            "away",
            "stopped",
            about="away is the last will: the broker sends it when the station is gone without a "
            "word, and its time is that of the connection",
        ),
        "version": _text(WORD),
        "began": _time("when this run began"),
        "beat_s": {
            "type": "number",
            "exclusiveMinimum": 0,
            "maximum": 3600,
            "description": "while it is here it says so every so many seconds",
        },
    },
    "batch": {
        "batch": _maybe(_BATCH),
        "last": _maybe(
            _thing(
                {
                    "id": _text(WORD),
                    "formula": _text(NAME),
                    "status": _words(*(one for one in Status if one is not Status.OPEN)),
                    "at": _maybe(_time()),
                }
            )
        ),
    },
    "steps": {
        "batches": _listed(_IN_PROCESS, MOST_BATCHES),
        "more": _count("batches in process that are not listed"),
    },
    "scales": {
        "scales": _listed(_SCALE, MOST_SCALES),
        "more": _count("scales that are not listed"),
    },
    "sharing": {
        "state": _words(*Going, about="how its record goes to the shared store"),
        "behind": _count("entries that the shared store does not have yet"),
        "since": _maybe(_time("when the oldest of them was made")),
        "code": _text(WORD, "of the last error, where the last try did not go well"),
    },
    "notices": {
        "store": _thing({"ok": {"type": "boolean"}, "code": _text(WORD)}),
        "notices": _listed(_NOTICE, MOST_NOTICES),
    },
    CLASH: {},
}

_ABOUT = {
    PRESENCE: "Whether the station is there. Retained; the last will of its connection.",
    "batch": "What is weighed now. Retained.",
    "steps": "Batches in process after weighing, with what is due when. Retained.",
    "scales": "The scales: lost, silent, checks due. Retained.",
    "sharing": "How far the shared store is behind. Retained.",
    "notices": "What the station has to tell whoever looks. Retained.",
    CLASH: "Another station of this name had to give way on the broker. Not retained.",
}


@lru_cache(1)
def schema() -> Schema:
    """The whole schema: ``$defs`` has one for each topic, and the root takes any of them."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": IDENTITY,
        "title": "What a weighing station tells the floor",
        "description": "One payload a topic: TOP/1/STATION/SECTION. Masses are decimal strings in "
        "grams, times RFC 3339 by the clock of the station. It is a view, never a record: it can "
        "be old, and whoever may write on the broker can make it up.",
        "anyOf": [{"$ref": f"#/$defs/{one}"} for one in SECTIONS],
        "$defs": {one: _told(_thing({**_HEAD, **_BODIES[one]}), _ABOUT[one]) for one in SECTIONS},
    }


def schema_text() -> str:
    """The schema as the file that ships."""
    return json.dumps(schema(), ensure_ascii=False, indent=1) + "\n"


# --- the check ------------------------------------------------------------------------------------


class UnfitError(ValueError):
    """A payload that is not of the agreed shape; says where."""


def fitting(section: str, value: Any) -> dict[str, Any]:
    """The payload of a section, less whatever the schema does not tell of.

    Raises :class:`UnfitError`.
    """
    out = _fit(schema()["$defs"][section], value, section)
    assert isinstance(out, dict)
    return out


def _fit(wanted: Schema, value: Any, where: str) -> Any:
    if "anyOf" in wanted:
        none, other = wanted["anyOf"]
        assert none == {"type": "null"}
        return None if value is None else _fit(other, value, where)
    if "const" in wanted or "enum" in wanted:
        words = wanted.get("enum", [wanted.get("const")])
        _must(any(value == one and type(value) is type(one) for one in words), where)
        return value
    return _KINDS[wanted["type"]](wanted, value, where)


def _object(wanted: Schema, value: Any, where: str) -> Any:
    _must(isinstance(value, dict), where)
    for name in wanted["required"]:
        _must(name in value, f"{where}.{name}")
    return {
        name: _fit(one, value[name], f"{where}.{name}")
        for name, one in wanted["properties"].items()
        if name in value
    }


def _array(wanted: Schema, value: Any, where: str) -> Any:
    _must(isinstance(value, list) and len(value) <= wanted["maxItems"], where)
    return [_fit(wanted["items"], one, f"{where}[{n}]") for n, one in enumerate(value)]


def _string(wanted: Schema, value: Any, where: str) -> Any:
    _must(isinstance(value, str) and len(value) <= wanted["maxLength"], where)
    if "pattern" in wanted:
        _must(re.search(wanted["pattern"], value, re.ASCII) is not None, where)
        _must(not value.endswith("\n"), where)
    return value


def _number(wanted: Schema, value: Any, where: str) -> Any:
    whole = wanted["type"] == "integer"
    _must(isinstance(value, int if whole else int | float) and not isinstance(value, bool), where)
    _must(value <= wanted["maximum"], where)
    if "minimum" in wanted:
        _must(value >= wanted["minimum"], where)
    if "exclusiveMinimum" in wanted:
        _must(value > wanted["exclusiveMinimum"], where)
    return value


def _boolean(_: Schema, value: Any, where: str) -> Any:
    _must(isinstance(value, bool), where)
    return value


_KINDS: Mapping[str, Callable[[Schema, Any, str], Any]] = {
    "object": _object,
    "array": _array,
    "string": _string,
    "integer": _number,
    "number": _number,
    "boolean": _boolean,
}


def _must(holds: bool, where: str) -> None:
    if not holds:
        raise UnfitError(f"{where} is not as agreed")
