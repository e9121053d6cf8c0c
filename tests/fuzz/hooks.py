"""Hooks of schemathesis: names of what is there go into paths, keys and tags into headers."""

from __future__ import annotations

import json
import os
import random
import uuid
from typing import Any

import schemathesis

#: By the name of a parameter: what there is (see ``fuzz_http``).
THERE: dict[str, list[Any]] = json.loads(os.environ.get("WEIGHD_FUZZ_THERE", "{}"))
#: Drawn apart from the cases, so that a seed gives the same cases whatever there is.
_dice = random.Random(int(os.environ.get("WEIGHD_FUZZ_SEED", "0")))


def known(case: Any) -> None:
    """Most paths lead somewhere, most commands have a fresh key, and most changes the newest tag:
    or everything would be refused for that alone."""
    for name in list(case.path_parameters or {}):
        if THERE.get(name) and _dice.random() < 0.8:
            case.path_parameters[name] = _dice.choice(THERE[name])
    if case.method.upper() != "GET" and _dice.random() < 0.9:
        case.headers["Idempotency-Key"] = str(uuid.UUID(int=_dice.getrandbits(128)))
    if isinstance(case.body, dict) and _dice.random() < 0.7:
        for name in set(case.body) & set(THERE) - {"name", "key", "by", "kind"}:
            case.body[name] = _dice.choice(THERE[name])
        case.body.pop("key", None)


@schemathesis.hook
def before_call(context: Any, case: Any, kwargs: Any) -> None:
    known(case)
