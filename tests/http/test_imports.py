"""The edges do not meet: the network edge comes without the store, and without a driver."""

from __future__ import annotations

import subprocess
import sys

import pytest


@pytest.mark.parametrize("package", ["weighd.http.app", "weighd.config"])
def test_an_edge_does_not_bring_another(package: str) -> None:
    asked = (
        f"import sys, {package}\n"
        "strangers = ('sqlalchemy', 'alembic', 'weighd.storage', 'weighd_drivers', 'serial')\n"
        "print([name for name in strangers if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_what_is_only_needed_at_times_is_not_brought_at_the_start() -> None:
    """The daemon starts quickly and stays small."""
    asked = (
        "import sys, weighd.main.daemon\n"
        "heavy = ('scipy', 'numpy', 'matplotlib', 'typst', 'segno', 'biip', 'pyarrow', 'alembic',"
        " 'argon2')\n"
        "print([name for name in heavy if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
