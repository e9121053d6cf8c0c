"""What requests may say: checked for kind, length and characters before the station hears of it.

The record is canonical JSON and is kept for good, so text that JSON cannot carry (half a
surrogate pair), or that makes a name read as another (controls, marks that reorder text), is
refused here.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import Path, Query
from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    StringConstraints,
    WithJsonSchema,
)

from weighd.domain.errors import FormulaError, OperatorError

#: Categories of Unicode that do not belong in one line of a record.
_UNSAYABLE = frozenset({"Cc", "Cs", "Zl", "Zp"})
_REORDERING = re.compile("[\u202a-\u202e\u2066-\u2069]")
_AMOUNT = re.compile(r"(\d{1,9})(?:[.,](\d{1,6}))?", re.ASCII)
BATCH_ID = r"^[A-Za-z0-9]+(-[A-Za-z0-9]+)*$"
_ID = r"^[a-z0-9]+(-[a-z0-9]+)*(@[0-9a-f]{12})?$"


def _line(text: str) -> str:
    if _REORDERING.search(text) or any(unicodedata.category(one) in _UNSAYABLE for one in text):
        raise ValueError("It holds characters that do not belong in a line of text.")
    return text.strip()


#: What :func:`_line` lets pass, as the description tells it.
_ONE_LINE = {
    "type": "string",
    "pattern": "^[^\\u0000-\\u001f\\u007f-\\u009f\\u2028-\\u202e\\u2066-\\u2069]*$",
}
Line = Annotated[
    str,
    StringConstraints(max_length=80),
    AfterValidator(_line),
    WithJsonSchema({**_ONE_LINE, "maxLength": 80}),
]
Sentence = Annotated[
    str,
    StringConstraints(max_length=500),
    AfterValidator(_line),
    WithJsonSchema({**_ONE_LINE, "maxLength": 500}),
]
#: A number as a decimal string or a JSON number, or what else somebody may write.
Amount = str | int | float
#: An amount of grams.
Grams = Annotated[
    Amount,
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "pattern": r"^\s*[0-9]{1,9}([.,][0-9]{1,6})?\s*$|^$"},
                {"type": "number", "minimum": 0, "exclusiveMaximum": 1_000_000_000},
            ]
        }
    ),
]

Count = Annotated[int, Field(ge=1, le=10_000)]

#: No entry has a higher number: it is the last that JSON's readers agree on (RFC 8259, 6), and a
#: database has room beyond it.
LARGEST_SEQ = 2**53 - 1

BatchId = Annotated[
    str,
    Path(
        description="A batch, like kitchen-0007.",
        json_schema_extra={"pattern": BATCH_ID, "maxLength": 80},
    ),
]
ScaleName = Annotated[str, Path(description="A scale, like bench.", max_length=80)]
FormulaId = Annotated[
    str,
    Path(
        description="A formula's id: its file's name without ending; with @ and its revision one "
        "that came down from the shared store.",
        json_schema_extra={"pattern": _ID, "maxLength": 120},
    ),
]
Limit = Annotated[int, Query(ge=1, le=200, description="How many at most.")]


class Asked(BaseModel):
    """What a request says: strict about kinds and keys."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class Start(Asked):
    """A batch to be started."""

    formula: Annotated[str, StringConstraints(max_length=200)] = Field(
        description="The id of a formula."
    )
    batch_g: Grams | None = Field(None, description="Batch size in grams; the formula's own.")
    size: Sentence | None = Field(
        None,
        description='Instead of batch_g: "5 L at 30 %", "40 servings of 80 g", "cream=900 g".',
    )
    rounded: bool | None = Field(
        None, description="Move targets to the steps of the scales that judge them."
    )
    operator: Line = Field(description="Who is weighing.")
    scale: Line | None = Field(None, description="The scale to use; the first configured.")
    method: Line | None = Field(
        None,
        description='How every addition is weighed: "by difference" where the bowl cannot be '
        "weighed; as the formula says.",
    )
    plan: bool | None = Field(
        None, description="Weigh as the best plan says, on several scales if need be."
    )
    bowl_g: Grams | None = Field(None, description="For a plan: mass of the empty bowl.")
    dish_g: Grams | None = Field(None, description="For a plan: mass of the empty dish.")
    dish_holds_g: Grams | None = Field(None, description="For a plan: most that the dish takes.")
    vessel: Line | None = Field(None, description="The known vessel that is weighed into.")
    key: str | None = Field(None, description="Idempotency key, if not in the header.")


