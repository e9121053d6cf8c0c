"""Settings for every test, and how they share a machine."""

from __future__ import annotations

import os
import zlib
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from tests.servers import Postgres

# A busy machine is no defect: speed is measured in benchmarks, never by a test's deadline.
settings.register_profile(
    "weighd", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.load_profile("weighd")

# Nothing is recorded that the published schema does not tell of.
pytest_plugins = ["tests.told_by_the_schema"]

# The log of a daemon started by a test is read by programs.
os.environ.setdefault("NO_COLOR", "1")

#: With workers (``-n``) these begin first, in this order, so that no long file is left for the end.
LONGEST_FIRST = ("tests/browser/", "tests/fault/", "tests/station/", "tests/packaging/")


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    """A PostgreSQL server for all tests, each with a database of its own; start what you stop."""
    with Postgres() as server:
        yield server


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With workers the long files come first."""
    if hasattr(config, "workerinput"):
        items.sort(key=lambda item: [not item.nodeid.startswith(one) for one in LONGEST_FIRST])


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """The tests of a file stay together, as they share what is slow to start; and all that look at
    a page follow each other in two rows: three browsers at once leave none enough of a machine,
    and one row takes longer than all the other tests do beside it."""
    from xdist.scheduler import LoadFileScheduling

    class ByFile(LoadFileScheduling):  # type: ignore[misc]
        def _split_scope(self, nodeid: str) -> str:
            file: str = super()._split_scope(nodeid)
            if not file.startswith("tests/browser/"):
                return file
            return f"browser {zlib.crc32(file.encode()) % 2}"

    return ByFile(config, log)
