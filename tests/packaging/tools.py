"""Programs of the system that packaging is checked with."""

from __future__ import annotations

import os
import shutil

import pytest


def tool(name: str) -> str:
    """Where a program is. The test is skipped without it, or fails where it must be there."""
    found = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin")
    if found is None:
        if os.environ.get("WEIGHD_REQUIRE_PACKAGING"):
            pytest.fail(f"{name} is not installed, and has to be here")
        pytest.skip(f"{name} is not installed")
    return found
