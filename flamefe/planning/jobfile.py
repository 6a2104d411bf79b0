"""The file of a job: readable lines that are only ever added, each one checked."""

import json
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any, BinaryIO

from flamefe.basics.errors import FlamefeError

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

FORMAT = "flamefe job"
VERSION = 1
FIRST = "0" * 16
LOCKED = 1 << 30
"""Byte of the file that is locked while an entry is added, far behind its end."""


class JobFileError(FlamefeError, ValueError):
    """A job file is missing, damaged or of another format."""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One line of a job file.

    Args:
        number: 0, 1, 2, ...
        kind: "start", "measurement", "plan", "decision", ...
        time: when it was written, ISO 8601, UTC.
        data: what it says.
        check: first 16 hex digits of the SHA-256 of the check before it and of its own text.

    Example:
        >>> Entry(number=0, kind="start", time="2024-05-01T08:00:00+00:00", data={}, check="").kind
        'start'
    """

    number: int
    kind: str
    time: str
    data: Mapping[str, Any]
    check: str


@dataclass(frozen=True, kw_only=True)
class Read:
    """What a job file holds.

    Args:
        entries: that are whole, in order.
        whole: bytes that they take.
        torn: bytes behind them, of an entry that was cut off while it was written.
        closed: whether the last entry ends in a line end.
    """

    entries: tuple[Entry, ...]
    whole: int
    torn: int
    closed: bool


def create(file: Path, data: Mapping[str, Any]) -> Entry:
    """Begin a job file with its entry "start"; it is there whole, or not at all.

    Args:
        file: that must not be there yet.
        data: what the start says.

    Raises:
        JobFileError: the file is there already.
        OSError: it can't be written.

    Example:
        >>> import tempfile
        >>> place = Path(tempfile.mkdtemp()) / "girder.job"
        >>> entry = create(place, {"title": "Girder"})
        >>> read(place).entries[0].data["title"]
        'Girder'
    """
    if file.exists():
        raise JobFileError(f"{file} is there already; give the new job another name.")
    if not file.parent.is_dir():
        raise JobFileError(f"There is no folder {file.parent} for {file.name}; make it first.")
    head = {"format": FORMAT, "version": VERSION, **data}
    line, entry = _line(0, "start", head, FIRST)
    aside = file.with_name(f".{file.name}.{os.getpid()}.part")
    try:
        try:
            with aside.open("xb") as stream:
                stream.write(line)
                _down(stream)
        except OSError as error:
            raise JobFileError(f"{file} can't be written: {error.strerror}.") from None
        try:
            os.link(aside, file)
        except FileExistsError:
            raise JobFileError(f"{file} is there already; give the new job another name.") from None
        except OSError:  # a file system without links
            os.replace(aside, file)
        _folder_down(file.parent)
    finally:
        aside.unlink(missing_ok=True)
    return entry


def append(file: Path, kind: str, data: Mapping[str, Any], after: int | None = None) -> Entry:
    """Add an entry; when this returns, it is on the disk.

    A torn entry at the end, left by a crash, was never acknowledged: it is put into a file beside
    (NAME.torn) and the new entry takes its place.

    Args:
        file: of the job.
        kind: of the entry.
        data: what it says.
        after: number of entries that the file must hold; None: any.

    Raises:
        JobFileError: damaged, or somebody else has added to it.
        OSError: it can't be written.

    Example:
        >>> import tempfile
        >>> place = Path(tempfile.mkdtemp()) / "girder.job"
        >>> _ = create(place, {})
        >>> append(place, "note", {"text": "moved to the other hall"}).number
        1
    """
    with file.open("r+b") as stream, _locked(stream):
        content = stream.read()
        found = parsed(content, str(file))
        if not found.entries:
            raise JobFileError(f"{file} holds no whole entry; start the job again.")
        if after is not None and len(found.entries) != after:
            raise JobFileError(
                f"{file} has {len(found.entries)} entries where {after} were read: somebody else "
                "has added to it; read it again."
            )
        if found.torn:
            with file.with_name(f"{file.name}.torn").open("ab") as beside:
                beside.write(content[found.whole :] + b"\n")
                _down(beside)
        line, entry = _line(len(found.entries), kind, data, found.entries[-1].check)
        stream.seek(found.whole)
        stream.truncate()
        stream.write(line if found.closed else b"\n" + line)
        _down(stream)
    return entry


def read(file: Path) -> Read:
    """Read and check a job file.

    Args:
        file: of the job.

    Raises:
        JobFileError: it is missing, no job file, of a newer version, or a line before the last
            is damaged.

    Example:
        >>> read(Path("no such file"))
        Traceback (most recent call last):
        ...
        flamefe.planning.jobfile.JobFileError: There is no job file no such file.
    """
    try:
        content = file.read_bytes()
    except FileNotFoundError:
        raise JobFileError(f"There is no job file {file}.") from None
    except IsADirectoryError:
        raise JobFileError(f"{file} is a folder; name the job's file.") from None
    return parsed(content, str(file))


def parsed(content: bytes, name: str) -> Read:
    """The entries of a job file's bytes.

    Args:
        content: of the file.
        name: of the file, for errors.

    Raises:
        JobFileError: as ``read``.
    """
    entries: list[Entry] = []
    check, whole, start = FIRST, 0, 0
    while start < len(content):
        end = content.find(b"\n", start)
        closed = end >= 0
        line = content[start : end if closed else len(content)]
        entry = _entry(line, len(entries), check)
        if entry is None:
            if not entries and not line.startswith(b'{"number"'):
                raise JobFileError(f"{name} is not a job file; begin one with flamefe job start.")
            rest = content[end + 1 :] if closed else b""
            if rest.strip() or (closed and not _cut_off(line)):
                raise JobFileError(
                    f"{name}, line {len(entries) + 1}: this line was changed or damaged after it "
                    "was written; take a copy of the file from before that."
                )
            return _versioned(
                name,
                Read(entries=tuple(entries), whole=whole, torn=len(content) - whole, closed=True),
            )
        entries.append(entry)
        check = entry.check
        whole = end + 1 if closed else len(content)
        if not closed:
            return _versioned(name, Read(entries=tuple(entries), whole=whole, torn=0, closed=False))
        start = end + 1
    return _versioned(name, Read(entries=tuple(entries), whole=whole, torn=0, closed=True))


def _versioned(name: str, found: Read) -> Read:
    if not found.entries and found.torn:
        raise JobFileError(
            f"{name} holds no whole entry: its first line was cut off, as in an unfinished copy; "
            "take another copy, or start the job again."
        )
    head = found.entries[0].data if found.entries else {}
    if head.get("format") != FORMAT:
        raise JobFileError(f"{name} is not a job file; begin one with flamefe job start.")
    if head.get("version") != VERSION:
        raise JobFileError(
            f"{name} has version {head.get('version')} of the format; this flamefe reads version "
            f"{VERSION}."
        )
    return found


def _cut_off(line: bytes) -> bool:
    """Whether a closed line is what a disk leaves of an unfinished write: zeros or half a text."""
    return not line.rstrip(b"\0").endswith(b"}")


def _entry(line: bytes, number: int, before: str) -> Entry | None:
    """The entry of a line; None where the line is not whole."""
    try:
        made = json.loads(line)
        entry = Entry(**made)
    except (ValueError, TypeError):
        return None
    text = _text(entry.number, entry.kind, entry.time, entry.data)
    right = entry.number == number and entry.check == _check(before, text)
    return entry if right else None


def _line(number: int, kind: str, data: Mapping[str, Any], before: str) -> tuple[bytes, Entry]:
    time = datetime.now(UTC).isoformat(timespec="seconds")
    text = _text(number, kind, time, data)
    check = _check(before, text)
    entry = Entry(
        number=number, kind=kind, time=time, data=json.loads(json.dumps(data)), check=check
    )
    return f'{text[:-1]}, "check": "{check}"}}\n'.encode(), entry


def _text(number: int, kind: str, time: str, data: Mapping[str, Any]) -> str:
    made = {"number": number, "kind": kind, "time": time, "data": data}
    return json.dumps(made, ensure_ascii=False, allow_nan=False)


def _check(before: str, text: str) -> str:
    return sha256(f"{before}{text}".encode()).hexdigest()[:16]


@contextmanager
def _locked(stream: BinaryIO) -> Iterator[None]:
    """Keep others from adding at the same time."""
    if sys.platform == "win32":
        stream.seek(LOCKED)
        msvcrt.locking(stream.fileno(), msvcrt.LK_LOCK, 1)
        stream.seek(0)
        try:
            yield
        finally:
            stream.seek(LOCKED)
            msvcrt.locking(stream.fileno(), msvcrt.LK_UNLCK, 1)
    else:
        fcntl.flock(stream.fileno(), fcntl.LOCK_EX)
        yield  # closing the file unlocks it


def _down(stream: BinaryIO) -> None:
    """Bring what was written onto the disk."""
    stream.flush()
    os.fsync(stream.fileno())


def _folder_down(folder: Path) -> None:
    """Bring the name of a new file onto the disk, where the system can."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
