"""What MkDocs calls while it builds: see ``hooks`` in ``mkdocs.yml``."""

from __future__ import annotations

import re
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


def on_post_page(output: str, **_: Any) -> str:
    """Give names to what the theme leaves without one, for whoever cannot see the page."""
    output = output.replace(
        'data-md-component="search" role="dialog"',
        'data-md-component="search" role="dialog" aria-label="Search"',
    )
    # A section within the navigation is no navigation of its own.
    return re.sub(
        r'(<nav class="md-nav" data-md-level="[12]") aria-labelledby="[^"]*" aria-expanded="\w*"',
        r'\1 role="none"',
        output,
    )
