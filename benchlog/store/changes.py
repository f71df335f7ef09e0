"""Every edit of the library goes through an act, which is written down and can be taken back."""

import json
import sqlite3
from collections.abc import Mapping

from benchlog.errors import BadInput
from benchlog.store.ids import new_id

Value = str | int | float | None

_KEPT_FOR_EVER = "reading"
"""The table whose rows are never removed: undo withdraws them."""


class Act:
    """What the operator did in one go, inside one transaction of `connection`."""

    def __init__(
        self, connection: sqlite3.Connection, label: str, at: str, undoes: str | None = None
    ) -> None:
        self.connection = connection
        self.id = new_id()
        self.label = label
        self.at = at
        self._undoes = undoes

    def insert(self, table: str, row: Mapping[str, Value]) -> None:
        """Add a row; its `id` is in it."""
        insert(self.connection, table, row)
        self._note(table, str(row["id"]), None, row)

    def update(self, table: str, row: str, values: Mapping[str, Value]) -> None:
        """Change columns of the row with this id."""
        columns = ", ".join(f'"{name}"' for name in values)
        before = self.connection.execute(f"SELECT {columns} FROM {table} WHERE id = ?", (row,)).fetchone()  # noqa: S608
        settings = ", ".join(f'"{name}" = ?' for name in values)
        self.connection.execute(f"UPDATE {table} SET {settings} WHERE id = ?", (*values.values(), row))  # noqa: S608
        self._note(table, row, dict(zip(values, before, strict=True)), values)

    def remove(self, table: str, row: str) -> None:
        """Remove the row with this id; a reading is withdrawn instead."""
        if table == _KEPT_FOR_EVER:
            self.insert("withdrawn", {"id": row, "at": self.at, "reason": "undone"})
            return
        cursor = self.connection.execute(f"SELECT * FROM {table} WHERE id = ?", (row,))  # noqa: S608
        names = [column[0] for column in cursor.description]
        before = dict(zip(names, cursor.fetchone(), strict=True))
        self.connection.execute(f"DELETE FROM {table} WHERE id = ?", (row,))  # noqa: S608
        self._note(table, row, before, None)

    def _note(
        self,
        table: str,
        row: str,
        before: Mapping[str, Value] | None,
        after: Mapping[str, Value] | None,
    ) -> None:
        self.connection.execute(
            'INSERT INTO change (act, label, at, undoes, "table", row, "before", "after")'
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (self.id, self.label, self.at, self._undoes, table, row, _json(before), _json(after)),
        )


def insert(connection: sqlite3.Connection, table: str, row: Mapping[str, Value]) -> None:
    """Add a row without writing the change down; names come from this program, values are bound."""
    columns = ", ".join(f'"{name}"' for name in row)
    marks = ", ".join("?" * len(row))
    connection.execute(f"INSERT INTO {table} ({columns}) VALUES ({marks})", tuple(row.values()))  # noqa: S608


def newest_act(connection: sqlite3.Connection) -> tuple[str, str]:
    """Id and label of the newest act that still stands; empty texts where there is none."""
    last = connection.execute(
        "SELECT act, label FROM change WHERE undoes IS NULL AND act NOT IN"
        " (SELECT undoes FROM change WHERE undoes IS NOT NULL) ORDER BY n DESC LIMIT 1"
    ).fetchone()
    return (str(last[0]), str(last[1])) if last is not None else ("", "")


def undo_last(connection: sqlite3.Connection, at: str) -> str:
    """Take the newest act back that still stands; its label, or nothing if there is none.

    `BadInput` if something kept later hangs on what would have to go.
    """
    done, label = newest_act(connection)
    if not done:
        return ""
    act = Act(connection, f"undo: {label}", at, undoes=done)
    changes = connection.execute(
        'SELECT "table", row, "before", "after" FROM change WHERE act = ? ORDER BY n DESC', (done,)
    ).fetchall()
    try:
        for table, row, before, after in changes:
            if before is None:
                act.remove(table, row)
            elif after is None:
                act.insert(table, json.loads(before))
            else:
                act.update(table, row, json.loads(before))
    except sqlite3.IntegrityError as error:
        raise BadInput(label, "cannot be taken back, since something kept later hangs on it") from error
    return label


def _json(values: Mapping[str, Value] | None) -> str | None:
    return None if values is None else json.dumps(dict(values), allow_nan=False, ensure_ascii=False)
