"""Views of the day's work: before a batch, at the board, after weighing."""

from __future__ import annotations

from typing import Any

from docs.tour.view import PHONE, TABLET, WALL, Deed, Group, View, Window


def _board(name: str, says: str, window: Window = TABLET, **more: Any) -> View:
    return View(f"board-{name}", "bench", says, ".stage", window=window, **more)


_MENU: Deed = ("press", ".bar-menu")

GROUPS: tuple[Group, ...] = (
    Group(
        "Starting",
        (
            View(
                "first",
                "first",
                "The first minutes: which scale, found and heard by the station itself.",
                "main",
                at="#/first/scale",
            ),
            View(
                "first-formula",
                "first",
                "The first formula: an example, a pasted list, or one of one's own.",
                "main",
                at="#/first/formula",
                window=PHONE,
            ),
            View("start", "bench", "Nothing is weighed yet: a formula is chosen.", ".formulas"),
            View(
                "start-formula",
                "start",
                "Before a batch: how much of it, by whom, and what will be weighed.",
                "[data-testid=needs]",
                at="#/start/hazelnut-gelato",
                window=PHONE,
            ),
            View(
                "start-dry-ice",
                "start",
                "Freezing with dry ice: what can hurt stands first, then a charge for this room.",
                "[data-testid=dry-ice]",
                at="#/start/lemon-sorbet",
                do=(
                    ("show", "[data-testid=dry-ice]"),
                    ("press", "[data-testid=dry-ice] summary"),
                    ("fill", "[data-testid=dry-ice] [name=room_m3]", "30"),
                    ("show", "[data-testid=charge]"),
                ),
            ),
        ),
    ),
    Group(
        "At the board",
        (
            _board("awaiting", "A vessel is waited for, and tared."),
            _board("ready", "Tared: the number is all that is still to pour."),
            _board("pouring", "Pouring, with far to go.", WALL),
            _board("slow", "Slow: the target is near, and the word is as high as its bar.", WALL),
            _board("stop", "Stop: what is still in the air is counted.", WALL, dark=True),
            _board("settling", "Settling: nothing is judged before the scale stands still."),
            _board("short", "Short: a bowl half full, and how much is missing.", PHONE),
            _board("on-target", "On target: a disc with a tick.", WALL),
            _board("over", "Over: held while it can still be put right.", PHONE, dark=True),
            _board("recovery", "Ways to put a pour right, the best first.", WALL),
            _board(
                "too-close",
                "Too close to call: the uncertainty reaches over a limit.",
                frame="too-close-judged",
            ),
            _board("disturbed", "Disturbed: something moved on the scale.", frame="disturbed"),
            _board("scale-lost", "The scale does not answer: nothing to pour by.", dark=True),
            _board(
                "link-lost", "The station does not answer: dashes, never an old weight.", lost=True
            ),
            _board("by-difference", "Weighed out of a container, by difference."),
            _board("two-scales", "By a plan on two scales: what the hands do next.", WALL),
            View(
                "wall",
                "wall",
                "The station on a screen on the wall: read from three metres, nothing to press.",
                ".wall",
                at="#/wall/on",
                window=WALL,
                dark=True,
            ),
            View(
                "simulation",
                "bench",
                "The demonstration's pretend hands.",
                "[data-testid=simulation]",
                do=(("press", "[data-testid=simulation] button[aria-expanded]"),),
            ),
        ),
    ),
    Group(
        "Asked at the board",
        (
            View(
                "ask-menu",
                "bench",
                "The menu: every screen.",
                ".stage",
                do=(_MENU,),
                window=PHONE,
            ),
            View(
                "ask-lot",
                "bench",
                "From which lot it is.",
                ".stage",
                do=(("press", "[data-testid=lot-button]"),),
            ),
            View(
                "ask-reason",
                "bench",
                "Why a pour is kept as it is.",
                ".stage",
                do=(("key", "k"),),
            ),
            View(
                "ask-trouble",
                "bench",
                "What the scale cannot see: the wrong ingredient, nothing left of it.",
                ".stage",
                do=(("press", "[data-do=trouble]"),),
            ),
        ),
    ),
    Group(
        "After weighing",
        (
            View(
                "done",
                "bench",
                "Weighed: what came of it, and what comes next.",
                "[data-testid=done]",
            ),
            View(
                "process",
                "process",
                "What is in process, after weighing.",
                "main",
                at="#/process",
                window=PHONE,
            ),
            View(
                "process-step",
                "process",
                "A step and its limits, with cautions that are confirmed by name.",
                "[data-testid=step-name]",
                at="#/process/{processed}",
            ),
            View(
                "process-running",
                "process",
                "A heat treatment under way: what was read, and for how long.",
                "[data-testid=timer]",
                at="#/process/{processed}",
                window=WALL,
            ),
            View(
                "process-held",
                "process",
                "Ended too early: held, and no way round it.",
                "[data-testid=held]",
                at="#/process/{processed}",
                dark=True,
            ),
            View(
                "records", "records", "Every batch that was weighed.", ".record-row", at="#/records"
            ),
            View(
                "record",
                "record",
                "A record: each addition with its evidence, as weighed beside its plan.",
                "[data-testid=record]",
                at="#/records/{recorded}",
            ),
            View(
                "labels-batch",
                "labels",
                "Labels in true millimetres.",
                "[data-testid=label-sheets]",
                at="#/labels/batch/{recorded}",
            ),
        ),
    ),
)
