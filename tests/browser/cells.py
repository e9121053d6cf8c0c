"""A screen as coarse cells: small enough to keep, and told apart as an eye would.

A cell is the mean colour of 8 by 8 CSS pixels. What moves by more than a cell, is covered, fades or
is gone changes the cells it stood in by much; a letter that is smoothed otherwise changes its cells
by little. So a picture of 1920 by 1080 takes some kilobytes, and another release of a browser is no
difference.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image
from playwright.sync_api import CDPSession

#: CSS pixels a cell, each way.
CELL = 8
#: What a cell may differ by, of 255 in any channel, and how many cells may differ by more. All of
#: it drawn a third of a pixel aside came to 6 cells of 32,400; the least that a person would miss,
#: a line of near type on a phone, to 54.
TOLERANCE, STRAY = 40, 8
#: Kept colours are rounded to this, which packs them well.
STEP = 16

Size = tuple[int, int]
Cells = npt.NDArray[np.int16]


def shoot(session: CDPSession, width: int, height: int) -> Cells:
    """What is in the window now. Taken at a quarter of the size, which is quick."""
    shown = session.send(
        "Page.captureScreenshot",
        {
            "format": "png",
            "optimizeForSpeed": True,
            "clip": {"x": 0, "y": 0, "width": width, "height": height, "scale": 0.25},
        },
    )
    picture = Image.open(io.BytesIO(base64.b64decode(shown["data"]))).convert("RGB")
    return rounded(np.asarray(picture.reduce(2), dtype=np.int16))


def rounded(cells: Cells) -> Cells:
    """As they are kept."""
    steps: Cells = ((cells + STEP // 2) // STEP * STEP).clip(0, 255).astype(np.int16)
    return steps


def picture(cells: Cells, scale: int = 1) -> Image.Image:
    """Cells to be looked at."""
    it = Image.fromarray(cells.astype(np.uint8), "RGB")
    return it.resize((it.width * scale, it.height * scale), Image.Resampling.NEAREST)


@dataclass(frozen=True)
class Difference:
    """Where two pictures of a screen differ by more than smoothing does."""

    cells: int
    #: Left, top, right, bottom in CSS pixels.
    box: tuple[int, int, int, int]
    where: npt.NDArray[np.bool_]

    def __bool__(self) -> bool:
        return self.cells > STRAY


def difference(was: Cells, now: Cells) -> Difference:
    """Compare them. Another size differs everywhere."""
    if was.shape != now.shape:
        height, width = now.shape[:2]
        where = np.ones((height, width), dtype=np.bool_)
    else:
        where = np.abs(was - now).max(axis=2) > TOLERANCE
    if not where.any():
        return Difference(0, (0, 0, 0, 0), where)
    down, along = np.nonzero(where)
    box = (along.min(), down.min(), along.max() + 1, down.max() + 1)
    return Difference(int(where.sum()), tuple(int(one) * CELL for one in box), where)  # type: ignore[arg-type]


class Sprite:
    """All pictures of one screen in one file: a row a theme, its sizes side by side."""

    def __init__(self, file: Path, looks: Sequence[tuple[Size, str]]) -> None:
        self.file = file
        self._boxes: dict[tuple[Size, str], tuple[int, int, int, int]] = {}
        themes = list(dict.fromkeys(theme for _, theme in looks))
        right = top = 0
        for theme in themes:
            left = low = 0
            for size in (size for size, its in looks if its == theme):
                width, height = (-(-one // CELL) for one in size)
                self._boxes[size, theme] = (left, top, left + width, top + height)
                left, low = left + width, max(low, height)
            right, top = max(right, left), top + low
        self._extent = (right, top)
        self._sheet: Image.Image | None = None

    def get(self, size: Size, theme: str) -> Cells | None:
        """What was kept; ``None`` where nothing was."""
        if not self.file.exists():
            return None
        if self._sheet is None:
            self._sheet = Image.open(self.file).convert("RGB")
        box = self._boxes[size, theme]
        if box[2] > self._sheet.width or box[3] > self._sheet.height:
            return None
        return np.asarray(self._sheet.crop(box), dtype=np.int16)

    def put(self, size: Size, theme: str, cells: Cells) -> None:
        """Set it in; :meth:`save` writes."""
        if self._sheet is None:
            self._sheet = Image.new("RGB", self._extent)
        self._sheet.paste(picture(cells), self._boxes[size, theme][:2])

    def save(self) -> None:
        """Write all of them."""
        assert self._sheet is not None
        self.file.parent.mkdir(parents=True, exist_ok=True)
        self._sheet.save(self.file, lossless=True, quality=100, method=6)
