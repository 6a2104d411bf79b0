"""The folder of a study: its finished runs, its table and what belongs to it."""

from pathlib import Path

from flamefe.basics.whole_file import put_text
from flamefe.basics.writable import check_writable_folder
from flamefe.reporting.atomic import FolderInUse
from flamefe.reporting.sweep_summary import study_json, summary_path
from flamefe.reporting.sweep_table import repeats_csv, write_csv, writer_for
from flamefe.study.sweep import RUNS, Sweep

TABLE = "table.csv"
REPEATS = "repeats.csv"


def check_study_folder(folder: Path) -> Path:
    """Make sure that a study may use a folder.

    Args:
        folder: does not exist, is empty, or holds an earlier study (a folder "runs").

    Raises:
        FolderInUse: it is a file, or holds something else.
        Unwritable: it can't be made, or nothing can be written into it.

    Example:
        >>> check_study_folder(Path("no-such-folder")).name
        'no-such-folder'
    """
    if folder.exists() and not folder.is_dir():
        raise FolderInUse(f"{folder} is a file; give a folder for the study.")
    if folder.is_dir() and not (folder / RUNS).is_dir() and any(folder.iterdir()):
        raise FolderInUse(
            f"The folder {folder} holds files but no earlier study (a folder {RUNS}), so nothing "
            "is written into it; give an empty or a new folder."
        )
    return check_writable_folder(folder)


def write_study(sweep: Sweep, folder: Path, *, table: Path | None = None) -> tuple[Path, ...]:
    """Write the table of a study and its summary; with repeats their table too.

    Args:
        sweep: the finished study.
        folder: its folder.
        table: one more table, CSV or Parquet by its name, with its own summary; None: none.

    Returns:
        The files.

    Raises:
        TableFormatError: see `writer_for`.
        OSError: a file can't be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = [
        write_csv(sweep, folder / TABLE),
        put_text(summary_path(folder / TABLE), study_json(sweep)),
    ]
    if sweep.repeats:
        written.append(put_text(folder / REPEATS, repeats_csv(sweep)))
    if table is not None and table.resolve() != (folder / TABLE).resolve():
        table.parent.mkdir(parents=True, exist_ok=True)
        written.append(writer_for(table)(sweep, table))
        written.append(put_text(summary_path(table), study_json(sweep)))
    return tuple(dict.fromkeys(written))
