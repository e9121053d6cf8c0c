"""The pages as they are built: a line ``<!-- made: NAME -->`` gives way to what the code says."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Mapping
from pathlib import Path

from docs.making import (
    codes,
    commands,
    exits,
    formulas,
    frames,
    keys,
    measured,
    recorded,
    routes,
    wire,
)

DOCS = Path(__file__).parents[1]
MADE: Mapping[str, Callable[[], str]] = {
    "codes": codes.made,
    "columns": recorded.made_of_columns,
    "commands": commands.made,
    "batch-commands": routes.made_of_commands,
    "configuration": keys.made,
    "drivers": keys.made_of_drivers,
    "entries": recorded.made,
    "environment": measured.made_of_environment,
    "events": measured.made_of_events,
    "exits": exits.made,
    "frames": frames.made,
    "frame-sections": frames.made_of_sections,
    "frame-shapes": frames.made_of_shapes,
    "wire-shapes": wire.made,
    "wire-shipped": wire.made_of_shipped,
    "floor": recorded.made_of_floor,
    "formula-files": formulas.made,
    "heat-tables": formulas.made_of_heat_tables,
    "limits": formulas.made_of_limits,
    "metrics": measured.made_of_metrics,
    "routes": routes.made,
    "sugars": formulas.made_of_sugars,
    "tables": recorded.made_of_tables,
}
_MARK = re.compile(r"^<!-- made: ([a-z-]+) -->$", re.MULTILINE)


@functools.cache
def made(name: str) -> str:
    """What stands for a name. Raises ``KeyError`` for what nothing makes."""
    return MADE[name]()


def filled(markdown: str) -> str:
    """A page's text with everything made put in. Raises ``KeyError`` for what nothing makes."""
    return _MARK.sub(lambda found: made(found[1]), markdown)


def pages() -> list[Path]:
    """Every page of the site, as it lies in the folder."""
    return sorted(DOCS.rglob("*.md"))


def read(name: str) -> str:
    """A page as it is built, by its name in the folder: ``reference/commands.md``."""
    return filled((DOCS / name).read_text("utf-8"))
