"""No markup is made from data: not by the page, not by the service."""

from __future__ import annotations

import re
from pathlib import Path

from weighd.http.gate import CONTENT_POLICY

ROOT = Path(__file__).parents[2]
WEB = ROOT / "web"
#: What turns text into markup, script or style; each hit needs a reason here: file -> why.
SINKS = re.compile(
    r"innerHTML|outerHTML|insertAdjacentHTML|dangerouslySetInnerHTML|document\.write|DOMParser|srcdoc"
    r"|createContextualFragment|\beval\(|new Function|javascript:|setTimeout\(\s*[\"'`]"
    r"|cssText|createElement\(\s*[\"'](?:script|style|iframe|object|embed)"
)
ALLOWED: dict[str, str] = {}
#: What answers with HTML, and why nothing of it is anybody's markup.
HTML = {
    "weighd/http/app.py": "the list of routes, each part escaped (weighd/http/docs.py)",
    "weighd/http/page.py": "a text of our own, where the page was not built",
}


def test_the_page_makes_no_markup_from_data() -> None:
    files = [*(WEB / "src").rglob("*.ts*"), *(WEB / "src").rglob("*.js"), WEB / "index.html"]
    assert len(files) > 150
    found = {
        f"{file.relative_to(WEB)}: {hit[0]}"
        for file in files
        for hit in SINKS.finditer(file.read_text("utf-8"))
    }
    assert found == set(ALLOWED)


def test_the_page_has_no_script_or_style_in_it() -> None:
    """Nor what a policy without ``unsafe-inline`` would refuse."""
    for file in (WEB / "index.html", *sorted((WEB / "weighd_web" / "dist").glob("*.html"))):
        text = file.read_text("utf-8")
        assert not re.search(r"<script(?![^>]*\bsrc=)", text), file
        assert not re.search(r"<style|\bstyle=|\bon[a-z]+=", text), file
        assert "://" not in text, file
    rules = dict(one.strip().split(" ", 1) for one in CONTENT_POLICY.split(";"))
    assert rules["default-src"] == "'self'"
    assert "unsafe" not in CONTENT_POLICY
    assert not {"script-src", "style-src", "img-src", "connect-src"} & set(rules)


def test_the_service_answers_html_in_two_places() -> None:
    found = {
        str(file.relative_to(ROOT))
        for file in (ROOT / "weighd").rglob("*.py")
        if re.search(r"HTMLResponse\(|text/html", file.read_text("utf-8"))
    }
    # The answer while a long record is read for the first time is a text of our own too.
    assert found == {*HTML, "weighd/main/waiting.py"}
