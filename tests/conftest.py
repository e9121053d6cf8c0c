"""Settings for every test, and how they share a machine."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from _pytest.runner import runtestprotocol
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

#: Those that look at a page; every other one of them, by name, is of the same row.
PAGES = Path(__file__).parent / "browser"

#: What drives processes of its own, which other tests can hold up.
PROCESSES = ("tests/browser/", "tests/station/test_daemon")


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    """A PostgreSQL server for all tests, each with a database of its own; start what you stop."""
    with Postgres() as server:
        yield server


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With workers the long files come first."""
    if hasattr(config, "workerinput"):
        items.sort(key=lambda item: [not item.nodeid.startswith(one) for one in LONGEST_FIRST])


def pytest_runtest_protocol(item: pytest.Item, nextitem: pytest.Item | None) -> bool | None:
    """A page or a daemon that fails is looked at a second time, and the failure told as a warning
    where it then holds: they share two processors with other tests. What fails twice has failed."""
    if not item.nodeid.startswith(PROCESSES):
        return None
    item.ihook.pytest_runtest_logstart(nodeid=item.nodeid, location=item.location)
    reports = runtestprotocol(item, log=False, nextitem=nextitem)
    if any(one.failed for one in reports):
        why = next(one.longreprtext for one in reports if one.failed)
        item.warn(pytest.PytestWarning(f"failed at the first look:\n{why[-2000:]}"))
        item._initrequest()  # type: ignore[attr-defined]  # fixtures begin anew
        reports = runtestprotocol(item, log=False, nextitem=nextitem)
    for one in reports:
        item.ihook.pytest_runtest_logreport(report=one)
    item.ihook.pytest_runtest_logfinish(nodeid=item.nodeid, location=item.location)
    return True


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """A worker keeps what it reached while it is waited for: at its end it may be killed first."""
    if "coverage" in sys.modules and hasattr(session.config, "workerinput"):
        measured = sys.modules["coverage"].Coverage.current()
        if measured is not None:
            measured.stop()
            measured.save()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """The tests of a file stay together, as they share what is slow to start; and all that look at
    a page follow each other in two rows: three browsers at once leave none enough of a machine,
    and one row takes longer than all the other tests do beside it."""
    from xdist.scheduler import LoadFileScheduling

    pages = sorted(one.name for one in PAGES.glob("test_*.py"))

    class ByFile(LoadFileScheduling):  # type: ignore[misc]
        def _split_scope(self, nodeid: str) -> str:
            file: str = super()._split_scope(nodeid)
            if not file.startswith("tests/browser/"):
                return file
            return f"browser {pages.index(file.rpartition('/')[2]) % 2}"

    return ByFile(config, log)