class Order(Asked):
    """A command for the batch that is being weighed, or for one in process."""

    do: Line = Field(
        description="tare, accept, top up, take out, put right, resume, weigh again, abandon or "
        "name lot: one of live.can; in process one of its can: begin step, enter temperature, "
        "strike temperature, end step, fail step, repeat step, accept step, note step, close "
        "batch; correct at any time, also once it is over, and then countersign."
    )
    addition: Annotated[int, Field(ge=1, le=10_000)] | None = Field(
        None, description="The addition it is meant for; refused when that is not the current one."
    )
    by: Line | None = Field(None, description="Who asks; the batch's operator.")
    reason: Sentence | None = Field(None, description="Why, where the verdict is not on target.")
    lot: Line | None = Field(None, description="The lot, for name lot.")
    scale: Line | None = Field(None, description="For use scale: the scale to weigh on instead.")
    confirm: bool | None = Field(
        None, description="Tare all the same, after a refusal that says what speaks against it."
    )
    vessel: Line | None = Field(None, description="For tare: the known vessel that stands there.")
    step: Count | None = Field(
        None, description="In process: the step it is meant for; refused where it is over."
    )
    temperature: Amount | None = Field(
        None, description="Measured: in °C, or as it is written: 155 °F."
    )
    held: Amount | None = Field(
        None, description="For how long nothing colder was measured up to then: 25 s."
    )
    ago: Amount | None = Field(
        None, description="How long ago it was, where it was not now: 5 min; seconds alone."
    )
    value: Count | None = Field(None, description="Which temperature to strike out, from 1.")
    confirmed: Annotated[list[Line], Field(max_length=40)] | None = Field(
        None, description="For begin step: each of its cautions, by name."
    )
    pair: Line | None = Field(None, description="For begin step: the published pair to follow.")
    from_step: Count | None = Field(
        None, description="For repeat step: go back to this one and do all from there again."
    )
    note: Sentence | None = Field(
        None, description="For note step and countersign: what to write down."
    )
    entry: Count | None = Field(
        None,
        description="For correct: the number of the entry in the batch, as /corrections has it. "
        "For countersign: that of the newest that was looked at, as /countersigned has it.",
    )
    field: Line | None = Field(
        None, description="For correct: lot, operator, reason, note or vessel of that entry."
    )
    old: Sentence | None = Field(
        None, description="For correct: what stands there now; refused where that is not so."
    )
    new: Sentence | None = Field(None, description="For correct: what stands from now on.")
    change: dict[str, Any] | None = Field(
        None, description="For put right: the change of one of the ways that recovery lists."
    )
    dry_ice: Annotated[dict[Line, Amount], Field(max_length=40)] | None = Field(
        None,
        description="For begin step with dry ice: room_m3 and the other fields of "
        "/api/formulas/ID/dry-ice; scale and tare_g where it stands on a scale until it is used.",
    )
    key: str | None = Field(None, description="Idempotency key, if not in the header.")


class KeepVessel(Asked):
    """A vessel to be known by its empty mass."""

    name: Line = Field(description="Its name.")
    scale: Line | None = Field(None, description="The scale it stands on, empty.")
    mass_g: Grams | None = Field(None, description="Its mass, where it does not stand there.")
    u_g: Grams | None = Field(None, description="What that is known to: standard uncertainty.")
    allow_g: Grams | None = Field(None, description="What it may differ by besides, wet.")
    by: Line | None = Field(None, description="Who says so.")


