"""``python -m docs.tour``: drive the demonstration through all views, and keep what it told.

``python -m docs.tour.pictures`` then takes the pictures.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from docs.tour import chapters
from docs.tour.camera import Camera, keep
from docs.tour.chapters import Tour
from docs.tour.station import Demo
from docs.tour.views import VIEWS

TOLD = Path(__file__).resolve().parents[2] / "fixtures" / "screens.json"
#: Days between the parts of the tour, so that no clock goes back.
LATER = 9
CHAPTERS = (
    *(chapters.stores, chapters.days, chapters.gelato, chapters.afterwards, chapters.desk),
    *(chapters.check, chapters.floor, chapters.seldom),
)


def main() -> None:
    """See them all."""
    with sync_playwright() as play, tempfile.TemporaryDirectory() as folder:
        browser = play.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        camera = Camera(browser)
        missed: list[str] = []

        def toured(demo: Demo, *parts: chapters.Chapter) -> None:
            try:
                demo.start()
                tour = Tour(demo, camera)
                for chapter in parts:
                    print(chapter.__name__, flush=True)
                    chapter(tour)
                missed.extend(tour.missed)
            finally:
                demo.stop()

        one, two = Path(folder) / "one", Path(folder) / "two"
        for place in (one, two):
            place.mkdir()
        toured(Demo(one), *CHAPTERS)
        chapters.list_people(one)
        toured(Demo(one, day=LATER), chapters.people)
        toured(Demo(two, two=True), chapters.two_scales)
        browser.close()
    keep(camera.told, TOLD)
    unseen = sorted(set(VIEWS) - set(camera.told))
    if missed or unseen:
        sys.exit("\n".join([*missed, f"not seen: {', '.join(unseen)}"]))


if __name__ == "__main__":
    main()
