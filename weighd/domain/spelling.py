"""A text as people look for it, however it is spelled."""

from __future__ import annotations

import unicodedata


def plain(text: str) -> str:
    """A text in small letters, without accents."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(one for one in apart if not unicodedata.combining(one))
