"""The tables of the record, and which revisions of them this weighd knows.

1. ``entry`` is the record. It is only ever added to, but for batches that are put away
   (``putting_away``), of which stubs stay; ``body`` is the canonical JSON that was
   hashed, byte for byte, so that no number passes through a binary float.
2. ``batch`` is a list for people, drawn from the entries and written in the same transaction.
   It can be thrown away and drawn again at any time.
3. ``learned`` is what the detector learned of each scale, as JSON: no record, written over.
4. ``vessel`` holds the vessels that were weighed here, as JSON: no record, written over.
5. ``signature`` holds what the station's key signed; ``seq`` is the last entry it covers. It is
   beside the record, since a replay of the same inputs gives the same entries without the key.
6. Views for people who ask with SQL stand in ``views``.
7. ``lot_use`` has what each addition drew from which lot, ``lot_sum`` how much of each lot was
   drawn by now: like ``batch`` they are drawn from the entries, in the same transaction.
8. ``lot_name`` says where the lot that a station knows by a code was received, and its code there;
   drawn from the entries too. ``heard`` has what other stations drew, as JSON: no record, written
   over.
9. ``formula_revision`` holds the formulas that were published to all, in their order: only ever
   added to, in the shared store.
10. ``person`` holds who works here, with rights and the hashes of PINs: no record, in no export.
11. ``device`` holds the devices that were paired, with the hashes of their tokens: likewise.
12. A new database is made from these tables; an older one is brought up to them by the
   migrations beside. A test holds that both give the same schema.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    PrimaryKeyConstraint,
    String,
    Table,
    Text,
    text,
)

#: The migrations, oldest first; the last is what this weighd reads and writes. A constant, so
#: that opening a database need not load the migrations to know that there is nothing to do.
REVISIONS = (
    "0001",
    "0002",
    "0003",
    "0004",
    "0005",
    "0006",
    "0007",
    "0008",
    "0009",
    "0010",
    "0011",
    "0012",
    "0013",
    "0014",
)
#: Older ones whose record is the same: it can be verified and exported as it stands.
SAME_RECORD = frozenset(REVISIONS[:-1])

#: Stands in the header of every SQLite file of ours ("weig" in ASCII), to tell it from others'.
APPLICATION_ID = 0x77656967

METADATA = MetaData()

ENTRY = Table(
    "entry",
    METADATA,
    Column("station", Text, nullable=False),
    Column("seq", BigInteger, nullable=False),
    Column("kind", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("batch", Text),
    Column("key", Text),
    Column("body", Text, nullable=False),
    Column("prev", Text, nullable=False),
    Column("hash", Text, nullable=False),
    PrimaryKeyConstraint("station", "seq", name="pk_entry"),
    Index("ix_entry_batch", "station", "batch", "seq"),
    Index("uq_entry_key", "station", "key", unique=True),
)

BATCH = Table(
    "batch",
    METADATA,
    Column("station", Text, nullable=False),
    Column("id", Text, nullable=False),
    Column("seq", BigInteger, nullable=False),
    Column("formula", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("batch_g", Text, nullable=False),
    Column("operator", Text, nullable=False),
    Column("opened", Text, nullable=False),
    Column("closed", Text),
    Column("status", Text, nullable=False),
    Column("additions", Integer, nullable=False),
    Column("accepted", Integer, nullable=False),
    PrimaryKeyConstraint("station", "id", name="pk_batch"),
    ForeignKeyConstraint(
        ["station", "seq"], ["entry.station", "entry.seq"], name="fk_batch_opened_by"
    ),
    Index("uq_batch_seq", "station", "seq", unique=True),
    Index("ix_batch_status", "station", "status", "seq"),
)

LEARNED = Table(
    "learned",
    METADATA,
    Column("station", Text, nullable=False),
    Column("scale", Text, nullable=False),
    Column("identity", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("known", Text, nullable=False),
    PrimaryKeyConstraint("station", "scale", name="pk_learned"),
)

VESSEL = Table(
    "vessel",
    METADATA,
    Column("station", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("kept", Text, nullable=False),
    PrimaryKeyConstraint("station", "name", name="pk_vessel"),
)

PERSON = Table(
    "person",
    METADATA,
    Column("station", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("rights", Text, nullable=False),
    Column("pin", Text, nullable=False),
    Column("since", Text, nullable=False),
    Column("retired", Text, nullable=False),
    Column("wrong", Integer, nullable=False),
    Column("wrong_at", Text, nullable=False),
    PrimaryKeyConstraint("station", "name", name="pk_person"),
)

DEVICE = Table(
    "device",
    METADATA,
    Column("station", Text, nullable=False),
    Column("id", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("may", Text, nullable=False),
    Column("mark", Text, nullable=False),
    Column("since", Text, nullable=False),
    Column("seen", Text, nullable=False),
    PrimaryKeyConstraint("station", "id", name="pk_device"),
)

SIGNATURE = Table(
    "signature",
    METADATA,
    Column("station", Text, nullable=False),
    Column("seq", BigInteger, nullable=False),
    Column("key", Text, nullable=False),
    Column("batch", Text, nullable=False),
    Column("entries", Integer, nullable=False),
    Column("head", Text, nullable=False),
    Column("value", Text, nullable=False),
    PrimaryKeyConstraint("station", "seq", name="pk_signature"),
    Index("ix_signature_batch", "station", "batch", "entries"),
)

LOT_USE = Table(
    "lot_use",
    METADATA,
    Column("station", Text, nullable=False),
    Column("seq", BigInteger, nullable=False),
    Column("part", Integer, nullable=False),
    Column("batch", Text, nullable=False),
    Column("addition", Integer, nullable=False),
    Column("lot", Text, nullable=False),
    Column("ingredient", Text, nullable=False),
    Column("g", Text, nullable=False),
    Column("u_g", Text, nullable=False),
    Column("corrected", Integer, nullable=False, server_default="0"),
    PrimaryKeyConstraint("station", "seq", "part", name="pk_lot_use"),
    Index("ix_lot_use_lot", "lot", "station", "seq"),
    Index("ix_lot_use_batch", "batch", "station", "seq"),
)

LOT_SUM = Table(
    "lot_sum",
    METADATA,
    Column("station", Text, nullable=False),
    Column("lot", Text, nullable=False),
    Column("g", Text, nullable=False),
    Column("u2", Text, nullable=False),
    Column("uses", Integer, nullable=False),
    PrimaryKeyConstraint("station", "lot", name="pk_lot_sum"),
)

RECEIVED = text("station = origin")

LOT_NAME = Table(
    "lot_name",
    METADATA,
    Column("station", Text, nullable=False),
    Column("lot", Text, nullable=False),
    Column("origin", Text, nullable=False),
    Column("code", Text, nullable=False),
    PrimaryKeyConstraint("station", "lot", name="pk_lot_name"),
    Index("ix_lot_name_code", "code", "origin"),
    # Where a code was received is asked for at every step of a trace across stations.
    # What PostgreSQL is told of it, ``postgres`` says: to name it here would load all that
    # SQLAlchemy has for it.
    Index("ix_lot_name_own", "code", sqlite_where=RECEIVED),
)

HEARD = Table(
    "heard",
    METADATA,
    Column("station", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("sums", Text, nullable=False),
    PrimaryKeyConstraint("station", name="pk_heard"),
)

FORMULA_REVISION = Table(
    "formula_revision",
    METADATA,
    Column("number", BigInteger, nullable=False, autoincrement=False),
    Column("formula", Text, nullable=False),
    Column("revision", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("content", Text, nullable=False),
    Column("station", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("at", Text, nullable=False),
    PrimaryKeyConstraint("number", name="pk_formula_revision"),
    Index("ix_formula_revision", "formula", "number"),
)

#: Which revision a database is at; the name and shape are those of the migration tool.
VERSION = Table(
    "alembic_version",
    METADATA,
    Column("version_num", String(32), nullable=False),
    PrimaryKeyConstraint("version_num", name="alembic_version_pkc"),
)
