"""The page is served as built, whatever a path is spelt like; without it, a word on building."""

from __future__ import annotations

import gzip
import re
from pathlib import Path, PurePosixPath

import pytest

from tests.http.kitchen import Kitchen
from weighd.http.page import Page
from weighd.main.daemon import page

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
    (built / "assets" / "index-bnnDCkHa.js.br").write_bytes(b"brotli")
    (built / "assets" / "index-bnnDCkHa.js.gz").write_bytes(gzip.compress(b"export {}"))
    (built / "icon.svg.gz").write_bytes(gzip.compress(b"<svg/>"))
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
        assert head.headers["content-length"] == answer.headers["content-length"]
        again = await kitchen.get(path, **{"If-None-Match": answer.headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")


@pytest.mark.parametrize(
    ("path", "accepts", "coding"),
    [
        ("/assets/index-bnnDCkHa.js", "gzip, deflate, br, zstd", "br"),
        ("/assets/index-bnnDCkHa.js", "gzip, deflate", "gzip"),
        ("/assets/index-bnnDCkHa.js", "GZIP;q=0.5, br;q=0", "gzip"),
        ("/assets/index-bnnDCkHa.js", "gzip;q=0.000, br ; q=0", None),
        ("/assets/index-bnnDCkHa.js", "deflate, zstd", None),
        ("/assets/index-bnnDCkHa.js", "", None),
        ("/icon.svg", "gzip, br", "gzip"),
        ("/assets/plain.js", "gzip, br", None),
    ],
)
async def test_what_was_packed_is_sent_to_whoever_takes_it(
    dist: Path, path: str, accepts: str, coding: str | None
) -> None:
    """RFC 9110: 8.4 codings, 8.8.3.3 a tag for each, 12.5.3 Accept-Encoding, 12.5.5 Vary."""
    async with Kitchen(dist=dist) as kitchen:
        plain = await kitchen.get(path, **{"Accept-Encoding": "identity"})
        async with kitchen.client.stream("GET", path, headers={"Accept-Encoding": accepts}) as it:
            sent = b"".join([part async for part in it.aiter_raw()])
        assert it.headers.get("content-encoding") == coding
        assert it.headers["vary"] == plain.headers["vary"] == "Accept-Encoding"
        assert it.headers["content-type"] == plain.headers["content-type"]
        assert it.headers["content-length"] == str(len(sent))
        assert (it.headers["etag"] == plain.headers["etag"]) == (coding is None)
        if coding == "gzip":
            assert gzip.decompress(sent) == plain.content
        again = await kitchen.get(
            path, **{"Accept-Encoding": accepts, "If-None-Match": it.headers["etag"]}
        )
        assert (again.status_code, again.content) == (304, b"")


@pytest.mark.parametrize("path", ["/assets/index-bnnDCkHa.js.br", "/icon.svg.gz"])
async def test_a_packed_file_has_no_address_of_its_own(dist: Path, path: str) -> None:
    async with Kitchen(dist=dist) as kitchen:
        assert (await kitchen.get(path)).status_code == 404


#: What the first load may weigh, in bytes.
FIRST_LOAD = 300_000


async def test_the_first_load_is_light() -> None:
    """All that a browser fetches before the board stands, in the second language too, by gzip:
    a station in a kitchen has no TLS as a rule, and browsers take brotli only with it."""
    built = page()
    if built is None:
        pytest.skip("the page is not built; run: python web/hatch_build.py")
    async with Kitchen(dist=built) as kitchen:
        index = (await kitchen.get("/")).text
        wanted = set(re.findall(r'(?:src|href)="\./([^"]+)"', index))
        german = {f"assets/{one.name}" for one in (built / "assets").iterdir()}
        wanted |= {one for one in german if re.match(r"assets/de-[^.]+\.js$", one)}
        assert {PurePosixPath(one).suffix for one in wanted} >= {".js", ".css", ".svg"}
        weights = {}
        for one in ("", *wanted):
            answer = await kitchen.get(f"/{one}", **{"Accept-Encoding": "gzip"})
            assert answer.status_code == 200
            weights[one] = int(answer.headers["content-length"])
        assert any(one.startswith("assets/de-") for one in weights)
        assert sum(weights.values()) < FIRST_LOAD, weights


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
