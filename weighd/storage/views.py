"""Views for whoever analyses records with SQL: batches, weighings, deviations, corrections, checks.

1. The table ``entry`` stays the truth; a view holds nothing and can be dropped and made anew. A
   view does not verify: ``weighd verify`` does.
2. Masses are the decimal strings of the record, exact. Beside each stands a number to compute with,
   ``NAME_real``: a binary float, which is as good as no scale needs but not what was recorded.
3. One text makes them for SQLite and for PostgreSQL, with JSON functions of either. SQLite is asked
   by ``json_extract`` and not by ``->>``: a view that an older SQLite cannot parse would keep it
   from opening the database at all.
4. ``weighings`` has the columns of the CSV (``reports/columns.py``) in their order; a test holds
   both to the same values.
5. What people put right is asked of the entries that did, row by row: only for columns that are
   selected, and within their batch, by its index.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from sqlalchemy import Connection

_STATUS = """CASE
    WHEN EXISTS (SELECT 1 FROM entry x WHERE x.station = o.station AND x.batch = o.batch
      AND x.kind = 'batch abandoned') THEN 'abandoned'
    WHEN EXISTS (SELECT 1 FROM entry x WHERE x.station = o.station AND x.batch = o.batch
      AND x.kind = 'batch closed') THEN 'closed'
    WHEN EXISTS (SELECT 1 FROM entry x WHERE x.station = o.station AND x.batch = o.batch
      AND x.kind = 'all weighed') THEN 'in process'
    ELSE 'open' END"""

_WEIGHING_MASSES = ("target_g", "low_g", "high_g", "net_g", "deviation_g", "u_g")


class Dialect:
    """How a database is asked for what stands in JSON."""

    def text(self, row: str, *path: str) -> str:
        """A field as text; null where there is none."""
        raise NotImplementedError

    def whole(self, row: str, *path: str) -> str:
        """A field as a whole number."""
        return f"CAST({self.text(row, *path)} AS BIGINT)"

    def length(self, row: str, name: str) -> str:
        """How long a list is."""
        raise NotImplementedError

    def each(self, row: str, name: str) -> tuple[str, str]:
        """What joins a list's items to their row, and what they are called then."""
        raise NotImplementedError

    #: What makes one text of those of several rows.
    join = "group_concat"

    def lots(self, row: str, lot: Callable[[str, str], str]) -> str:
        """The list ``lots`` as canonical JSON; ``lot`` says what each is called by now, by an item
        and its place from 1."""
        raise NotImplementedError


class Sqlite(Dialect):
    """JSON1 functions, which any SQLite of the last years has."""

    def text(self, row: str, *path: str) -> str:
        return f"json_extract({row}, '$.{'.'.join(path)}')"

    def length(self, row: str, name: str) -> str:
        return f"json_array_length({row}, '$.{name}')"

    def each(self, row: str, name: str) -> tuple[str, str]:
        return f"JOIN json_each({row}, '$.{name}') AS item", "item.value"

    def lots(self, row: str, lot: Callable[[str, str], str]) -> str:
        pair = f"json_object('g', {self.text('one.item', 'g')}, 'lot', {lot('one.item', 'one.n')})"
        items = f"SELECT value AS item, key + 1 AS n FROM json_each({row}, '$.lots') ORDER BY key"
        return f"(SELECT json_group_array({pair}) FROM ({items}) AS one)"


class Postgresql(Dialect):
    """Operators of ``json``; the body is stored as text, byte for byte as it was hashed."""

    def text(self, row: str, *path: str) -> str:
        return f"(({row})::json #>> '{{{','.join(path)}}}')"

    def length(self, row: str, name: str) -> str:
        return f"json_array_length(({row})::json -> '{name}')"

    def each(self, row: str, name: str) -> tuple[str, str]:
        items = f"json_array_elements(({row})::json -> '{name}')"
        return f"CROSS JOIN LATERAL {items} AS item(value)", "item.value"

    join = "string_agg"

    def lots(self, row: str, lot: Callable[[str, str], str]) -> str:
        g, named = self.text("one.item", "g"), lot("one.item", "one.n")
        pair = f"""'{{"g":' || to_json({g})::text || ',"lot":' || to_json({named})::text || '}}'"""
        items = f"json_array_elements(({row})::json -> 'lots') WITH ORDINALITY AS one(item, n)"
        return f"(SELECT '[' || string_agg({pair}, ',' ORDER BY one.n) || ']' FROM {items})"


