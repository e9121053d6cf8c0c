"""Formulas: LaTeX in a fence ``math`` becomes MathML, which browsers draw themselves."""

from __future__ import annotations

from html import escape
from typing import Any

from latex2mathml.converter import convert


def drawn(source: str, _: str, css_class: str, *__: Any, **___: Any) -> str:
    """A formula of a line each; the source is what a reader without MathML gets."""
    lines = [one for one in source.strip().split("\n") if one.strip()]
    made = "".join(convert(one, display="block") for one in lines)
    return (
        f'<div class="{css_class}" role="group" aria-label="{escape(source.strip())}">{made}</div>'
    )
