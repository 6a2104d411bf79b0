"""Ready jobs that come with the package."""

import atexit
from contextlib import ExitStack
from importlib.resources import as_file, files
from pathlib import Path

from flamefe.basics.errors import OutOfRange

_OPEN = ExitStack()
atexit.register(_OPEN.close)


def job_names() -> tuple[str, ...]:
    """Names of the ready jobs.

    Example:
        >>> job_names()
        ('conveyor_girder', 'drum_ring', 'hopper_apron', 'hopper_wall_bays', 'platform_panel')
    """
    names = (entry.name for entry in (files("flamefe") / "examples" / "jobs").iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def job_path(name: str) -> Path:
    """Path of a ready job's definition.

    Args:
        name: one of ``job_names()``.

    Raises:
        OutOfRange: there is no such job.

    Example:
        >>> job_path("conveyor_girder").name
        'conveyor_girder.toml'
    """
    if name not in job_names():
        raise OutOfRange(f"No ready job {name!r}; there are: {', '.join(job_names())}.")
    folder = files("flamefe") / "examples" / "jobs"
    return _OPEN.enter_context(as_file(folder / f"{name}.toml"))
