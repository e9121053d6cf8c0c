"""Sets a template with typst, in a process of its own: ``python -m weighd.reports.press``.

JSON comes in on standard input (``template``, ``inputs``, ``form``, ``ppi``), the pages go out on
standard output: how long each is, in a line of JSON, and then the bytes. What typst keeps in memory
goes with the process, and whatever befalls it (it may panic on text that its fonts have not) does
not touch the station. It reads no other file than the template, and fetches nothing.
"""

from __future__ import annotations

import json
import sys
from importlib.resources import files

#: Level A: tagged, so that it can be read aloud; and what it takes for that in PDF/UA.
STANDARDS = ["a-2a", "ua-1"]


def main() -> int:
    """Set one template; 1 and a sentence on standard error where that cannot be done."""
    import typst

    asked = json.load(sys.stdin)
    is_pdf = asked["form"] == "pdf"
    compiler = typst.Compiler(
        font_paths=typst.Fonts(include_system_fonts=False), ignore_system_fonts=True
    )
    try:
        made = compiler.compile(
            input=(files("weighd.reports") / asked["template"]).read_bytes(),
            format="pdf" if is_pdf else "png",
            ppi=asked["ppi"],
            sys_inputs=asked["inputs"],
            pdf_standards=STANDARDS if is_pdf else [],  # type: ignore[arg-type]
        )
    except typst.TypstError as error:
        print(error.message, file=sys.stderr)  # noqa: T201 -- whoever started it reads it
        return 1
    pages = [one for one in (made if isinstance(made, list) else [made]) if one is not None]
    sys.stdout.buffer.write(json.dumps([len(one) for one in pages]).encode() + b"\n")
    for one in pages:
        sys.stdout.buffer.write(one)
    return 0


if __name__ == "__main__":
    sys.exit(main())
