"""A mix that was worked out, as the commands that work one out print it."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from weighd.station.composing import Composed


def print_mix(
    drawn: dict[str, Any],
    told: Iterable[str],
    one: Composed,
    saved: Path | None,
    *,
    as_text: bool,
) -> None:
    """Print ``told`` with what the figures rest on, or ``drawn`` with the composition."""
    from weighd.station.composing import draw_composition
    from weighd.station.solving_words import notes

    if not as_text:
        whole = {**drawn, "composition": draw_composition(one)}
        print(json.dumps(whole, indent=2, ensure_ascii=False))
        return
    for line in (*told, "", *notes(one)):
        print(line)
    if saved is not None:
        print(f"\nThe formula is in {saved}.")
