"""TOML changed as a person would change it: what is not meant stays as it was written.

The file's text and the values wanted go in, a text comes out that reads as exactly those values
(that is checked, whatever was done to get there). Comments, order, spacing and the way numbers are
written are kept. A comment ahead of a table belongs to that table, and moves with it; where a table
goes, its comment stays behind rather than being lost.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, MutableMapping, Sequence
from typing import Any

import tomlkit
from tomlkit.container import Container
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import (
    AoT,
    Array,
    Comment,
    InlineTable,
    Item,
    Null,
    SingleKey,
    Table,
    Whitespace,
    item,
)

Path = tuple[str, ...]
#: For the rows of a list of tables, by its path: which row each was before, ``None`` for a new one.
Origins = Mapping[Path, Sequence[int | None]]
#: Tables, and lists of them, that stand in lines of their own table where they are new.
_IN_LINE = ("sugars", "cautions")


class EditError(ValueError):
    """A text that cannot be changed so that it reads as wanted."""


def edited(text: str, wanted: Mapping[str, Any], origins: Origins | None = None) -> str:
    """``text`` changed so that it reads as ``wanted``. Raises :class:`EditError`."""
    try:
        document = tomlkit.parse(text)
        _Editor(origins or {}).sync(document, wanted, ())
        out = tomlkit.dumps(document)
        out = out if text.strip() else out.lstrip("\n")
        if tomllib.loads(out) == wanted:
            return out
    except (TOMLKitError, tomllib.TOMLDecodeError, RecursionError, LookupError) as error:
        raise EditError(str(error)) from error
    raise EditError("the change would alter something else")


class _Editor:
    def __init__(self, origins: Origins) -> None:
        self._origins = origins

    def sync(self, have: MutableMapping[str, Any], wanted: Mapping[str, Any], path: Path) -> None:
        for key in [key for key in have if key not in wanted]:
            _drop(have, key)
        for key, value in wanted.items():
            here, now = (*path, key), have.get(key)
            if now is None:
                self._add(have, key, value)
            elif isinstance(now, InlineTable) and isinstance(value, Mapping):
                if _plain(now) != value:
                    have[key] = _in_line(value)
            elif isinstance(value, Mapping) and isinstance(now, MutableMapping):
                if now and not value and isinstance(now, Table):
                    tail = _taken(now)
                    have[key] = tomlkit.table()  # its header was only in those of its tables
                    _give(have[key], tail)
                else:
                    self.sync(now, value, here)
            elif _rows(value) and isinstance(now, AoT):
                self._sync_rows(now, value, here)
            elif _rows(value) and isinstance(now, Array):
                _sync_list(now, value)
            elif _plain(now) != value:
                have[key] = value

    def _add(self, have: MutableMapping[str, Any], key: str, value: Any) -> None:
        made: Any = value
        if isinstance(value, Mapping):
            if key in _IN_LINE or isinstance(have, InlineTable):
                made = _in_line(value)
            else:
                made = tomlkit.table()
                self.sync(made, value, ())
        elif _rows(value) and key in _IN_LINE:
            made = _list(value)
        elif _rows(value) and not isinstance(have, InlineTable):
            made = tomlkit.aot()
            for row in value:
                made.append(self._row(made, row))
        body = _container(have)
        if isinstance(made, Table | AoT):
            # What stands at the end of a table belongs to what follows it, and stays there.
            inner = have if isinstance(have, Table) and not have.is_super_table() else None
            tail = _taken(inner) if inner is not None else []
            have[key] = made
            if inner is not None:
                _give(inner, tail or [Whitespace("\n")])
        elif body is not None and (after := _last_plain(body)) is not None:
            # Beside the other keys, not behind the blank line that follows them.
            body._insert_after(after, key, made)
            if isinstance(have, Table):
                dict.__setitem__(have, key, made)  # as its own way of setting does
        else:
            have[key] = made

    def _row(self, rows: AoT, value: Mapping[str, Any]) -> Table:
        made = item({}, _parent=rows)
        assert isinstance(made, Table)
        self.sync(made, value, ())
        return made

    def _sync_rows(self, rows: AoT, wanted: Sequence[Mapping[str, Any]], path: Path) -> None:
        old = list(rows.body)
        origins = list(self._origins.get(path, ()))
        if len(origins) != len(wanted):
            origins = [n if n < len(old) else None for n in range(len(wanted))]
        if origins != list(range(len(old))):
            self._reorder(rows, origins)
        for row, value in zip(rows.body, wanted, strict=True):
            self.sync(row, value, path)

    def _reorder(self, rows: AoT, origins: Sequence[int | None]) -> None:
        """Put the rows in their new order, each with the comments ahead of it."""
        old = list(rows.body)
        tails = ["".join(one.as_string() for one in _taken(row)) for row in old]
        end = tails.pop() if tails else ""
        leads = ["", *tails]
        gone = [n for n in range(len(old)) if n not in origins]
        made: list[Table] = []
        for n in origins:
            row = self._row(rows, {}) if n is None else old[n]
            lead = "" if n is None else leads[n]
            while gone and n is not None and gone[0] < n:
                lead = leads[gone.pop(0)].rstrip("\n") + lead
            lead = lead.lstrip("\n")
            row.trivia.indent = f"\n{lead}" if made else lead
            made.append(row)
        rest = "".join(leads[n] for n in gone).rstrip("\n") + end
        rows.body[:] = made
        list.clear(rows)
        list.extend(rows, made)
        if made and rest:
            _give(made[-1], [Whitespace(rest)])


def _rows(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(x, Mapping) for x in value)


def _plain(value: Any) -> Any:
    return value.unwrap() if hasattr(value, "unwrap") else value


def _in_line(values: Mapping[str, Any]) -> InlineTable:
    """A table on one line."""
    inside = ", ".join(
        f"{SingleKey(key).as_string()} = "
        + (_in_line(value) if isinstance(value, Mapping) else item(value)).as_string()
        for key, value in values.items()
    )
    made = tomlkit.parse(f"x = {{ {inside} }}" if inside else "x = {}")["x"]
    assert isinstance(made, InlineTable)
    return made


def _list(rows: Sequence[Mapping[str, Any]]) -> Array:
    """A list of tables in lines: one stands beside its key, several each on a line."""
    if len(rows) == 1:
        inside = _in_line(rows[0]).as_string()
    else:
        inside = "".join(f"\n    {_in_line(row).as_string()}," for row in rows) + "\n"
    made = tomlkit.parse(f"x = [{inside}]\n")["x"]
    assert isinstance(made, Array)
    return made


def _sync_list(have: Array, wanted: Sequence[Mapping[str, Any]]) -> None:
    """Change what is another, in its place: what stands beside the rest stays beside it."""
    for n in reversed(range(len(have))):
        if len(have) > len(wanted) and _plain(have[n]) not in wanted:
            del have[n]
    while len(have) > len(wanted):
        del have[-1]
    for n, row in enumerate(wanted):
        if n >= len(have):
            have.append(_in_line(row))
        elif _plain(have[n]) != row:
            have[n] = _in_line(row)


def _container(have: Any) -> Container | None:
    """What holds the keys of a document or of a table; none for one on a line, or in pieces."""
    if isinstance(have, Container):
        return have
    return have.value if isinstance(have, Table) else None


def _last_plain(body: Container) -> str | None:
    """The last key ahead of the first table; none where there is none to stand beside."""
    last = None
    for key, value in body.body:
        if isinstance(value, Table | AoT):
            break
        if key is not None and not key.is_dotted():
            last = key.key
    return last


def _drop(have: MutableMapping[str, Any], key: str) -> None:
    """Remove a key; comments that stand at the end of a table are of what follows, and stay."""
    body = _container(have)
    gone = have[key]
    rows = list(gone.body) if isinstance(gone, AoT) else [gone] if isinstance(gone, Table) else []
    tail = [one for row in rows for one in _taken(row)]
    before: Table | None = None
    after: Table | None = None
    if body is not None and _comments(tail):
        passed = False
        for each, value in body.body:
            one = value.body[-1] if isinstance(value, AoT) and value.body else value
            if each is not None and each.key == key:
                passed = True
            elif isinstance(one, Table) and not passed:
                before = one
            elif isinstance(one, Table) and after is None:
                after = value.body[0] if isinstance(value, AoT) else one
    del have[key]
    if before is not None:
        _give(before, tail)
    elif after is not None:
        after.trivia.indent = "".join(one.as_string() for one in tail) + after.trivia.indent


def _ends(table: Table) -> Container:
    """Where the text of a table ends: in the last of the tables inside it."""
    for _, value in reversed(table.value.body):
        if isinstance(value, Null):
            continue
        if isinstance(value, Table):
            return _ends(value)
        if isinstance(value, AoT) and value.body:
            return _ends(value.body[-1])
        break
    return table.value


def _taken(table: Table) -> list[Item]:
    """Take comments and blank lines off the end of a table."""
    body = _ends(table).body
    out: list[Item] = []
    while body and body[-1][0] is None and isinstance(body[-1][1], Comment | Whitespace | Null):
        out.append(body.pop()[1])
    return [one for one in reversed(out) if not isinstance(one, Null)]


def _give(table: Table, items: Sequence[Item]) -> None:
    _ends(table).body.extend((None, one) for one in items)


def _comments(items: Sequence[Item]) -> list[Item]:
    return [one for one in items if isinstance(one, Comment)]


def comments(text: str) -> Iterator[str]:
    """The comments of a text, for whoever wants to see that they are kept."""
    for line in text.splitlines():
        if line.lstrip().startswith("#"):
            yield line.strip()
