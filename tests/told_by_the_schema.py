"""Every record that a test verifies is held to the JSON Schema: nothing in it may be left untold.

A plug-in of pytest, switched on in ``conftest``. The first entry of each shape is looked at.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from weighd.domain import verify
from weighd.domain.away import AWAY
from weighd.domain.record import Entry
from weighd.reports.schema import schema


@cache
def _validator() -> Draft202012Validator:
    """Of one entry, with every field told of."""
    whole = schema(closed=True)
    return Draft202012Validator({"$ref": "#/$defs/entry", "$defs": whole["$defs"]})


def _shape(value: Any) -> Any:
    """What an entry has, without its values: readings of one kind count once."""
    if isinstance(value, Mapping):
        return tuple(sorted((key, _shape(one)) for key, one in value.items()))
    if isinstance(value, list | tuple):
        return frozenset(map(_shape, value))
    return type(value).__name__


@pytest.fixture(scope="session", autouse=True)
def every_verified_entry_is_told_by_the_schema() -> Iterator[None]:
    """Wraps :meth:`Verifier.take`: what it lets pass must fit the schema."""
    seen: set[Any] = set()
    take = verify.Verifier.take

    def told(self: verify.Verifier, entry: Entry) -> None:
        take(self, entry)
        if entry.kind == AWAY:  # a stub is in no record that is shown
            return
        shape = (str(entry.kind), _shape(entry.body))
        if shape in seen:
            return
        seen.add(shape)
        wrong = [
            f"{one.json_path}: {one.message}" for one in _validator().iter_errors(as_json(entry))
        ]
        assert not wrong, f"say in weighd/reports/schema_kinds.py what it holds: {wrong}"

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(verify.Verifier, "take", told)
        yield


def as_json(entry: Entry) -> Any:
    """As an export has it: tuples and enumerations as JSON has them."""
    import json

    return json.loads(json.dumps(entry.as_json()))
