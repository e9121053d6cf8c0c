"""``docs/screens.md``: every picture, with a sentence of its own."""

from __future__ import annotations

from docs.tour.views import GROUPS, View, Window

HEAD = """# Every screen

Taken from the demonstration by `make pictures`, in an invented kitchen with invented people, goods
and numbers, on a day that was not. Phone, tablet and a wall's screen, light and dark, as it comes:
every screen does all of them.
"""

#: How wide a picture stands in the text.
_WIDTHS = {Window.PHONE: 300, Window.TABLET: 640, Window.WALL: 840}


def _shown(view: View) -> str:
    width = _WIDTHS[view.window]
    picture = f'<img src="pictures/{view.name}.webp" width="{width}" alt="{view.says}">'
    return f"{view.says}\n\n{picture}\n"


def written() -> str:
    """The whole page."""
    parts = [HEAD]
    for group in GROUPS:
        parts.append(f"## {group.title}\n")
        parts.extend(_shown(view) for view in group.views)
    return "\n".join(parts)