class Simulate(Asked):
    """Something to happen at the simulated scale."""

    do: Line = Field(
        description="pour, stop, vessel, pour out, lift, put back, bump, take, tap, zero key, "
        "weight, weight off, off, on, wait, cook, unplug or plug."
    )
    g_per_s: Grams | None = Field(None, description="How fast to pour.")
    mass_g: Grams | None = Field(None, description="The vessel's mass.")
    contents_g: Grams | None = Field(None, description="What is in it when it is set down.")
    g: Grams | None = Field(
        None, description="How much to take out or to tap off a spoon, or what a weight weighs."
    )
    minutes: Grams | None = Field(None, description="For wait: how much time passes at once.")
    working: bool | None = Field(None, description="Whether the cook works by itself.")
    speed: Grams | None = Field(None, description="How fast the cook works; 1 is usual.")


class Started(BaseModel):
    """A batch that was started, and the number of the picture that shows it."""

    batch: str
    seq: int


class Done(BaseModel):
    """A command that was met: the number of the picture, and of the entry it made."""

    seq: int
    entry: int | None


def plain(amount: Amount, *, zero: bool = False) -> str | None:
    """An amount as plain digits with a point; ``None`` for what is no amount above zero."""
    found = _AMOUNT.fullmatch(str(amount).strip())
    if found is None:
        return None
    text = f"{found[1]}.{found[2]}" if found[2] else found[1]
    return text if zero or text.strip("0.") else None


def grams(amount: Amount | None, where: str) -> str:
    """A mass for the station, empty where none is given.

    Raises :class:`OperatorError`, ``bad-vessel``.
    """
    if amount is None or amount == "":
        return ""
    text = plain(amount, zero=True)
    if text is None:
        raise OperatorError(
            "bad-vessel",
            f'"{str(amount)[:40]}" is no mass.',
            where=where,
            remedy="Give it in grams, like 812.4.",
        )
    return text


def batch_size(amount: Amount | None) -> str:
    """A batch size for the station, empty for the formula's own.

    Raises :class:`FormulaError`, ``bad-batch-size``.
    """
    if amount is None or amount == "":
        return ""
    text = plain(amount)
    if text is None:
        raise FormulaError(
            "bad-batch-size",
            f'"{str(amount)[:40]}" is not a batch size.',
            remedy="Give it in grams, like 2400.",
        )
    return text


def vessels(given: Mapping[str, Amount | None], usual: Mapping[str, str]) -> dict[str, str]:
    """Vessels for a plan, the usual ones where not given; empty for not known.

    Raises :class:`OperatorError`, ``bad-vessel``.
    """
    out = {}
    for name in ("bowl_g", "dish_g", "dish_holds_g"):
        out[name] = grams(given.get(name), name) or usual.get(name, "")
    return out


def amount(name: str, given: Amount) -> str:
    """An amount for the simulation. Raises :class:`OperatorError`, ``bad-amount``."""
    text = plain(given, zero=True)
    if text is None:
        raise OperatorError(
            "bad-amount",
            f'"{str(given)[:40]}" is not an amount.',
            where=name,
            remedy="Give a number, like 40.",
        )
    return text


def batch_id(text: str) -> str:
    """The id of a batch. Raises :class:`OperatorError`, ``unknown-batch``, for what is none."""
    if len(text) > 80 or not re.fullmatch(BATCH_ID, text, re.ASCII):
        raise unknown_batch()
    return text


def unknown_batch() -> OperatorError:
    """The answer where there is no such batch."""
    return OperatorError("unknown-batch", "There is no such batch.", remedy="See the list.")


def formula_id(text: str) -> str:
    """The id of a formula. Raises :class:`FormulaError`, ``unknown-formula``, for what is none."""
    if len(text) > 120 or not re.fullmatch(_ID, text, re.ASCII):
        raise FormulaError("unknown-formula", "There is no such formula.", remedy="See the list.")
    return text
