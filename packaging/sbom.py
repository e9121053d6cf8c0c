"""The list of parts for programs (CycloneDX 1.6, JSON) and for people (docs/reference/licences.md).

python packaging/sbom.py OUT.json [LICENCES.md]
"""

from __future__ import annotations

import os
import sys
import uuid
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import parts
from cyclonedx.contrib.license.factories import LicenseFactory
from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentType
from cyclonedx.output.json import JsonV1Dot6
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator
from packageurl import PackageURL

from weighd import __version__


def component(one: parts.Part) -> Component:
    """A part as the standard has it."""
    space, _, name = one.name.rpartition("/")
    where = PackageURL(one.kind, space or None, name, one.version)
    return Component(
        type=ComponentType.LIBRARY,
        name=one.name,
        version=one.version,
        purl=where,
        bom_ref=str(where),
        licenses=[LicenseFactory().make_from_string(one.licence)],
    )


def bill(python: Sequence[parts.Part], page: Sequence[parts.Part]) -> Bom:
    """Everything, with what needs what. The same parts give the same bill."""
    whole = [*python, *page]
    made = {(one.kind, one.name): component(one) for one in whole}
    ours = Component(
        type=ComponentType.APPLICATION,
        name="weighd",
        version=__version__,
        bom_ref="weighd",
        licenses=[LicenseFactory().make_from_string("Apache-2.0")],
    )
    out = Bom(components=made.values())
    out.metadata.component = ours
    out.serial_number = uuid.uuid5(uuid.NAMESPACE_URL, repr((__version__, whole)))
    out.metadata.timestamp = datetime.fromtimestamp(
        int(os.environ.get("SOURCE_DATE_EPOCH", "0")), UTC
    )
    out.register_dependency(ours, made.values())
    for one in whole:
        needs = [made[one.kind, name] for name in one.needs if (one.kind, name) in made]
        out.register_dependency(made[one.kind, one.name], needs)
    return out


def as_json(out: Bom) -> str:
    """A bill as JSON that its own schema accepts. Raises ``ValueError`` where it does not."""
    text = JsonV1Dot6(out).output_as_string(indent=1)
    if wrong := JsonStrictValidator(SchemaVersion.V1_6).validate_str(text):
        raise ValueError(f"not what CycloneDX asks for: {wrong}")
    return text + "\n"


def main() -> int:
    """Write both lists."""
    python, page = parts.python_parts(), parts.page_parts()
    if refused := [one for one in (*python, *page) if not parts.allowed(one.licence)]:
        sys.stderr.write(f"sbom: a licence that is not among the allowed ones: {refused}\n")
        return 1
    Path(sys.argv[1]).write_text(as_json(bill(python, page)), "utf-8")
    if len(sys.argv) > 2:
        Path(sys.argv[2]).write_text(parts.page_of(python, page), "utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
