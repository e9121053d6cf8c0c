"""The list of what programs can ask, as a page of our own: made from the OpenAPI description."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from html import escape
from typing import Any

STYLE = """
:root { color-scheme: light dark; font: 16px/1.5 system-ui, sans-serif; }
body { max-width: 60rem; margin: 2rem auto; padding: 0 1rem; }
section { border-top: 1px solid; padding: 0.5rem 0 1rem; }
h2 { font: 600 1rem/1.5 ui-monospace, monospace; margin: 0.5rem 0; }
table { border-collapse: collapse; width: 100%; }
td, th { text-align: left; padding: 0.2rem 1rem 0.2rem 0; vertical-align: top; }
code { font-family: ui-monospace, monospace; }
"""

_LIVE = """
<section><h2>WS /api/live</h2>
<p>The picture as it changes. On connecting a snapshot comes, then whatever changed, each section
whole, and a beat in every second without a change. A client that was away sends
<code>{"kind": "resume", "seq": n, "boot": "..."}</code> and gets what is newer, or a
snapshot.</p>
<p>On a slow way, come to <code>/api/live?seen</code> and answer each frame with exactly
<code>{"kind":"seen"}</code>: the next comes only then, so that nothing old is on its way.
<code>after</code> in a frame is how many seconds it was made after that was heard; what passed at
the client since it was said, less <code>after</code>, is the most that the frame can be old.</p>
</section>
"""


def draw(description: Mapping[str, Any]) -> str:
    """The page for an OpenAPI description."""
    info = description["info"]
    parts = [
        "<!doctype html>",
        '<html lang="en"><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(info['title'])}</title>",
        '<link rel="stylesheet" href="/api/docs.css">',
        f"<h1>{escape(info['title'])} {escape(info['version'])}</h1>",
        f"<p>{escape(info.get('description', ''))}</p>",
        '<p>For programs: <a href="/api/openapi.json">/api/openapi.json</a>.</p>',
    ]
    for path, methods in description["paths"].items():
        for method, one in methods.items():
            parts += _operation(method, path, one, description)
    parts.append(_LIVE)
    parts.append("</html>")
    return "\n".join(parts)


def _operation(
    method: str, path: str, one: Mapping[str, Any], whole: Mapping[str, Any]
) -> Iterator[str]:
    yield f"<section><h2>{escape(method.upper())} {escape(path)}</h2>"
    yield f"<p>{escape(one.get('description', ''))}</p>"
    rows = [
        (f"{given['name']} ({given['in']})", given.get("required", False), given)
        for given in one.get("parameters", ())
    ]
    body = one.get("requestBody", {}).get("content", {}).get("application/json", {})
    shape = _resolved(body.get("schema", {}), whole)
    needed = shape.get("required", ())
    rows += [(name, name in needed, field) for name, field in shape.get("properties", {}).items()]
    if rows:
        yield "<table>"
        for name, must, field in rows:
            yield (
                f"<tr><td><code>{escape(name)}</code><td>{'needed' if must else ''}"
                f"<td>{escape(field.get('description', ''))}"
            )
        yield "</table>"
    yield "</section>"


def _resolved(schema: Mapping[str, Any], whole: Mapping[str, Any]) -> Mapping[str, Any]:
    name = str(schema.get("$ref", "")).rpartition("/")[2]
    found: Mapping[str, Any] = whole.get("components", {}).get("schemas", {}).get(name, schema)
    return found