DIALECTS: Mapping[str, Dialect] = {"sqlite": Sqlite(), "postgresql": Postgresql()}


def views(dialect: str) -> dict[str, str]:
    """What each view selects, by its name."""
    of = DIALECTS[dialect]
    return {
        "batches": _batches(of),
        "weighings": _weighings(of),
        "deviations": _deviations(of),
        "corrections": _corrections(of),
        "checks": _checks(of),
        "check_steps": _check_steps(of),
    }


def make_views(connection: Connection) -> None:
    """Make the views, anew where there are any."""
    for name, select in views(connection.dialect.name).items():
        connection.exec_driver_sql(f"DROP VIEW IF EXISTS {name}")
        connection.exec_driver_sql(f"CREATE VIEW {name} AS {select}")


def _real(text: str, name: str) -> str:
    return f"CAST({text} AS DOUBLE PRECISION) AS {name}_real"


def _said(text: str) -> str:
    """A text; null where nothing was said."""
    return f"NULLIF({text}, '')"


def _made(of: Dialect, row: str, field: str = "") -> str:
    """The entries ``c`` that put a row's entry right, in one field of it (an SQL expression)."""
    about = f"{of.whole('c.body', 'of', 'n')} = {of.whole(f'{row}.body', 'n')}"
    found = f"""FROM entry c WHERE c.station = {row}.station AND c.batch = {row}.batch
      AND c.seq > {row}.seq AND c.kind = 'corrected' AND {about}"""
    return f"{found} AND {of.text('c.body', 'field')} = {field}" if field else found


def _stands(of: Dialect, row: str, field: str, first: str) -> str:
    """What stands in a field by now; ``first``, what was recorded; null where nothing does."""
    new = of.text("c.body", "new")
    last = f"(SELECT {new} {_made(of, row, field)} ORDER BY c.seq DESC LIMIT 1)"
    return f"NULLIF(COALESCE({last}, {first}), '')"


def _put_right(of: Dialect, row: str) -> str:
    """The fields that were put right, each once, in the order of the alphabet."""
    field = of.text("c.body", "field")
    each = f"(SELECT DISTINCT {field} AS field {_made(of, row)} ORDER BY field) AS made"
    return f"(SELECT {of.join}(made.field, ', ') FROM {each})"


def _rule(of: Dialect, row: str) -> str:
    name, k = of.text(row, "rule", "name"), of.text(row, "rule", "k")
    return f"CASE WHEN {name} = 'simple' THEN {name} ELSE {name} || ', k = ' || {k} END"


def _select(columns: Mapping[str, str], rest: str) -> str:
    listed = ",\n  ".join(
        one if one.endswith(f" AS {name}") else f"{one} AS {name}" for name, one in columns.items()
    )
    return f"SELECT\n  {listed}\n{rest}"


def _batches(of: Dialect) -> str:
    size = of.text("o.body", "batch_g")
    ends = "x.kind IN ('batch closed', 'batch abandoned')"
    mine = "FROM entry x WHERE x.station = o.station AND x.batch = o.batch"
    last = f"(SELECT max(x.seq) {mine})"
    columns = {
        "station": "o.station",
        "batch": "o.batch",
        "formula": of.text("o.body", "formula", "id"),
        "formula_name": of.text("o.body", "formula", "name"),
        "formula_revision": of.text("o.body", "formula", "revision"),
        "batch_g": size,
        "batch_g_real": _real(size, "batch_g"),
        "operator": _stands(of, "o", "'operator'", of.text("o.body", "operator")),
        "opened": "o.at",
        "status": _STATUS,
        "ended": f"(SELECT min(x.at) {mine} AND {ends})",
        "planned": of.length("o.body", "additions"),
        "weighed": f"(SELECT count(*) {mine} AND x.kind = 'addition accepted')",
        "entries": f"(SELECT count(*) {mine})",
        "last_entry": last,
        "hash": f"(SELECT x.hash FROM entry x WHERE x.station = o.station AND x.seq = {last})",
        "signed_by": "(SELECT max(s.key) FROM signature s WHERE s.station = o.station"
        f" AND s.batch = o.batch AND s.seq = {last})",
        "operator_recorded": _said(of.text("o.body", "operator")),
        "corrections": f"(SELECT count(*) {mine} AND x.kind = 'corrected')",
        "countersigned": f"(SELECT count(*) {mine} AND x.kind = 'countersigned')",
    }
    return _select(columns, "FROM entry o\nWHERE o.kind = 'batch opened'")


