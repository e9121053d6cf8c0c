"""Bringing an older database up to date. The migration tool is loaded only when there is one."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection

SCRIPTS = Path(__file__).parent / "migrations"


def upgrade(connection: Connection, scripts: Path | None = None) -> None:
    """Apply the migrations that ``connection`` lacks, inside the transaction it is in."""
    from alembic import command  # noqa: PLC0415  (0.4 s that a start without migrations saves)
    from alembic.config import Config  # noqa: PLC0415

    config = Config()
    config.set_main_option("script_location", str(scripts or SCRIPTS).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
