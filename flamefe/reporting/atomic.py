"""Files that are either whole or not there, and folders that are someone else's."""

from flamefe.basics.errors import FlamefeError
from flamefe.basics.whole_file import put_text, written_aside

__all__ = ["FolderInUse", "put_text", "written_aside"]


class FolderInUse(FlamefeError):
    """A folder holds files that no result has left there, so none may be written into it."""
