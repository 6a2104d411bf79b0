"""Whether a folder or file can be written, found out before hours are spent."""

import tempfile
from contextlib import suppress
from pathlib import Path

from flamefe.basics.errors import FlamefeError


class Unwritable(FlamefeError):
    """A folder or file can't be written where it was asked for."""


def check_writable_folder(folder: Path) -> Path:
    """Try to make a folder and to write into it; what was made for it is taken away again.

    Args:
        folder: may be missing, and those above it, too.

    Returns:
        The folder.

    Raises:
        Unwritable: it can't be made, or nothing can be written into it.

    Example:
        >>> check_writable_folder(Path("no-such-folder/within")).name
        'within'
        >>> Path("no-such-folder").exists()
        False
    """
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    made: list[Path] = []
    try:
        for one in reversed(missing):
            one.mkdir()
            made.append(one)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise Unwritable(
            f"Nothing can be written into the folder {folder} ({error.strerror or error}); give "
            "another one."
        ) from None
    finally:
        for one in reversed(made):
            with suppress(OSError):
                one.rmdir()
    return folder


def check_writable_file(file: Path) -> Path:
    """Make sure that a file can be written, its folder made if need be; nothing is left behind.

    Raises:
        Unwritable: it is a folder, or nothing can be written where it would stand.

    Example:
        >>> check_writable_file(Path("card.json")).name
        'card.json'
    """
    if file.is_dir():
        raise Unwritable(f"{file} is a folder; give a file.")
    check_writable_folder(file.parent)
    return file
