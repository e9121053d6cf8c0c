"""What MkDocs calls while it builds: see ``hooks`` in ``mkdocs.yml``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

# MkDocs loads this file by its path: the project's own packages are found from its root.
ROOT = Path(__file__).parents[2]
for folder in (ROOT, ROOT / "drivers", ROOT / "web"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))


def on_page_markdown(markdown: str, **_: Any) -> str:
    """Put in what is made from the code."""
    from docs.making.pages import filled

    return filled(markdown)
