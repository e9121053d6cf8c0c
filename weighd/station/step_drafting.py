"""Steps of a formula as somebody types them: rows for its file, and what they come to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.cautions import OF_MEANS
from weighd.domain.errors import FormulaError
from weighd.domain.heat_tables import NOTICE, HeatTable
from weighd.domain.process import KEPT, MOST_STEPS, NEEDS, USUAL_NAMES, ProcessStep, StepKind, takes
from weighd.domain.temperature import Temperature
from weighd.domain.usual_steps import SOURCE, USUAL
from weighd.station.process_picture import draw_table

#: Texts of a step; its cautions are a list.
FIELDS = ("kind", "name", "how", "with", "temperature", "time", "table")
_CAUTION = ("name", "text")


def shown(value: object) -> str:
    """A value of a file as a text to be typed over."""
    return value if isinstance(value, str) else "" if value is None else str(value)


def origins(rows: Iterable[Mapping[str, Any]], there: int) -> list[int | None]:
    """Which row of a file, of so many, each row of a draft was; none is taken twice."""
    taken = set[int]()
    out: list[int | None] = []
    for row in rows:
        was = row.get("was")
        own = was if isinstance(was, int) and 0 <= was < there and was not in taken else None
        if own is not None:
            taken.add(own)
        out.append(own)
    return out


def are_rows(steps: object) -> bool:
    """Whether what stands in a file as its steps can be shown as such, right or wrong."""
    return isinstance(steps, list) and all(isinstance(row, Mapping) for row in steps)


def step_rows(
    before: Sequence[Mapping[str, Any]], rows: Sequence[Mapping[str, Any]]
) -> tuple[list[dict[str, Any]], list[int | None]]:
    """The steps of a file as a draft wants them, and which each was of those ``before``.

    What a draft leaves as it was stays as it was written; fields that it does not know stay.
    """
    places = origins(rows, len(before))
    out = []
    for row, own in zip(rows, places, strict=True):
        held = before[own] if own is not None else {}
        made: dict[str, Any] = {}
        for key in FIELDS:
            text = str(row.get(key) or "").strip()
            if text:
                made[key] = held[key] if shown(held.get(key)).strip() == text else text
        cautions = [
            {key: str(one.get(key) or "").strip() for key in _CAUTION}
            for one in row.get("cautions") or ()
        ]
        if cautions:
            same = _cautions(held) == cautions
            made["cautions"] = held["cautions"] if same else cautions
        out.append({**made, **{k: v for k, v in held.items() if k not in (*FIELDS, "cautions")}})
    return out, places


def draw_rows(steps: object) -> list[dict[str, Any]] | None:
    """The steps of a file as a draft; ``None`` for what is no list of steps."""
    if steps is None:
        return []
    if not isinstance(steps, list) or not are_rows(steps):
        return None
    return [
        {**{key: shown(row.get(key)) for key in FIELDS}, "cautions": _cautions(row), "was": n}
        for n, row in enumerate(steps)
    ]


def _cautions(row: Mapping[str, Any]) -> list[dict[str, str]]:
    rows = row.get("cautions")
    return [
        {key: shown(one.get(key)).strip() for key in _CAUTION}
        for one in (rows if isinstance(rows, list) else ())
        if isinstance(one, Mapping)
    ]


# --- what there is to choose from -----------------------------------------------------------------


def draw_choices(tables: Mapping[str, HeatTable]) -> dict[str, Any]:
    """The kinds of steps, the published tables, what brings cautions, and steps to begin with."""
    return {
        "kinds": [
            {
                "kind": str(kind),
                "name": USUAL_NAMES[kind],
                "takes": list(takes(kind)),
                "needs": list(NEEDS.get(kind, ())),
                "keeps": kind in KEPT,
            }
            for kind in StepKind
        ],
        "tables": [_table(one) for one in tables.values()],
        "notice": NOTICE,
        "brings": {
            means: [one.content() for one in cautions] for means, cautions in OF_MEANS.items()
        },
        "usual": [
            {"id": name, "source": SOURCE, "steps": draw_rows(list(rows))}
            for name, rows in USUAL.items()
        ],
        "most": MOST_STEPS,
    }


def _table(table: HeatTable) -> dict[str, Any]:
    drawn = draw_table(table)
    cooling = table.cooling
    return {
        **drawn,
        "pairs": [
            {**told, "at_least": _degrees(pair.temperature, up=True)}
            for told, pair in zip(drawn["pairs"], table.pairs, strict=True)
        ],
        "cooling": None
        if cooling is None
        else {
            "at_most": _degrees(cooling.at_most, up=False),
            "within_s": _seconds(cooling.within_s),
            "source": cooling.source,
            "status": cooling.status,
        },
    }


# --- what steps come to ---------------------------------------------------------------------------


def draw_read(read: Sequence[ProcessStep | FormulaError]) -> dict[str, Any]:
    """What each step is, ``None`` for one that is wrong; and what is wrong, at its place."""
    wrong = [one for one in read if isinstance(one, FormulaError)]
    return {
        "steps": [None if isinstance(one, FormulaError) else _read(one) for one in read],
        "faults": [{"where": place_of(one), "message": one.message} for one in wrong],
    }


def place_of(error: FormulaError) -> str:
    """``steps[2].temperature``, without the file that there is not."""
    return error.where.rpartition(", ")[2]


def _read(step: ProcessStep) -> dict[str, Any]:
    limits = step.limits
    return {
        "kind": str(step.kind),
        "name": step.name,
        "how": step.how,
        "with": step.means,
        "keeps": step.kept,
        "at_least": _degrees(limits.at_least, up=True),
        "at_most": _degrees(limits.at_most, up=False),
        "least_s": _seconds(limits.least_s),
        "most_s": _seconds(limits.most_s),
        "table": step.table.id if step.table else None,
        "cautions": [one.content() for one in step.cautions],
    }


def _degrees(one: Temperature | None, *, up: bool) -> dict[str, str] | None:
    """As it was written, and in both units, rounded so that they allow nothing more."""
    if one is None:
        return None
    celsius = one.celsius_at_least() if up else one.celsius_at_most()
    fahrenheit = one.fahrenheit_at_least() if up else one.fahrenheit_at_most()
    return {"written": str(one), "celsius": celsius, "fahrenheit": fahrenheit}


def _seconds(one: Decimal | None) -> str | None:
    return None if one is None else mass.text(one)
