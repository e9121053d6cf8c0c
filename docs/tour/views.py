"""Every screen of the page and the states it can stand in: what is looked at, tested and shown.

One list for three things: the pictures in ``docs`` (taken by :mod:`docs.tour.chapters` from the
demonstration), the answers that were given meanwhile (kept in ``fixtures/screens.json``), and the
snapshots of ``tests/browser/test_looks.py``. A screen without a view fails a test there.
"""

from __future__ import annotations

from docs.tour import board_views, desk_views
from docs.tour.view import Group, View, Window

__all__ = ["GROUPS", "VIEWS", "Group", "View", "Window"]

GROUPS: tuple[Group, ...] = (*board_views.GROUPS, *desk_views.GROUPS)
VIEWS: dict[str, View] = {one.name: one for group in GROUPS for one in group.views}
