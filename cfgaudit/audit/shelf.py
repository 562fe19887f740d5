"""Where the records of a fleet are kept: in memory, or in a file that SQL can be asked of.

A shelf gives its records back in no order: to sort so much would take more memory than all the
rest. So what is made of them must not hang on their order, nor on how many worked on them.
"""

import json
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple, Protocol

from cfgaudit.audit.record import KeptFinding, Record, mark_of, since

IN_MEMORY = 10_000  # craft, at most, without a file
ROWS = 1_000  # of an answer, at most
_AT_ONCE = 512  # records that are written, or read, at once
_MEMORY = "64MB"  # that the database may hold
_STORING = "32MB"  # the same while worker processes hold memory too
_AT_A_TIME = 64  # rows that are handed to it at once


class ShelfError(Exception):
    """Something can't be kept, or asked for; one line says why."""


class QueryResult(NamedTuple):
    """What a query gave: the names of its columns, and its rows."""

    columns: tuple[str, ...]
    rows: tuple[tuple[object, ...], ...]
    more: bool = False  # there are further rows, which were left


class Shelf(Protocol):
    """Keeps one record a source."""

    def known(self, names: Sequence[str]) -> dict[str, str]:
        """The marks (see mark_of) of those of the sources that were audited before."""
        ...

    def put(self, records: Iterable[Record]) -> None:
        """Keep records; one of a source that is there already takes its place."""
        ...

    def records(
        self, of: Sequence[str] | None = None, *, settings: bool = True, findings: bool = True
    ) -> Iterator[Record]:
        """The records `of` some sources, or every one, in no order.

        They come quicker without their settings, or their findings, which may then be left out.
        """
        ...

    def close(self) -> None:
        """Write what is not yet written."""
        ...


class MemoryShelf:
    """Keeps records in memory, up to 10,000."""

    def __init__(self) -> None:
        self._records: dict[str, Record] = {}
        self._texts: dict[str, str] = {}
        self._paths: dict[tuple[str, ...], tuple[str, ...]] = {}

    def known(self, names: Sequence[str]) -> dict[str, str]:
        """As Shelf does; within one run nothing is known before."""
        return {}

    def put(self, records: Iterable[Record]) -> None:
        """As Shelf does. Raises ShelfError where there are too many."""
        texts = self._texts
        for record in records:
            kept = tuple([texts.setdefault(text, text) for text in record.texts])
            paths = self._paths.setdefault(record.paths, record.paths)
            self._records[record.source] = record._replace(paths=paths, texts=kept)
        if len(self._records) > IN_MEMORY:
            raise ShelfError(
                f"more than {IN_MEMORY:,} craft are not held in memory: name a --shelf FILE, "
                "which wants the extra `fleet`"
            )

    def records(
        self, of: Sequence[str] | None = None, *, settings: bool = True, findings: bool = True
    ) -> Iterator[Record]:
        """As Shelf does."""
        if of is not None:
            return (self._records[name] for name in of if name in self._records)
        return iter(self._records.values())

    def close(self) -> None:
        """Nothing is left to write."""


_TABLES = """
CREATE TABLE IF NOT EXISTS craft_kept (
    source VARCHAR, digest VARCHAR, stamp VARCHAR, reason VARCHAR, craft VARCHAR,
    firmware VARCHAR, version VARCHAR, built VARCHAR, board VARCHAR, layout VARCHAR,
    size VARCHAR, cells VARCHAR, lines INTEGER, unread INTEGER, errors INTEGER,
    warnings INTEGER, notes INTEGER, unchecked INTEGER,
    findings STRUCT(rule VARCHAR, level VARCHAR, paths VARCHAR[], fingerprint VARCHAR)[],
    shape INTEGER, words INTEGER[]);
ALTER TABLE craft_kept ADD COLUMN IF NOT EXISTS since VARCHAR[][];
CREATE TABLE IF NOT EXISTS word (id INTEGER, text VARCHAR);
CREATE TABLE IF NOT EXISTS shape (id INTEGER, paths VARCHAR[]);
CREATE OR REPLACE VIEW craft AS
    SELECT * EXCLUDE (stamp, findings, since, shape, words) FROM craft_kept;
CREATE OR REPLACE VIEW finding AS
    SELECT source, found.rule, found.level, found.paths, found.fingerprint
    FROM (SELECT source, unnest(findings) AS found FROM craft_kept) AS told;
CREATE OR REPLACE VIEW setting AS
    SELECT source, path, text AS value FROM (
        SELECT source, unnest(paths) AS path, unnest(words) AS id
        FROM craft_kept JOIN shape ON shape.id = craft_kept.shape
    ) AS held JOIN word ON word.id = held.id;
"""
_THOSE = "WHERE source IN (SELECT unnest(?::VARCHAR[]))"
_OF_CRAFT = {
    name: "INTEGER" if name in ("lines", "unread", "errors", "warnings", "notes", "unchecked")
    else "VARCHAR"
    for name in ("source", "digest", *Record._fields[2:18])
}  # fmt: skip
# What is handed over for each table, in the words of JSON structures.
_COLUMNS: Final[dict[str, dict[str, object]]] = {
    "craft_kept": {
        **_OF_CRAFT,
        "findings": [
            {"rule": "VARCHAR", "level": "VARCHAR", "paths": ["VARCHAR"], "fingerprint": "VARCHAR"}
        ],
        "since": [["VARCHAR"]],  # of each finding, what its settings were before a change
        "shape": "INTEGER",
        "words": ["INTEGER"],
    },
    "word": {"id": "INTEGER", "text": "VARCHAR"},
    "shape": {"id": "INTEGER", "paths": ["VARCHAR"]},
}


