"""Tables of heats from files: CSV as an office program writes it, or Parquet.

CSV: the first line names the columns; separated by commas, or by semicolons (numbers may then have
a decimal comma); UTF-8; empty lines and lines that start with # are passed over. What the columns
are is told in `flamefe.rules.columns`.
"""

import csv
import re
from io import StringIO
from pathlib import Path
from typing import Any

from flamefe.rules.columns import TableError

MOST_ROWS = 200_000
LARGEST_BYTES = 100_000_000

_DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+([eE][+-]?\d+)?", re.ASCII)

Rows = tuple[dict[str, Any], ...]


def read_table(path: Path | str) -> Rows:
    """Read the rows of a table.

    Args:
        path: a CSV file, or Parquet where the name ends in ".parquet" (needs pyarrow).

    Returns:
        One row a heat, column name to text or number; an empty cell is empty text or None.

    Raises:
        TableError: no table can be read from it; the text says where it fails.
        OSError: the file can't be read.

    Examples:
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     file = Path(folder, "heats.csv")
        ...     _ = file.write_text("thickness_mm;camber [mm]\\n12;1,5\\n")
        ...     read_table(file)
        ({'thickness_mm': '12', 'camber [mm]': '1.5'},)
    """
    file = Path(path)
    if file.stat().st_size > LARGEST_BYTES:
        raise TableError(f"{file.name} is larger than {LARGEST_BYTES // 1_000_000} MB.")
    rows = _parquet(file) if file.suffix == ".parquet" else _csv(file)
    if len(rows) > MOST_ROWS:
        raise TableError(f"{file.name} has {len(rows)} rows; at most {MOST_ROWS} are read.")
    return rows


def _csv(file: Path) -> Rows:
    raw = file.read_bytes()
    if b"\0" in raw:
        raise TableError(f"{file.name} is no plain text; save it as CSV in UTF-8.")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]
    if len(lines) < 2:
        raise TableError(
            f"{file.name} has no rows; its first line must name the columns, each further line is "
            "a heat."
        )
    separator = ";" if ";" in lines[0][1] else ","
    names = [cell.strip() for cell in _cells(lines[0][1], separator)]
    twice = [name for name in dict.fromkeys(names) if names.count(name) > 1]
    if twice or not all(names):
        fault = f"the column {twice[0]!r} stands twice" if twice else "a column has no name"
        raise TableError(f"{file.name}, line {lines[0][0]}: {fault}.")
    rows = []
    for number, line in lines[1:]:
        cells = _cells(line, separator)
        if len(cells) != len(names):
            hint = " A decimal comma needs semicolons between columns." if separator == "," else ""
            raise TableError(
                f"{file.name}, line {number}: {len(cells)} columns; needed: {len(names)} as in "
                f"the first line.{hint}"
            )
        rows.append(
            {name: _plain(cell, separator) for name, cell in zip(names, cells, strict=True)}
        )
    return tuple(rows)


def _cells(line: str, separator: str) -> list[str]:
    return next(csv.reader(StringIO(line), delimiter=separator))


def _plain(cell: str, separator: str) -> str:
    words = cell.strip()
    if separator == ";" and _DECIMAL_COMMA.fullmatch(words):
        return words.replace(",", ".")
    return words


def _parquet(file: Path) -> Rows:
    try:
        from pyarrow import ArrowException
        from pyarrow.parquet import read_table as read_parquet
    except ImportError:
        raise TableError(
            f"{file.name} is Parquet, which needs pyarrow (pip install pyarrow); or give CSV."
        ) from None
    try:
        return tuple(read_parquet(file).to_pylist())
    except ArrowException as error:
        raise TableError(f"{file.name} can't be read as Parquet: {error}") from None
