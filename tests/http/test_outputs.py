"""The record sheet, the table and the schema over HTTP."""

from __future__ import annotations

import csv
import io

import pytest
from pypdf import PdfReader

from tests.http.kitchen import Kitchen
from tests.json_schemas import held_to

pytestmark = pytest.mark.anyio


async def test_a_sheet_of_a_batch_that_is_still_weighed(kitchen: Kitchen) -> None:
    await kitchen.start()
    answer = await kitchen.get("/api/batches/kitchen-0001/sheet.pdf")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    assert "content-disposition" not in answer.headers
    text = PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()
    assert "still being weighed" in text
    assert "Test ice" in text
    saved = await kitchen.get("/api/batches/kitchen-0001/sheet.pdf?download=1")
    assert saved.headers["content-disposition"] == 'attachment; filename="kitchen-0001.pdf"'
    assert saved.content == answer.content


async def test_a_table_and_the_schema(kitchen: Kitchen) -> None:
    await kitchen.start()
    answer = await kitchen.get("/api/batches/kitchen-0001/weighings.csv")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    assert answer.headers["content-disposition"] == 'attachment; filename="kitchen-0001.csv"'
    header = next(csv.reader(io.StringIO(answer.text, newline="")))
    assert header[:2] == ["station", "batch"]
    schema = await kitchen.get("/api/schema/record.json")
    assert schema.headers["content-type"] == "application/schema+json"
    record = await kitchen.get("/api/batches/kitchen-0001/record")
    assert not list(held_to(schema.json()).iter_errors(record.json()))


@pytest.mark.parametrize("what", ["sheet.pdf", "weighings.csv"])
async def test_a_batch_that_is_not_there(kitchen: Kitchen, what: str) -> None:
    for batch in ("kitchen-0099", "no%20batch", "x" * 300):
        answer = await kitchen.get(f"/api/batches/{batch}/{what}")
        assert answer.status_code in (404, 422)
        assert answer.headers["content-type"] == "application/problem+json"
