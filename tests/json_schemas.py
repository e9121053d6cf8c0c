"""The library that holds something to a JSON Schema, brought in where that is done: its formats
take a process more than a second to load, and every worker reads every file of tests."""

from __future__ import annotations

from typing import Any


def held_to(schema: Any, *, formats: bool = False) -> Any:
    """A validator of draft 2020-12; ``formats``: of dates and the like, too."""
    from jsonschema import Draft202012Validator, FormatChecker

    return Draft202012Validator(schema, format_checker=FormatChecker() if formats else None)


def check_schema(schema: Any) -> None:
    """Raise where it is no schema of draft 2020-12."""
    from jsonschema import Draft202012Validator

    Draft202012Validator.check_schema(schema)
