"""Finished runs kept in a folder, one file a run, each whole or not there."""

import time
from pathlib import Path

from flamefe.basics.whole_file import put_text
from flamefe.study.run_record import RunRecord

ABANDONED_S = 3600.0
"""Age from which a half-written file is taken for one of a process that was killed."""


class RunCache:
    """Runs by their key.

    A file is written aside and then renamed, so that a kill at any moment leaves whole files
    only. Several processes may write at the same time.

    Args:
        folder: is made where it isn't there.

    Example:
        >>> import tempfile
        >>> from flamefe.study.compare import Row
        >>> cache = RunCache(tempfile.mkdtemp())
        >>> cache.get("ab") is None
        True
        >>> _ = cache.put(RunRecord(key="ab", row=Row(name="", changed={}, peak_C=600.0)))
        >>> cache.get("ab").row.peak_C
        600.0
    """

    def __init__(self, folder: str | Path) -> None:
        self.folder = Path(folder)
        self.folder.mkdir(parents=True, exist_ok=True)

    def get(self, key: str) -> RunRecord | None:
        """The run of a key; None where there is none, or its file was damaged."""
        try:
            record = RunRecord.from_json(self._file(key).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        return record if record.key == key else None

    def put(self, record: RunRecord) -> Path:
        """Keep a run."""
        return put_text(self._file(record.key), record.to_json())

    def keys(self) -> tuple[str, ...]:
        """Keys of all runs that are kept."""
        return tuple(sorted(file.stem for file in self.folder.glob("[0-9a-f]*.json")))

    def tidy(self) -> None:
        """Take away what processes that were killed left half written."""
        oldest = time.time() - ABANDONED_S
        for file in self.folder.glob(".*.part.json"):
            try:
                if file.stat().st_mtime < oldest:
                    file.unlink()
            except OSError:  # another process was quicker
                continue

    def _file(self, key: str) -> Path:
        return self.folder / f"{key}.json"
