"""The log: text on a terminal, JSON lines in a service; no personal data in either.

Whatever is said goes through it in one form: what weighd says, what its libraries say, warnings of
Python, and what ends the process or one of its threads.
"""

from __future__ import annotations

import logging
import sys
import threading
from types import TracebackType
from typing import Any

import structlog

_LEVELS = {"debug": 10, "info": 20, "warning": 30, "error": 40}
_log = structlog.get_logger("weighd")


def set_up(level: str = "info", form: str = "auto") -> None:
    """Write the log to standard error. ``form`` is ``auto``, ``text`` or ``json``."""
    text = sys.stderr.isatty() if form == "auto" else form == "text"
    last: Any = (
        structlog.dev.ConsoleRenderer(colors=sys.stderr.isatty())
        if text
        else structlog.processors.JSONRenderer(ensure_ascii=False)
    )
    before: list[Any] = [
        structlog.stdlib.add_log_level,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
    ]
    structlog.configure(
        processors=[*before, structlog.processors.format_exc_info, last],
        wrapper_class=structlog.make_filtering_bound_logger(_LEVELS[level]),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
    )
    # The web server's own words, and those of other libraries, only as far as they are warnings.
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(
        structlog.stdlib.ProcessorFormatter(
            foreign_pre_chain=[*before, structlog.stdlib.add_logger_name],
            processors=[
                structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                structlog.processors.format_exc_info,
                last,
            ],
        )
    )
    logging.basicConfig(level=logging.WARNING, handlers=[handler], force=True)
    logging.getLogger("weighd").setLevel(_LEVELS[level])
    logging.captureWarnings(capture=True)
    if not text:
        sys.excepthook = _ends
        threading.excepthook = _thread_ends


def _ends(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
    if issubclass(kind, KeyboardInterrupt):
        sys.__excepthook__(kind, error, trace)
    else:
        _log.critical("weighd ends for a defect", exc_info=(kind, error, trace))


def _thread_ends(said: threading.ExceptHookArgs) -> None:
    if said.exc_value is not None:
        name = said.thread.name if said.thread else ""
        told = (said.exc_type, said.exc_value, said.exc_traceback)
        _log.critical("a thread ends for a defect", thread=name, exc_info=told)
