"""``python -m docs.tour.pictures``: the pictures of ``docs``, from what the demonstration told."""

from __future__ import annotations

import io
import sys
from pathlib import Path

from PIL import Image

from docs.tour.page import written
from docs.tour.views import VIEWS
from tests.browser.looked import looking

DOCS = Path(__file__).resolve().parents[1]
PICTURES = DOCS / "pictures"
#: A picture is no wider and has no more colours: drawn ones are smaller so than as photographs.
WIDEST, COLOURS = 1280, 96


def small(shot: bytes) -> Image.Image:
    """A screenshot as it is kept."""
    picture = Image.open(io.BytesIO(shot)).convert("RGB")
    if picture.width > WIDEST:
        height = round(picture.height * WIDEST / picture.width)
        picture = picture.resize((WIDEST, height), Image.Resampling.LANCZOS)
    few = picture.quantize(COLOURS, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    return few.convert("RGB")


def main(names: list[str]) -> None:
    """Take these, or all."""
    PICTURES.mkdir(exist_ok=True)
    with looking() as looker:
        for name in names or VIEWS:
            view = VIEWS[name]
            looker.go(view)
            looker.still(view.window.value, "dark" if view.dark else "light")
            picture = small(looker.page.screenshot(animations="disabled", caret="hide"))
            picture.save(PICTURES / f"{name}.webp", lossless=True, quality=60, method=4)
            print(name, flush=True)
    (DOCS / "screens.md").write_text(written(), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