def _weighings(of: Dialect) -> str:
    def body(*path: str) -> str:
        return of.text("e.body", *path)

    many = of.length("e.body", "lots")
    the_last = f"(CASE WHEN {many} > 1 THEN 'lot ' || {many} ELSE 'lot' END)"

    def lot(item: str, n: str) -> str:
        part = f"'lot ' || {n}"
        last = f"SELECT {of.text('c.body', 'new')} {_made(of, 'e', part)}"
        return f"COALESCE(({last} ORDER BY c.seq DESC LIMIT 1), {of.text(item, 'lot')})"

    lots = f"""CASE WHEN {many} IS NULL THEN NULL
      WHEN EXISTS (SELECT 1 {_made(of, "e")}) THEN {of.lots("e.body", lot)}
      ELSE {body("lots")} END"""
    columns = {
        "station": "e.station",
        "batch": "e.batch",
        "formula": of.text("o.body", "formula", "id"),
        "formula_name": of.text("o.body", "formula", "name"),
        "formula_revision": of.text("o.body", "formula", "revision"),
        "batch_g": of.text("o.body", "batch_g"),
        "opened": "o.at",
        "status": _STATUS,
        "addition": of.whole("e.body", "addition"),
        **{name: body(name) for name in ("ingredient", "name")},
        "lot": _stands(of, "e", the_last, body("lot")),
        **{name: body(name) for name in (*_WEIGHING_MASSES, "verdict")},
        "reason": _stands(of, "e", "'reason'", body("reason")),
        **{name: body(name) for name in ("method", "scale", "interval_g", "tare_g", "gross_g")},
        "rule": _rule(of, "e.body"),
        **{name: body(name) for name in ("guard_g", "accept_low_g", "accept_high_g")},
        "scale_stood": body("check", "standing"),
        "scale_checked": body("check", "last", "at"),
        "operator": _stands(of, "e", "'operator'", body("operator")),
        **{name: body(name) for name in ("started", "accepted")},
        "entry": "e.seq",
        "hash": "e.hash",
        "lots": lots,
        "corrected": _put_right(of, "e"),
        **{f"{name}_recorded": _said(body(name)) for name in ("lot", "operator", "reason", "lots")},
        "allowed_by": _said(body("allowed_by")),
        **{f"{name}_real": _real(body(name), name) for name in _WEIGHING_MASSES},
    }
    return _select(
        columns,
        "FROM entry e\nLEFT JOIN entry o ON o.station = e.station AND o.batch = e.batch"
        " AND o.kind = 'batch opened'\nWHERE e.kind = 'addition accepted'",
    )


