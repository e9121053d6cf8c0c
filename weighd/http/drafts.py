"""Drafts as requests give them, and the tags that changes are made under.

Checked here is only what a reader of files cannot: kinds, lengths, characters that no file can
hold. Everything else is said by the reader, which names the field.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated, Any

from fastapi import Header
from pydantic import AfterValidator, Field, StringConstraints
from starlette.responses import JSONResponse

from weighd.domain.errors import OperatorError
from weighd.domain.formula_kept import Found
from weighd.http.ports import Pantry, Room
from weighd.http.shapes import Asked
from weighd.station.drafting import NO_FILE

_TAG = re.compile(r'(?:W/)?"?([0-9a-z]{1,64})"?')


def _encodable(text: str) -> str:
    if any("\ud800" <= one <= "\udfff" for one in text):
        raise ValueError("It holds half a character, which no file can hold.")
    return text


Text = Annotated[str, StringConstraints(max_length=2000), AfterValidator(_encodable)]
#: The reader of files says where it is too long.
Long = Annotated[str, StringConstraints(max_length=10_000), AfterValidator(_encodable)]
Key = Annotated[str, StringConstraints(max_length=80), AfterValidator(_encodable)]
IfMatch = Annotated[str | None, Header(alias="If-Match", description="The tag of what was read.")]
IfNoneMatch = Annotated[
    str | None, Header(alias="If-None-Match", description="*, to make something new.")
]


class Rule(Asked):
    """What may stand in for an ingredient."""

    ingredient: Text = Field(description="An ingredient's id.")
    ratio: Text = Field(description="Grams of it for each gram of this one.")
    note: Text = ""
    source: Text = Field("", description="Where the ratio is from.")


class IngredientDraft(Asked):
    """An ingredient as typed: numbers are texts, and what is empty is missing."""

    name: Text = ""
    allergens: list[Text] = Field(default_factory=list)
    caution: Text = ""
    composition: dict[Key, Text | dict[Key, Text]] = Field(
        default_factory=dict, description="Grams in 100 g, by part; sugars by kind."
    )
    density_g_ml: Text = ""
    cost_per_kg: Text = ""
    supplier_code: Text = ""
    shelf_life_days: Text = ""
    shelf_life_opened_days: Text = ""
    source: Text = ""
    instead: list[Rule] = Field(default_factory=list)


class AdditionDraft(Asked):
    """An addition as typed."""

    ingredient: Text = ""
    target: Text = Field("", description='An amount with its unit, like "410 g".')
    tolerance: Text = Field("", description='Like "2 g" or "1 %, at least 0.3 g".')
    method: Text = ""
    carrier: Text = ""
    was: int | None = Field(None, description="Which addition of the file it was, from 0.")


class CautionDraft(Asked):
    """A caution of a step as typed."""

    name: Text = Field("", description="What is confirmed before the step begins.")
    text: Text = ""


class StepDraft(Asked):
    """A step as typed."""

    kind: Text = ""
    name: Text = ""
    how: Long = ""
    means: Text = Field("", alias="with", description='What it is done with, like "dry ice".')
    temperature: Text = Field("", description='Like "at most 4 °C" or "2 to 4 °C".')
    time: Text = Field("", description='Like "within 90 min" or "4 h to 24 h".')
    table: Text = Field("", description="The published table that a heat treatment follows.")
    cautions: list[CautionDraft] = Field(default_factory=list)
    was: int | None = Field(None, description="Which step of the file it was, from 0.")


class Steps(Asked):
    """Steps to be read, not kept."""

    steps: list[StepDraft] = Field(max_length=400)


class FormulaDraft(Asked):
    """A formula as typed."""

    name: Text = ""
    note: Text = ""
    kind: Text = ""
    cautions: list[Text] = Field(default_factory=list)
    like: Key = Field(
        "",
        description="For a new one: the formula that it is a copy of, whose other keys it takes.",
    )
    additions: list[AdditionDraft] = Field(default_factory=list)
    steps: list[StepDraft] | None = Field(
        None, description="What is done after weighing; null or missing: as the file has it."
    )


class Compose(Asked):
    """A draft to be composed, not kept."""

    formula: FormulaDraft
    of: Key = Field("", description="The formula that it is a change of; empty for a new one.")
    batch_g: Text = Field("", description="Batch size in grams; the draft's own.")
    overrun: Text = Field("", description="Air in percent of the mix's volume.")
    kind: Text = Field("", description="Whose limits; the draft's own kind.")


class List(Asked):
    """A list of ingredients as people write it."""

    text: Annotated[str, StringConstraints(max_length=25_000), AfterValidator(_encodable)] = Field(
        description='An ingredient to a line, like "820 g buttermilk".'
    )
    of: Key = Field("", description="The formula that it goes into; empty for a new one.")
    said: dict[Text, Key] = Field(
        default_factory=dict,
        max_length=400,
        description="Ingredients by the names of lines that somebody chose them for.",
    )


class LimitDraft(Asked):
    """A limit as typed."""

    of: list[Key] = Field(description="Quantities, added where they are several.")
    min: Text = ""
    max: Text = ""
    source: Text = ""


class ClassDraft(Asked):
    """A class of product as typed."""

    name: Text = ""
    limits: list[LimitDraft] = Field(default_factory=list)


class Table(Asked):
    """A table of ingredients in CSV."""

    csv: Annotated[str, StringConstraints(max_length=450_000), AfterValidator(_encodable)]
    replace: bool = Field(
        default=False, description="Whether ingredients that are there are written over."
    )


def pantry_of(room: Room) -> Pantry:
    """The files of the kitchen. Raises :class:`OperatorError` where there are none to change."""
    if room.pantry is None:
        raise OperatorError("no-pantry", "This station has no files that could be changed.")
    return room.pantry


@contextmanager
def keeping(room: Room, how: Found) -> Iterator[None]:
    """What formulas are before a change of theirs is kept, and what they are after it, with whose
    change it was. Asked as the shelf is."""
    if room.revisions is None:
        yield
        return
    room.shelf.all()
    yield
    with room.revisions.said(how, room.caller.by):
        room.shelf.all()


def tag_given(if_match: str | None, if_none_match: str | None = None) -> str:
    """The tag that a change was made from; that of no file for something new.

    Raises :class:`OperatorError`, ``no-tag``.
    """
    if if_none_match is not None and if_none_match.strip() == "*" and if_match is None:
        return NO_FILE
    found = _TAG.fullmatch((if_match or "").strip())
    if found is None:
        raise OperatorError(
            "no-tag",
            "The change does not say what it was made from.",
            where="If-Match",
            remedy="Read it first, and send its ETag in If-Match; If-None-Match: * for a new one.",
        )
    return found[1]


def tagged(body: dict[str, Any], tag: str) -> JSONResponse:
    """An answer with the tag of what it tells of, as ETag and for pages."""
    return JSONResponse({**body, "tag": tag}, headers={"ETag": f'"{tag}"'})