class FileShelf:
    """Keeps records in a DuckDB file; settings as numbers of words, each text once.

    A batch of records is written whole or not at all, so the file is sound whenever it stops.
    """

    def __init__(self, file: Path | str) -> None:
        self._duckdb = _duckdb()
        try:
            self._base = self._duckdb.connect(str(file), config={"threads": 1})
            self._base.execute(
                f"SET memory_limit = '{_STORING}'; SET preserve_insertion_order = true"
            )
            self._base.execute(_TABLES)
            self._words = {text: n for n, text in self._all("SELECT id, text FROM word")}
            self._shapes = {tuple(paths): n for n, paths in self._all("SELECT * FROM shape")}
            # whether any was audited before this run: what is found twice is audited twice
            self._has_before = bool(self._all("SELECT 1 FROM craft_kept LIMIT 1"))
        except self._duckdb.Error as error:
            raise ShelfError(f"{file} can't be opened as a shelf: {_first_line(error)}") from None
        self._waiting: dict[str, Record] = {}

    def known(self, names: Sequence[str]) -> dict[str, str]:
        """As Shelf does."""
        rows: list[tuple[str, str, str]] = []
        if self._has_before:
            rows = self._all(
                "SELECT source, stamp, digest FROM craft_kept "
                "WHERE digest != '' AND source IN (SELECT unnest(?::VARCHAR[]))",
                [list(names)],
            )
        found = {source: mark_of(stamp, digest) for source, stamp, digest in rows}
        waiting = (self._waiting[name] for name in names if name in self._waiting)
        return found | {one.source: mark_of(one.stamp, one.digest) for one in waiting}

    def put(self, records: Iterable[Record]) -> None:
        """As Shelf does."""
        for record in records:
            self._waiting[record.source] = record
        if len(self._waiting) >= _AT_ONCE:
            self._write()

    def records(
        self, of: Sequence[str] | None = None, *, settings: bool = True, findings: bool = True
    ) -> Iterator[Record]:
        """As Shelf does."""
        self._write_last()
        yield from self._records(of, settings=settings, findings=findings)

    def _records(
        self, of: Sequence[str] | None = None, *, settings: bool = True, findings: bool = True
    ) -> Iterator[Record]:
        """What is written."""
        texts = [text for _, text in self._all("SELECT id, text FROM word ORDER BY id")]
        shapes = dict(self._all("SELECT id, paths FROM shape"))
        paths = {number: tuple(held) for number, held in shapes.items()}
        facts = ", ".join(("source", "digest", *Record._fields[2:18]))
        found = "findings, since" if findings else "[], []"
        held = "shape, words" if settings else "0, []"
        cursor = self._base.cursor()
        which, given = ("", []) if of is None else (_THOSE, [list(of)])
        cursor.execute(f"SELECT {facts}, {found}, {held} FROM craft_kept {which}", given)
        while rows := cursor.fetchmany(_AT_ONCE):
            for *known, kept, since_when, shape, words in rows:
                before = since_when or [()] * len(kept)
                told = tuple([_found(was, **f) for f, was in zip(kept, before, strict=True)])
                shown = paths.get(shape, ()) if settings else ()
                yield Record._make([*known, told, shown, tuple([texts[n] for n in words])])

    def query(self, sql: str, most: int = ROWS) -> QueryResult:
        """What SQL gives over `craft`, `finding` and `setting`, the first rows of it.

        It asks and does nothing else: no table is changed by it, and no file written. Raises
        ShelfError.
        """
        self._write_last()
        try:
            self._base.execute("SET enable_external_access = false")  # it reads no other file
            asked = self._base.extract_statements(sql)
            if [statement.type.name for statement in asked] != ["SELECT"]:
                raise ShelfError("--query takes one question, as SELECT asks it, and nothing else")
            cursor = self._base.execute(asked[0])
            names = tuple(column[0] for column in cursor.description)
            rows = cursor.fetchmany(most + 1)
        except self._duckdb.Error as error:
            raise ShelfError(f"--query: {_first_line(error)}") from None
        return QueryResult(names, tuple(rows[:most]), len(rows) > most)

    def to_parquet(self, folder: Path | str) -> tuple[Path, ...]:
        """Write craft.parquet, finding.parquet and setting.parquet, sorted. Raises ShelfError."""
        self._write_last()
        try:
            Path(folder).mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise ShelfError(f"{folder} can't be written: {error.strerror}") from None
        written: list[Path] = []
        for name, order in (
            ("craft", "source"),
            ("finding", "source, rule, paths, fingerprint"),
            ("setting", "source, path"),
        ):
            file = Path(folder) / f"{name}.parquet"
            quoted = str(file).replace("'", "''")
            try:
                self._base.execute(
                    f"COPY (SELECT * FROM {name} ORDER BY {order}) TO '{quoted}' (FORMAT parquet)"
                )
            except self._duckdb.Error as error:
                raise ShelfError(f"{file}: {_first_line(error)}") from None
            written.append(file)
        return tuple(written)

    def close(self) -> None:
        """As Shelf does."""
        self._write()
        self._base.close()

    def _all(self, sql: str, given: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        rows: list[tuple[Any, ...]] = self._base.execute(sql, list(given)).fetchall()
        return rows

    def _write_last(self) -> None:
        """Write what waits; what is asked of the file next may take more room than storing did."""
        self._write()
        self._base.execute(f"SET memory_limit = '{_MEMORY}'")

    def _write(self) -> None:
        """Write what waits, all of it or nothing."""
        if not self._waiting:
            return
        # most are new: only what is there is gone through whole, which takes time and memory
        there = self._all(f"SELECT source FROM craft_kept {_THOSE}", [list(self._waiting)])
        known = [source for (source,) in there]
        for before in self._records(known) if known else ():
            self._waiting[before.source] = since(before, self._waiting[before.source])
        tables: dict[str, list[dict[str, object]]] = {name: [] for name in _COLUMNS}
        for record in self._waiting.values():
            self._row(record, tables)
        self._base.execute("BEGIN")
        try:
            if known:
                self._base.execute(f"DELETE FROM craft_kept {_THOSE}", [known])
            for table, rows in tables.items():
                self._insert(table, rows)
            self._base.execute("COMMIT")
        except BaseException:
            self._base.execute("ROLLBACK")
            raise
        self._waiting.clear()

    def _row(self, record: Record, tables: dict[str, list[dict[str, object]]]) -> None:
        words = self._words
        codes: list[int] = []
        for text in record.texts:
            number = words.get(text)
            if number is None:
                number = words[text] = len(words)
                tables["word"].append({"id": number, "text": text})
            codes.append(number)
        shape = self._shapes.get(record.paths)
        if shape is None:
            shape = self._shapes[record.paths] = len(self._shapes)
            tables["shape"].append({"id": shape, "paths": record.paths})
        row = {name: getattr(record, name) for name in _OF_CRAFT}
        tables["craft_kept"].append(
            {
                **row,
                "findings": [found._asdict() for found in record.findings],
                "since": [found.was for found in record.findings],
                "shape": shape,
                "words": codes,
            }
        )

    def _insert(self, table: str, rows: Sequence[dict[str, object]]) -> None:
        """Hand rows over as one text of JSON: the quickest way that wants no further package."""
        names = ", ".join(_COLUMNS[table])
        for start in range(0, len(rows), _AT_A_TIME):
            self._base.execute(
                f"INSERT INTO {table} ({names}) SELECT unnest(row) FROM "
                f"(SELECT unnest(from_json(?, ?)) AS row)",
                [json.dumps(rows[start : start + _AT_A_TIME]), json.dumps([_COLUMNS[table]])],
            )


def _found(
    was: Iterable[str], rule: str, level: str, paths: Iterable[str], fingerprint: str
) -> KeptFinding:
    return KeptFinding(rule, level, tuple(paths), fingerprint, tuple(was))


def _duckdb() -> Any:
    try:
        import duckdb
    except ImportError:
        raise ShelfError("a shelf in a file wants DuckDB: pip install 'cfgaudit[fleet]'") from None
    return duckdb


def _first_line(error: Exception) -> str:
    return str(error).partition("\n")[0]
