"""Kinds of values that the sections of a configuration have."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict

#: A gram figure in a configuration above a tonne is a slip of the keyboard.
_LARGEST_G = Decimal(1_000_000)


def _grams(value: object) -> Decimal:
    """A number of TOML or its text; a float counts as what was written, not as its binary."""
    if isinstance(value, bool) or not isinstance(value, str | int | float | Decimal):
        raise ValueError('must be grams, like "0.1" or 6000')  # noqa: TRY004 -- pydantic gathers these
    if not re.fullmatch(r"\s*\d+(\.\d+)?(e-?\d{1,2})?\s*", str(value), re.ASCII):
        raise ValueError(f'"{str(value)[:40]}" is not a number of grams; write "0.1" or 6000')
    grams = Decimal(str(value).strip())
    if grams > _LARGEST_G:
        raise ValueError(f'"{str(value)[:40]}" g are more than any scale here weighs')
    return grams


def _figure(value: object) -> Decimal:
    """A number from zero of TOML or its text; a float counts as what was written."""
    if isinstance(value, bool) or not isinstance(value, str | int | float | Decimal):
        raise ValueError('must be a number, like "2.5" or 30')  # noqa: TRY004 -- pydantic gathers these
    if not re.fullmatch(r"\s*\d{1,9}(\.\d{1,9})?\s*", str(value), re.ASCII):
        raise ValueError(f'"{str(value)[:40]}" is not a number from zero; write "2.5" or 30')
    return Decimal(str(value).strip())


def as_tuple(value: object) -> object:
    """A list of TOML as the tuple that a frozen section holds."""
    return tuple(value) if isinstance(value, list) else value


def _path(value: object, what: str) -> Path:
    if not isinstance(value, str) or not value.strip() or "\0" in value:
        raise ValueError(f"must name a {what}, in quotes")
    return Path(value).expanduser()


File = Annotated[Path, BeforeValidator(lambda value: _path(value, "file"))]
Folder = Annotated[Path, BeforeValidator(lambda value: _path(value, "folder"))]
Grams = Annotated[Decimal, BeforeValidator(_grams)]
Figure = Annotated[Decimal, BeforeValidator(_figure)]


class Section(BaseModel):
    """A table of the file; frozen, and strict about kinds and keys."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)
