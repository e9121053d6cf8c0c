"""Labels over HTTP: what stands on them, as PDF, and what is refused."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from tests.http.kitchen import Kitchen

pytestmark = pytest.mark.anyio


async def received(kitchen: Kitchen) -> None:
    answer = await kitchen.post(
        "/api/lots",
        {
            "ingredient": "milk",
            "quantity_g": "2 kg",
            "lot": "R-1",
            "supplier": "Dairy",
            "by": "Ada",
        },
    )
    assert answer.status_code == 201, answer.text


async def test_labels_of_goods_received(kitchen: Kitchen) -> None:
    await received(kitchen)
    told = (await kitchen.get("/api/lots/R-1/labels?copies=2")).json()
    assert told["sizes"] == ["62x40", "100x62", "70x37 on 210x297"]
    assert told["mm"] == {"wide": "62", "high": "40"}
    assert [one["nth"] for one in told["labels"]] == [[1, 2], [2, 2]]
    one = told["labels"][0]
    assert (one["code"], one["scanned"], one["station"]) == ("R-1", "R-1", "")
    assert one["path"].startswith("M0 0h1v1h-1z")
    assert one["modules"] == 21  # version 1 (ISO/IEC 18004)
    made = await kitchen.get("/api/lots/R-1/labels?copies=2&format=pdf&size=100x62")
    assert made.headers["content-type"] == "application/pdf"
    assert made.headers["content-disposition"] == 'attachment; filename="labels-R-1.pdf"'
    pages = PdfReader(io.BytesIO(made.content)).pages
    assert len(pages) == 2
    assert "Dairy" in pages[0].extract_text()
    # Read back by the station's scanner, the code names the lot.
    scan = await kitchen.post("/api/scan", {"text": one["scanned"]})
    assert (scan.json()["is"], scan.json()["lot"]) == ("lot", "R-1")


async def test_what_cannot_be_is_told(kitchen: Kitchen) -> None:
    await received(kitchen)
    await kitchen.start()
    for path, status, code in (
        ("/api/lots/R-2/labels", 404, "unknown-lot"),
        ("/api/lots/R-1/labels?size=5x5", 422, "bad-labels"),
        ("/api/lots/R-1/labels?size=20x15&format=pdf", 422, "label-too-small"),
        ("/api/lots/R-1/labels?copies=0", 422, "invalid-request"),
        ("/api/batches/kitchen-0001/labels", 409, "not-made"),
        ("/api/batches/kitchen-0001/labels?of=cups", 422, "invalid-request"),
        ("/api/batches/kitchen-0099/labels", 404, "unknown-batch"),
    ):
        answer = await kitchen.get(path)
        assert (answer.status_code, answer.json()["code"]) == (status, code), path
