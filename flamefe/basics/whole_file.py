"""Files that are either whole or not there."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def written_aside(file: Path) -> Iterator[Path]:
    """Give a place beside ``file`` to write to; what was written there then becomes ``file``.

    When writing fails, ``file`` stays as it was and nothing is left beside it.
    """
    aside = file.with_name(f".{file.stem}.{os.getpid()}.part{file.suffix}")
    try:
        yield aside
        aside.replace(file)
    except OSError as error:
        if error.filename is not None and Path(error.filename) == aside:
            error.filename = str(file)  # told by the name that was asked for
        raise
    finally:
        aside.unlink(missing_ok=True)


def put_text(file: Path, text: str) -> Path:
    """Write ``text`` as UTF-8 with plain line ends, whole or not at all."""
    with written_aside(file) as aside:
        aside.write_text(text, encoding="utf-8", newline="\n")
    return file