def _deviations(of: Dialect) -> str:
    def body(*path: str) -> str:
        return of.text("e.body", *path)

    what = f"""CASE e.kind
    WHEN 'addition accepted' THEN {body("verdict")}
    WHEN 'decided' THEN {body("decision")}
    WHEN 'put right' THEN {body("way")}
    WHEN 'scale changed' THEN {body("to")}
    WHEN 'step ended' THEN {body("outcome")}
    WHEN 'step decided' THEN {body("decision")}
    ELSE {body("cause")} END"""
    odd = f"""WHERE e.kind IN ('held', 'decided', 'resumed', 'zero moved', 'scale changed',
    'put right', 'restarted', 'batch abandoned', 'step decided', 'temperature struck out',
    'clock set')
  OR (e.kind = 'addition accepted' AND {body("verdict")} <> 'on target')
  OR (e.kind = 'step ended' AND {body("outcome")} <> 'done')
  OR (e.kind = 'batch closed' AND {body("early")} IS NOT NULL)
  OR (e.kind = 'tared' AND ({body("not_added_g")} IS NOT NULL
    OR {body("expected_confirmed")} IS NOT NULL OR {body("stood_confirmed")} IS NOT NULL))"""
    who = f"COALESCE({body('by')}, {body('operator')})"
    columns = {
        "station": "e.station",
        "batch": "e.batch",
        "entry": "e.seq",
        "at": "e.at",
        "kind": "e.kind",
        "addition": of.whole("e.body", "addition"),
        "step": of.whole("e.body", "step"),
        "what": what,
        "sum_g": f"COALESCE({body('sum_g')}, {body('net_g')})",
        "sum_g_real": _real(f"COALESCE({body('sum_g')}, {body('net_g')})", "sum_g"),
        "reason": _stands(of, "e", "'reason'", body("reason")),
        "operator": _stands(of, "e", "'operator'", who),
        "hash": "e.hash",
        "corrected": _put_right(of, "e"),
        "reason_recorded": _said(body("reason")),
        "operator_recorded": _said(who),
        "allowed_by": _said(body("allowed_by")),
    }
    return _select(columns, f"FROM entry e\n{odd}")


def _corrections(of: Dialect) -> str:
    def body(*path: str) -> str:
        return of.text("e.body", *path)

    columns = {
        "station": "e.station",
        "batch": "e.batch",
        "entry": "e.seq",
        "at": "e.at",
        "of_entry": "o.seq",
        "of_kind": "o.kind",
        "addition": of.whole("o.body", "addition"),
        "field": body("field"),
        **{name: _said(body(name)) for name in ("old", "new", "reason")},
        "operator": _said(body("by")),
        "although": _said(body("although")),
        "hash": "e.hash",
    }
    return _select(
        columns,
        "FROM entry e\nLEFT JOIN entry o ON o.station = e.station AND o.batch = e.batch"
        f" AND o.hash = {body('of', 'hash')}\nWHERE e.kind = 'corrected'",
    )


def _checks(of: Dialect) -> str:
    def body(*path: str) -> str:
        return of.text("e.body", *path)

    columns = {
        "station": "e.station",
        "entry": "e.seq",
        "at": "e.at",
        "scale": body("scale"),
        "outcome": body("outcome"),
        "operator": body("by"),
        "began": body("began"),
        "limit_g": body("limit_g"),
        "limit_g_real": _real(body("limit_g"), "limit_g"),
        "rule": _rule(of, "e.body"),
        "steps": of.length("e.body", "steps"),
        "deviation_g": body("repeatability", "s_g"),
        "deviation_g_real": _real(body("repeatability", "s_g"), "deviation_g"),
        "range_g": body("repeatability", "range_g"),
        "last_good": of.whole("e.body", "last_good", "seq"),
        "hash": "e.hash",
    }
    return _select(columns, "FROM entry e\nWHERE e.kind = 'scale checked'")


def _check_steps(of: Dialect) -> str:
    join, item = of.each("e.body", "steps")

    def found(*path: str) -> str:
        return of.text(item, *path)

    columns = {
        "station": "e.station",
        "entry": "e.seq",
        "at": found("at"),
        "scale": of.text("e.body", "scale"),
        "step": of.whole(item, "n"),
        "part": found("part"),
        "place": found("place"),
        "weight": found("weight", "name"),
        "nominal_g": found("weight", "nominal_g"),
        "net_g": found("net_g"),
        "error_g": found("error_g"),
        "error_g_real": _real(found("error_g"), "error_g"),
        "u_g": found("u_g"),
        "limit_g": found("limit_g"),
        "outcome": found("outcome"),
    }
    return _select(columns, f"FROM entry e\n{join}\nWHERE e.kind = 'scale checked'")
