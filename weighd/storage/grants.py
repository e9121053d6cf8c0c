"""What a station may do in a shared store: add to the record, and never change it.

``entry``, ``signature`` and published formulas can only be added to. The lists that are drawn from
entries can be changed too; whoever spoils them spoils no record, and they can be drawn again.
"""

from __future__ import annotations

from sqlalchemy import Connection

from weighd.domain.errors import JournalError
from weighd.storage import schema
from weighd.storage.postgres import PostgresStore
from weighd.storage.postgres_faults import fault

#: What may be done with each table; nothing with those that are not here.
STATION = {
    schema.ENTRY: "SELECT, INSERT",
    schema.SIGNATURE: "SELECT, INSERT",
    schema.FORMULA_REVISION: "SELECT, INSERT",
    schema.BATCH: "SELECT, INSERT, UPDATE",
    schema.LOT_USE: "SELECT, INSERT, UPDATE",
    schema.LOT_SUM: "SELECT, INSERT, UPDATE, DELETE",
    schema.LOT_NAME: "SELECT, INSERT",
    schema.VERSION: "SELECT",
    # A station's own file has rows in these, the shared store none; commands look into them.
    schema.HEARD: "SELECT",
    schema.LEARNED: "SELECT",
    schema.VESSEL: "SELECT",
}


def statements(role: str) -> list[str]:
    """The statements that grant a role what a station needs. ``role`` is quoted as a name."""
    name = '"' + role.replace('"', '""') + '"'
    return [f"GRANT {rights} ON {table.name} TO {name}" for table, rights in STATION.items()]


def grant(store: PostgresStore, role: str) -> None:
    """Grant it. Raises :class:`JournalError`, ``store-refused`` where that role is not there or
    this one does not own the tables."""
    if not role or "\0" in role or len(role.encode()) > 63:
        raise fault("store-refused", store.address.shown, "that is no name of a role")

    def ask(connection: Connection) -> None:
        for one in statements(role):
            connection.exec_driver_sql(one.replace("%", "%%"))

    try:
        store.write(ask)
    except JournalError as error:
        if error.code != "store-failed":
            raise
        raise fault(
            "store-refused", store.address.shown, f"role {role}: {error.message}"
        ) from error
