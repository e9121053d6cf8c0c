"""A recall sheet: as PDF/A to work through and sign, and as CSV."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from weighd.reports.columns import heads
from weighd.reports.csv_table import lines_of
from weighd.reports.printable import printables
from weighd.reports.sheet_shapes import SHAPES
from weighd.reports.sheet_words import kilograms, unsure
from weighd.reports.typeset import Template

SHEET = Template("recall.typ", "The sheet", "As CSV and as JSON all of it can be written.")
#: In this order; new ones are added at the end. ``direction``: lot, in (a batch it is in), of (what
#: it was made of). Masses in grams of the lot asked about, but for ``all_g``, all that is there.
COLUMNS = heads(
    "direction #depth code name ingredient g all_g ~percent through made operator status passed_g"
    " in_stock_g wasted_g out_g supplier supplier_lot corrected"
)


def recall_csv(told: Mapping[str, Any]) -> Iterator[str]:
    """A recall (:func:`weighd.station.recalling.draw_recall`) as lines of CSV with their ends."""
    return lines_of(COLUMNS, _rows(told))


def recall_pdf(told: Mapping[str, Any]) -> bytes:
    """The sheet. Raises :class:`OperatorError`, ``cannot-typeset``."""
    return _set(told, "pdf")[0]


def recall_png(told: Mapping[str, Any], ppi: float = 144) -> list[bytes]:
    """Its pages as pictures. Raises as :func:`recall_pdf` does."""
    return _set(told, "png", ppi)


def _rows(told: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    lot = told["known"] or {}
    yield {
        "direction": "lot",
        "depth": 0,
        "code": told["lot"],
        "name": told["name"],
        "ingredient": lot.get("ingredient"),
        "g": lot.get("quantity_g"),
        "all_g": lot.get("quantity_g"),
        "in_stock_g": lot.get("left_g"),
        "wasted_g": lot.get("wasted_g"),
        "supplier": lot.get("supplier"),
        "supplier_lot": lot.get("supplier_lot"),
    }
    for one in told["forward"]:
        by = ", ".join(f"{it['lot']} {it['g']} g" for it in one["through"])
        own = ("depth", "name", "g", "percent", "made", "operator", "status")
        places = ("passed_g", "in_stock_g", "wasted_g", "out_g")
        yield {
            "direction": "in",
            "code": one["batch"],
            "all_g": one["batch_g"],
            "through": by,
            **{name: one[name] for name in (*own, *places)},
            "corrected": "yes" if one["corrected"] else None,
        }
    for one in told["back"]:
        yield {
            "direction": "of",
            "code": one["lot"],
            **{name: one[name] for name in ("depth", "name", "ingredient", "g")},
            **{name: one[name] for name in ("supplier", "supplier_lot")},
            "corrected": "yes" if one["corrected"] else None,
        }


def _set(told: Mapping[str, Any], form: str, ppi: float | None = None) -> list[bytes]:
    data = _sheet(told)
    shapes = json.dumps(SHAPES)
    return SHEET.pages(
        lambda plain: {"recall": json.dumps(printables(data, plain=plain)), "shapes": shapes},
        str(told["lot"]),
        form,
        ppi,
    )


def _sheet(told: Mapping[str, Any]) -> dict[str, Any]:
    lot = told["known"] or {}
    facts = {
        "Lot": told["lot"],
        "Supplier": lot.get("supplier", ""),
        "Lot on the pack": lot.get("supplier_lot", ""),
        "Received": " ".join(
            one for one in (lot.get("received", "")[:10], lot.get("by", "")) if one
        ),
        "Quantity": kilograms(lot.get("quantity_g", "")),
        "Use by": lot.get("use_by", ""),
        "Made in batch": lot.get("made_in", ""),
        "Document": lot.get("document", ""),
        "Still in stock": kilograms(lot.get("left_g", "")),
        "Stations looked at": ", ".join(told.get("stations", ())),
    }
    deep = max((one["depth"] for one in told["forward"]), default=0)
    return {
        "lot": told["lot"],
        "name": told["name"] or "(not received here)",
        "drill": told["drill"],
        "blocked": lot.get("blocked", ""),
        "day": told["day"],
        "date": [int(one) for one in told["day"].split("-")],
        "facts": [[name, value] for name, value in facts.items() if value],
        "found": f"{len(told['forward'])} batches, {deep} deep, found in {told['took_ms']} ms",
        "forward": [_forward(one) for one in told["forward"]],
        "back": [
            [
                one["lot"] or "no lot named",
                one["name"],
                one["g"],
                ", ".join(it for it in (one["supplier"], one["supplier_lot"]) if it)
                or ("made here" if one["made"] else ""),
                str(one["depth"]),
            ]
            for one in told["back"]
        ],
        "sums": told["sums"],
        "balance": _balance(told["balance"]),
        "tell": [[one["who"], one["why"], one["of"]] for one in told["tell"]],
        "out": [
            [one["batch"], one["name"], one["out_g"]]
            for one in told["forward"]
            if Decimal(one["out_g"]) > 0
        ],
        "said": [
            *(f"Leads back to itself: {one}. A code was mistyped." for one in told["circles"]),
            *([told["said"]] if told.get("said") else []),
        ],
    }


def _forward(one: Mapping[str, Any]) -> dict[str, Any]:
    by = ", ".join(f"{it['lot']} ({it['g']} g)" for it in one["through"])
    details = [one["made"], one["operator"], one["status"]]
    details += [f"by way of {by}"] if one["depth"] > 1 else []
    details += ["another lot was named first"] if one["corrected"] else []
    return {
        **{name: one[name] for name in ("batch", "name", "g", "batch_g", "percent")},
        **{name: one[name] for name in ("passed_g", "in_stock_g", "wasted_g", "out_g")},
        "depth": one["depth"],
        "details": [it for it in details if it],
    }


def _balance(told: Mapping[str, Any] | None) -> dict[str, Any] | None:
    if told is None:
        return None
    missing = told["difference_g"]
    doubt = unsure(f"{(2 * Decimal(told['u_used_g'])).normalize():f}")
    if missing is None:
        verdict, shape = (
            "Nobody counted what is left, so that no difference can show. Count it.",
            "",
        )
    elif told["adds_up"]:
        verdict = f"It adds up: {missing} g unaccounted for, known to \u00b1{doubt} g (2 u)."
        shape = "good"
    else:
        verdict = (
            f"It does not add up: {missing} g unaccounted for, known to \u00b1{doubt} g (2 u)."
        )
        shape = "fail"
    rows = [
        ["Received", told["received_g"]],
        ["Used in batches", told["used_g"]],
        ["Thrown away", told["wasted_g"]],
        ["Left, by the books", told["left_g"]],
        ["Unaccounted for", "not known" if missing is None else missing],
    ]
    return {"rows": rows, "verdict": verdict, "shape": shape}
