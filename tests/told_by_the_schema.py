"""Every record that a test verifies is held to the JSON Schema: nothing in it may be left untold.

A plug-in of pytest, switched on in ``conftest``. The first entry of each shape is looked at.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any
from weakref import WeakKeyDictionary

import jsonschema_rs
import pytest

from weighd.domain import verify
from weighd.domain.away import AWAY
from weighd.domain.record import Entry
from weighd.domain.verify_report import Report
from weighd.reports.schema import schema


@cache
def _validator() -> Any:
    """Of one entry, with every field told of."""
    whole = schema(closed=True)
    return jsonschema_rs.Draft202012Validator({"$ref": "#/$defs/entry", "$defs": whole["$defs"]})


def _shape(value: Any) -> Any:
    """What an entry has, without its values: readings of one kind count once."""
    if isinstance(value, Mapping):
        return tuple(sorted((key, _shape(one)) for key, one in value.items()))
    if isinstance(value, list | tuple):
        return frozenset(map(_shape, value))
    return type(value).__name__


@pytest.fixture(scope="session", autouse=True)
def every_verified_entry_is_told_by_the_schema() -> Iterator[None]:
    """Wraps :meth:`Verifier.take` and :meth:`~Verifier.finish`: the entries of what verifies must
    fit the schema; of a record that does not, whatever was done to it is there to be seen."""
    seen: set[Any] = set()
    taken: WeakKeyDictionary[verify.Verifier, dict[Any, Entry]] = WeakKeyDictionary()
    take, finish = verify.Verifier.take, verify.Verifier.finish

    def noted(self: verify.Verifier, entry: Entry) -> None:
        take(self, entry)
        if entry.kind == AWAY:  # a stub is in no record that is shown
            return
        shape = (str(entry.kind), _shape(entry.body))
        if shape not in seen:
            taken.setdefault(self, {}).setdefault(shape, entry)

    def told(self: verify.Verifier) -> Report:
        report = finish(self)
        for shape, entry in taken.pop(self, {}).items():
            if shape in seen:
                continue
            seen.add(shape)
            errors = _validator().iter_errors(as_json(entry))
            wrong = [f"{'/'.join(map(str, one.instance_path))}: {one.message}" for one in errors]
            assert not wrong, f"say in weighd/reports/schema_kinds.py what it holds: {wrong}"
        return report

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(verify.Verifier, "take", noted)
        patch.setattr(verify.Verifier, "finish", told)
        yield


def as_json(entry: Entry) -> Any:
    """As an export has it: tuples and enumerations as JSON has them."""
    import json

    return json.loads(json.dumps(entry.as_json()))
