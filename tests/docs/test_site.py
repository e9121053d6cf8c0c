"""The documentation as a site: it builds without a warning, and nothing comes from elsewhere."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from mkdocs.commands.build import build
from mkdocs.config import load_config
from mkdocs.exceptions import Abort

from docs.making.pages import DOCS, MADE, pages

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The site, built as ``make docs`` does."""
    folder = tmp_path_factory.mktemp("site")
    build(load_config(str(ROOT / "mkdocs.yml"), site_dir=str(folder), strict=True))
    return folder


class Page(HTMLParser):
    """What a page asks for, where its links lead, and what can be linked to on it."""

    def __init__(self, file: Path) -> None:
        super().__init__()
        self.asked: list[str] = []
        self.links: list[str] = []
        self.names: set[str] = set()
        self.feed(file.read_text("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        of = {key: value or "" for key, value in attrs}
        self.names.add(of.get("id", ""))
        if tag == "a":
            self.links.append(of.get("href", ""))
        elif tag == "link" and of.get("rel") in ("canonical", "next", "prev"):
            return
        elif "src" in of or (tag == "link" and "href" in of):
            self.asked.append(of.get("src") or of["href"])


def test_every_page_is_there_and_nothing_made_is_left_out(site: Path) -> None:
    names = [one.relative_to(DOCS).with_suffix(".html") for one in pages()]
    assert len(names) > 70
    for name in names:
        text = (site / name).read_text("utf-8")
        assert "<!-- made:" not in text, name
    used = {
        mark
        for one in pages()
        for mark in re.findall(r"^<!-- made: ([a-z-]+) -->$", one.read_text("utf-8"), re.MULTILINE)
    }
    assert used == set(MADE)
    assert not list(site.rglob("*.py*"))


def test_every_link_and_picture_leads_somewhere_and_none_elsewhere(site: Path) -> None:
    """MkDocs holds the links of Markdown, but not those of HTML within it, nor of the theme."""
    read = {file: Page(file) for file in site.rglob("*.html") if file.name != "404.html"}
    assert len(read) > 70
    seen = 0
    for file, page in read.items():
        for asked in page.asked:
            assert not urlsplit(asked).scheme, (file.name, asked)
        for link in (*page.asked, *page.links):
            parts = urlsplit(link)
            if parts.scheme or parts.netloc:
                assert "127.0.0.1" in link or "localhost" in link or "example" in link, (file, link)
                continue
            target = file if not parts.path else (file.parent / unquote(parts.path)).resolve()
            assert target.is_file(), (file.relative_to(site), link)
            if parts.fragment and target in read and not parts.fragment.startswith("__"):
                assert unquote(parts.fragment) in read[target].names, (file.name, link)
            seen += 1
    assert seen > 3000


def test_no_script_or_style_of_the_site_asks_elsewhere(site: Path) -> None:
    """The theme knows addresses from which it would take what we do not use; none is in a page."""
    assert (site / "making" / "folder-search.js").is_file()
    for one in site.rglob("*.css"):
        assert "url(http" not in one.read_text("utf-8"), one
    text = (site / "index.html").read_text("utf-8")
    assert not re.findall(r"<script[^>]+src=\"https?:", text)
    assert (site / "search" / "search_index.js").is_file()


def test_a_broken_link_and_a_forgotten_page_fail(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """What the site's own settings hold a page to, tried on two pages."""
    (tmp_path / "docs").mkdir()
    whole = (ROOT / "mkdocs.yml").read_text("utf-8")
    held = whole[whole.index("\nstrict:") : whole.index("\n# Every page stands here")]
    config = tmp_path / "mkdocs.yml"
    config.write_text(f"site_name: two\nplugins: []\nnav: [index.md]\n{held}", "utf-8")
    page = "# A page\n\n[there](nowhere.md) [here](#nothing)\n"
    (tmp_path / "docs" / "index.md").write_text(page, "utf-8")
    (tmp_path / "docs" / "alone.md").write_text("# Alone\n", "utf-8")
    with pytest.raises(Abort):
        build(load_config(str(config), site_dir=str(tmp_path / "site")))
    for said in ("nowhere.md", "#nothing", "alone.md"):
        assert said in caplog.text


def test_the_readme_leads_into_the_documentation() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    assert len(text.splitlines()) <= 300
    links = re.findall(r"\]\(((?:docs/)?[\w/.-]+)\)", text)
    assert len(links) > 25
    assert all((ROOT / one).is_file() for one in links)
    assert "\n".join(links).count("docs/tutorial/") >= 3


def test_code_stands_in_fences_that_say_what_it_is() -> None:
    """A fence left open would swallow the rest of a page."""
    for one in pages():
        assert one.read_text("utf-8").count("\n```") % 2 == 0, one
