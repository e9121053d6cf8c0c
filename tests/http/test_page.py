"""The page is served as built, whatever a path is spelt like; without it, a word on building."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.http.kitchen import Kitchen
from weighd.http.page import Page

pytestmark = pytest.mark.anyio


@pytest.fixture
def dist(tmp_path: Path) -> Path:
    built = tmp_path / "dist"
    (built / "assets").mkdir(parents=True)
    (built / "index.html").write_text("<!doctype html><title>page</title>", encoding="utf-8")
    (built / "icon.svg").write_text("<svg/>", encoding="utf-8")
    (built / "THIRD-PARTY.txt").write_text("none", encoding="utf-8")
    (built / "odd.bin").write_bytes(b"\x00\x01")
    (built / "assets" / "index-bnnDCkHa.js").write_text("export {}", encoding="utf-8")
    (built / "assets" / "index-B8vrQCu9.css").write_text("a{}", encoding="utf-8")
    (built / "assets" / "plain.js").write_text("1", encoding="utf-8")
    (tmp_path / "secret.txt").write_text("secret", encoding="utf-8")
    return built


FILES = [
    ("/", "text/html; charset=utf-8", "no-cache"),
    ("/index.html", "text/html; charset=utf-8", "no-cache"),
    ("/icon.svg", "image/svg+xml", "no-cache"),
    ("/THIRD-PARTY.txt", "text/plain; charset=utf-8", "no-cache"),
    ("/odd.bin", "application/octet-stream", "no-cache"),
    ("/assets/plain.js", "text/javascript; charset=utf-8", "no-cache"),
    ("/assets/index-bnnDCkHa.js", "text/javascript; charset=utf-8", "immutable"),
    ("/assets/index-B8vrQCu9.css", "text/css; charset=utf-8", "immutable"),
]


@pytest.mark.parametrize(("path", "kind", "kept"), FILES)
async def test_files_of_the_page(dist: Path, path: str, kind: str, kept: str) -> None:
    async with Kitchen(dist=dist) as kitchen:
        answer = await kitchen.get(path)
        assert answer.status_code == 200
        assert answer.headers["content-type"] == kind
        assert kept in answer.headers["cache-control"]
        assert "default-src 'self'" in answer.headers["content-security-policy"]
        head = await kitchen.client.head(path)
        assert (head.status_code, head.content) == (200, b"")
        assert head.headers["content-length"] == str(len(answer.content))
        again = await kitchen.get(path, **{"If-None-Match": answer.headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")


OUTSIDE = [
    "/../secret.txt",
    "/%2e%2e/secret.txt",
    "/..%2fsecret.txt",
    "/assets/../../secret.txt",
    "/assets/%2e%2e/%2e%2e/secret.txt",
    "/assets/..%2f..%2fsecret.txt",
    "/assets/..%5c..%5csecret.txt",
    "/assets/%00",
    "/assets//index-bnnDCkHa.js",
    "/assets/./plain.js",
    "/assets/",
    "/assets",
    "/secret.txt",
    "/.",
]


@pytest.mark.parametrize("path", OUTSIDE)
async def test_no_spelling_of_a_path_leads_out(dist: Path, path: str) -> None:
    async with Kitchen(dist=dist) as kitchen:
        # httpx would tidy the path up; this is what arrives at the application.
        from urllib.parse import unquote

        sent: list[dict[str, object]] = []
        scope = {
            "type": "http",
            "method": "GET",
            "path": unquote(path),
            "raw_path": path.encode(),
            "root_path": "",
            "query_string": b"",
            "headers": [(b"host", b"localhost")],
            "http_version": "1.1",
            "scheme": "http",
        }

        async def receive() -> dict[str, object]:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: dict[str, object]) -> None:
            sent.append(message)

        await kitchen.app(scope, receive, send)  # type: ignore[arg-type]
        assert sent[0]["status"] == 404
        assert b"secret" not in bytes(sent[1]["body"])  # type: ignore[call-overload]


def test_a_path_is_looked_up_name_by_name(dist: Path) -> None:
    page = Page(dist)
    assert page.read("assets/plain.js") == b"1"
    for outside in ("../secret.txt", str(dist.parent / "secret.txt"), "assets/../icon.svg", ""):
        assert page.read(outside) is None


async def test_without_a_built_page_it_says_how_to_build_one(tmp_path: Path) -> None:
    for dist in (None, tmp_path, tmp_path / "nowhere"):
        async with Kitchen(dist=dist) as kitchen:
            answer = await kitchen.get("/")
            assert answer.status_code == 200
            assert "npm run build" in answer.text
            assert (await kitchen.client.head("/")).status_code == 200
            assert (await kitchen.get("/icon.svg")).status_code == 404
