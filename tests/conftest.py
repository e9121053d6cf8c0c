"""Settings for every test."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

# A busy machine is no defect: speed is measured in benchmarks, never by a test's deadline.
settings.register_profile(
    "weighd", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.load_profile("weighd")

# The log of a daemon started by a test is read by programs.
os.environ.setdefault("NO_COLOR", "1")
