"""Hooks of schemathesis: names of what is there go into paths and bodies, keys and tags to headers.

Only into cases that keep within the bounds: what breaks one of them stays as it was drawn.
"""

from __future__ import annotations

import json
import os
import random
import urllib.request
import uuid
from contextlib import suppress
from typing import Any

import schemathesis
from schemathesis import GenerationMode

#: By the name of a parameter or a member: what there is (``world.examples``).
THERE: dict[str, list[Any]] = json.loads(os.environ.get("WEIGHD_FUZZ_THERE", "{}"))
#: Drawn apart from the cases, so that a seed gives the same cases whatever there is.
_dice = random.Random(int(os.environ.get("WEIGHD_FUZZ_SEED", "0")))
#: Members that are other things elsewhere.
_AMBIGUOUS = {"name", "key", "by", "kind"}


def known(case: Any) -> None:
    """Most paths lead somewhere, most commands have a fresh key, and most changes the newest tag:
    or everything would be refused for that alone."""
    if case.meta is not None and case.meta.generation.mode is not GenerationMode.POSITIVE:
        return
    for name in list(case.path_parameters or {}):
        if THERE.get(name) and _dice.random() < 0.8:
            case.path_parameters[name] = _dice.choice(THERE[name])
    if case.method.upper() != "GET" and _dice.random() < 0.9:
        case.headers["Idempotency-Key"] = str(uuid.UUID(int=_dice.getrandbits(128)))
    if "If-Match" in {one.name for one in case.operation.headers} and _dice.random() < 0.7:
        _tag(case)
    if isinstance(case.body, dict) and _dice.random() < 0.7:
        for name in set(case.body) & set(THERE) - _AMBIGUOUS:
            case.body[name] = _dice.choice(THERE[name])
        case.body.pop("key", None)


def _tag(case: Any) -> None:
    """The newest tag of what would be changed, where there is one."""
    path = case.operation.path
    if path.startswith("/api/ingredient"):
        path = "/api/ingredients"
    elif path.startswith("/api/limits"):
        path = "/api/limits"
    else:
        path = f"/api/formulas/{case.path_parameters.get('formula', '')}/source"
    with suppress(OSError, ValueError):
        with urllib.request.urlopen(f"{case.operation.base_url.rstrip('/')}{path}") as answer:
            case.headers["If-Match"] = answer.headers["ETag"]
        case.headers.pop("If-None-Match", None)


@schemathesis.hook
def before_call(context: Any, case: Any, kwargs: Any) -> None:
    known(case)
