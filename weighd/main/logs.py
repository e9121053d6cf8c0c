"""The log: text on a terminal, JSON lines in a service; no personal data in either."""

from __future__ import annotations

import logging
import sys
from typing import Any

import structlog

_LEVELS = {"debug": 10, "info": 20, "warning": 30, "error": 40}


def set_up(level: str = "info", form: str = "auto") -> None:
    """Write the log to standard error. ``form`` is ``auto``, ``text`` or ``json``."""
    text = sys.stderr.isatty() if form == "auto" else form == "text"
    last: Any = (
        structlog.dev.ConsoleRenderer(colors=sys.stderr.isatty())
        if text
        else structlog.processors.JSONRenderer()
    )
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            last,
        ],
        wrapper_class=structlog.make_filtering_bound_logger(_LEVELS[level]),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
    )
    # The web server's own words go only as far as they are warnings.
    logging.basicConfig(level=logging.WARNING, stream=sys.stderr, format="%(name)s: %(message)s")
