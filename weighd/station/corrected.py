"""What people wrote in a batch, and what was put right of it: as JSON values, and in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any

from weighd.domain.batch import Batch
from weighd.domain.corrections import corrections_of


def draw_written(batch: Batch) -> dict[str, Any]:
    """``written``: what can be put right, entry by entry, as it stands; ``corrections``: what was,
    oldest first, each with the entry that it is about."""
    names = {one.ingredient: one.name for one in batch.additions}
    written = [(one, next((it for it in one.drew.values()), None)) for one in batch.written]
    return {
        "batch": batch.id,
        "written": [
            {
                "entry": one.n,
                "kind": one.kind,
                "at": one.at,
                "addition": drew.addition if drew else None,
                "ingredient": drew.ingredient if drew else "",
                "name": names.get(drew.ingredient, drew.ingredient) if drew else "",
                "fields": dict(one.fields),
            }
            for one, drew in written
        ],
        "corrections": [
            {"entry": one.n, "kind": one.kind, **asdict(it)}
            for one, it in corrections_of(batch.written)
        ],
    }


def tell_written(drawn: Mapping[str, Any]) -> Iterator[str]:
    """The same for people."""
    yield "What can be put right, by entry and field:" if drawn["written"] else "Nothing there."
    for one in drawn["written"]:
        about = f", addition {one['addition']} ({one['ingredient']})" if one["addition"] else ""
        said = "; ".join(f"{name}: {text or '(none)'}" for name, text in one["fields"].items())
        yield f"  {one['entry']:>3}  {one['kind']}{about}: {said}"
    if drawn["corrections"]:
        yield ""
        yield "What was put right:"
    for one in drawn["corrections"]:
        although = f" ({one['although']})" if one["although"] else ""
        yield (
            f"  {one['at']}  entry {one['entry']}, {one['field']}: {one['old'] or '(none)'} -> "
            f"{one['new'] or '(none)'}{although}. {one['by']}: {one['reason']}"
        )
