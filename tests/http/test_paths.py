"""What people write into an address never leads to a file: tried on every route with a name."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import quote

import pytest

from tests.dose import LONG
from tests.http.kitchen import Kitchen
from tests.http.test_roles import BODIES, everything

pytestmark = pytest.mark.anyio

SECRET = "CANARY-IN-A-FILE"
#: Spellings of a way out, as they stand in an address.
WAYS = [
    "..%2fcanary", "..%2f..%2fcanary.toml", "..%5ccanary", "%2fetc%2fpasswd", "canary%00.toml",
    "%ef%bc%8e%ef%bc%8e%2fcanary", "%2e%2e%2fcanary", "%2e%2e%5ccanary", "..%5c..%5ccanary",
    "..%252fcanary", "%00", "..", "%2e%2e", "....%2f%2fcanary", "file:%2f%2f%2fetc%2fpasswd",
    "~%2fcanary", "con", "canary.toml",
]  # fmt: skip


async def test_no_name_in_an_address_leads_to_a_file(folder: Path) -> None:
    """The kitchen's files lie in a folder; beside and above it lie some that are nobody's."""
    text = f'name = "{SECRET}"\n[ingredients]\nm = {{ name = "M" }}\n'
    for place in (folder.parent / "canary.toml", folder.parent / "canary", folder / "not.txt"):
        place.write_text(text)
    before = {one: one.read_bytes() for one in folder.parent.rglob("*") if one.is_file()}
    dist = folder.parent / "dist"
    dist.mkdir()
    (dist / "index.html").write_text("<title>page</title>")
    async with Kitchen(files=folder, dist=dist) as kitchen:
        routes = [one for one in everything(kitchen.app.routes) if "{" in one[1]]
        assert len(routes) > 40
        for method, path in routes:
            for way in WAYS if LONG else WAYS[:6]:
                head, _, rest = path.partition("{")
                at = head + way + rest.partition("}")[2].replace("{revision}", way)
                at = at.replace("{key}", way)
                json = None if method in ("GET", "DELETE") else BODIES.get(path, {})
                headers = {"Idempotency-Key": f"{method} {at}", "If-Match": '"x"'}
                answer = await kitchen.client.request(
                    method, at, json=json, headers={**headers, "If-None-Match": "*"}
                )
                assert answer.status_code < 500, (method, at, answer.text)
                assert SECRET not in answer.text, (method, at)
                assert "root:" not in answer.text, (method, at)
                disposition = answer.headers.get("content-disposition", "")
                assert "/" not in disposition and "\\" not in disposition, (method, at)
    after = {
        one: one.read_bytes()
        for one in folder.parent.rglob("*")
        if one.is_file() and dist not in one.parents
    }
    assert after == before


async def test_nor_does_one_in_a_body(larder: Kitchen, folder: Path) -> None:
    (folder.parent / "canary.toml").write_text(f'name = "{SECRET}"\n')
    for way in ("../canary", "/etc/passwd", "..\\canary", "canary\u0000", "~/canary", "."):
        for path, body in (
            ("/api/batches", {"formula": way, "operator": "Ada"}),
            ("/api/first/formula", {"of": "example", "id": way}),
            ("/api/solve", {"of": way, "targets": {}}),
            ("/api/swap", {"of": way, "old": way, "new": way}),
            ("/api/paste", {"text": "1 g sugar", "of": way}),
            ("/api/compose", {"formula": {"name": way, "additions": [{"ingredient": way}]}}),
        ):
            answer = await larder.post(path, body)
            assert answer.status_code < 500, (path, answer.text)
            assert SECRET not in answer.text, path
        put = await larder.client.put(
            f"/api/formulas/{quote(way, safe='')}",
            json={"name": "x"},
            headers={"If-None-Match": "*"},
        )
        assert put.status_code in (404, 405, 422), put.text
    assert {one.name for one in folder.parent.iterdir()} == {"canary.toml", folder.name}
