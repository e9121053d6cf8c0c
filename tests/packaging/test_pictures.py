"""The pictures of the README and of ``docs``: one a view, none too many, none too large."""

from __future__ import annotations

import re
from pathlib import Path

from PIL import Image

from docs.tour.page import written
from docs.tour.views import VIEWS

ROOT = Path(__file__).parents[2]
PICTURES = ROOT / "docs" / "pictures"
#: Bytes: one of them, and all.
LARGEST, MOST = 150_000, 3_000_000


def test_every_view_has_its_picture_and_every_picture_is_shown() -> None:
    files = {one.stem: one for one in PICTURES.iterdir()}
    assert set(files) == set(VIEWS)
    sizes = {name: file.stat().st_size for name, file in files.items()}
    assert {name for name, size in sizes.items() if size > LARGEST} == set()
    assert sum(sizes.values()) < MOST
    for name, file in files.items():
        with Image.open(file) as picture:
            wide, high = VIEWS[name].window.value
            assert picture.format == "WEBP"
            assert abs(picture.width / picture.height - wide / high) < 0.01, name
            assert picture.convert("L").getextrema() != (0, 0)


def test_the_page_of_pictures_is_written_from_the_list() -> None:
    assert (ROOT / "docs" / "screens.md").read_text("utf-8") == written()


def test_the_readme_shows_some_near_its_top_and_all_its_pictures_are_there() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    shown = re.findall(r'<img src="(docs/pictures/[a-z-]+\.webp)"[^>]* alt="([^"]+)"', text)
    assert len(shown) >= 3
    assert all((ROOT / path).is_file() and len(said) > 20 for path, said in shown)
    assert text.index(shown[0][0]) < 3000
    assert "docs/screens.md" in text
