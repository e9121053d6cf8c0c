"""The copyright file of the Debian package: every library in it, with who has it and its licence.

In the machine-readable form of Debian (copyright-format 1.0, from memory).
"""

from __future__ import annotations

import importlib.metadata
import re
from collections.abc import Iterator
from pathlib import Path

import parts

FORM = "https://www.debian.org/doc/packaging-manuals/copyright-format/1.0/"
WHERE = "Libraries come as wheels; the full text of each licence is in its .dist-info."
#: A licence that is not in a file of its own here: where its text is.
COMMON = {
    "Apache-2.0": "On Debian systems its text is in /usr/share/common-licenses/Apache-2.0.",
    "LGPL-3.0-only": "On Debian systems its text is in /usr/share/common-licenses/LGPL-3.",
}
ELSEWHERE = "Its text is in the .dist-info of each library under it."
#: Whose it is: with a sign of copyright or a year, since licences speak of copyright holders too.
_OWNER = re.compile(
    r"^\W*copyright\s*(?:\(c\)|©|:)?\s*((?:\(c\)\s*)?(?=.{0,12}\d{4}).{4,120})$",
    re.IGNORECASE | re.MULTILINE,
)
_TEXTS = re.compile(r"(licen[cs]e|copying|notice)", re.IGNORECASE)


def copyright_file(home: Path) -> str:
    """The file, of the environment below ``home``."""
    (place,) = home.glob("lib/python*/site-packages")
    made = {
        parts.plain(one.name): one for one in importlib.metadata.distributions(path=[str(place)])
    }
    out = [
        f"Format: {FORM}\nUpstream-Name: weighd\nComment: {WHERE}\n",
        "Files: *\nCopyright: the weighd authors\nLicense: Apache-2.0\n",
    ]
    used = {"Apache-2.0"}
    below = f"usr/lib/weighd/lib/{place.parent.name}/site-packages"
    for name, one in sorted(made.items()):
        if name == "weighd":
            continue
        expression = short(parts.licence_of(one))
        used.add(expression)
        tops = sorted(
            {str(file).split("/")[0] for file in one.files or () if ".." not in str(file)}
        )
        globs = "\n ".join(f"{below}/{top}{'' if top.endswith('.py') else '*'}" for top in tops)
        owners = "\n ".join(owners_of(one)) or "its authors, as its own files have it"
        out.append(f"Files: {globs}\nCopyright: {owners}\nLicense: {expression}\n")
    for one in parts.page_parts():
        used.add(short(one.licence))
        out.append(
            f"Files: {below}/weighd_web/dist/*\n"
            f"Copyright: the authors of {one.name} {one.version}, as THIRD-PARTY.txt there has it\n"
            f"License: {short(one.licence)}\n"
        )
    for name in sorted(used):
        text = next((COMMON[key] for key in COMMON if key in name), ELSEWHERE)
        out.append(f"License: {name}\n {text}\n")
    return "\n".join(out)


def short(expression: str) -> str:
    """An SPDX expression as this form writes it."""
    return expression.replace(" AND ", " and ").replace(" OR ", " or ")


def owners_of(one: importlib.metadata.Distribution) -> Iterator[str]:
    """Whose it is, as its licence files have it."""
    seen = set[str]()
    for file in one.files or ():
        if ".dist-info" not in str(file) or not _TEXTS.search(Path(file).name):
            continue
        try:
            text = Path(one.locate_file(file)).read_text("utf-8", errors="replace")
        except OSError:
            continue
        for found in _OWNER.findall(text)[:4]:
            line = " ".join(found.split()).rstrip(".")
            if line.casefold() not in seen and len(seen) < 6:
                seen.add(line.casefold())
                yield line
