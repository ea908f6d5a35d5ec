"""Write to a garden folder without ever losing what stands there.

Two programs at once wait for each other at a lock that the system drops when a program
dies; a file is replaced in one step by a finished copy that has reached the disk, so that a
power cut leaves the old file or the new one, never half of either.
"""

from __future__ import annotations

import os
import secrets
import shutil
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from harvestcast.errors import InputError
from harvestcast.records.tables.findings import refuse

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

LOCK = ".harvestcast-lock"
WAIT_S = 30.0
"""Longest wait for another program that writes to the same folder."""
_TEMPORARY = ".harvestcast-new-"


@contextmanager
def folder_lock(folder: Path, wait_s: float = WAIT_S) -> Iterator[None]:
    """Hold the folder's lock; wait for whoever holds it.

    Parameters
    ----------
    folder : pathlib.Path
        Garden folder.
    wait_s : float
        Longest wait in seconds.

    Raises
    ------
    harvestcast.errors.InputError
        Where the folder cannot be written to, or is held for longer than that.
    """
    try:
        handle = (folder / LOCK).open("a+b")
    except OSError as error:
        raise cannot_write(folder.name, error) from None
    with handle:
        until = time.monotonic() + wait_s
        while not _try_lock(handle):
            if time.monotonic() > until:
                raise refuse("folder.locked", folder.name)
            time.sleep(0.01)
        try:
            _sweep(folder)
            yield
        finally:
            _unlock(handle)


def _try_lock(handle: IO[bytes]) -> bool:
    try:
        if sys.platform == "win32":
            handle.seek(0)
            msvcrt.locking(handle.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(handle.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _unlock(handle: IO[bytes]) -> None:
    if sys.platform == "win32":
        handle.seek(0)
        msvcrt.locking(handle.fileno(), msvcrt.LK_UNLCK, 1)
    else:
        fcntl.flock(handle.fileno(), fcntl.LOCK_UN)


def _sweep(folder: Path) -> None:
    """Remove copies that a program left unfinished when it was killed; needs the lock."""
    for path in folder.glob(f"{_TEMPORARY}*"):
        with suppress(OSError):
            path.unlink()


def replace_file(path: Path, content: bytes) -> None:
    """Put new content in place of a file in one step; call with the lock held.

    Parameters
    ----------
    path : pathlib.Path
        File; a link keeps pointing where it points.
    content : bytes
        All of its new content.

    Raises
    ------
    harvestcast.errors.InputError
        Where the system refuses to write; the old file then stands unchanged.
    """
    try:
        target = path.resolve()
    except RuntimeError as error:
        raise cannot_write(path.name, error) from None
    try:
        with _finished_copy(target, content) as copy:
            if target.exists():
                shutil.copymode(target, copy)
            copy.replace(target)
        _sync_folder(target.parent)
    except OSError as error:
        raise cannot_write(path.name, error) from None


def new_file(path: Path, content: bytes) -> None:
    """Write a file that is not there yet: whole, or not at all.

    Raises
    ------
    FileExistsError
        Where something stands there; it is left as it is.
    harvestcast.errors.InputError
        Where the system refuses to write; then nothing stands there.
    """
    try:
        with _finished_copy(path, content) as copy:
            _take_free_name(copy, path)
        _sync_folder(path.parent)
    except FileExistsError:
        raise
    except OSError as error:
        raise cannot_write(path.name, error) from None


@contextmanager
def _finished_copy(target: Path, content: bytes) -> Iterator[Path]:
    """Write the content beside its place, to the disk; what is not moved away is removed."""
    copy = target.with_name(f"{_TEMPORARY}{secrets.token_hex(8)}")
    try:
        with copy.open("xb") as new:
            new.write(content)
            new.flush()
            os.fsync(new.fileno())
        yield copy
    finally:
        with suppress(OSError):
            copy.unlink()


def _take_free_name(copy: Path, path: Path) -> None:
    if os.name == "nt":
        copy.rename(path)  # refuses a name that is taken
        return
    try:
        path.hardlink_to(copy)  # so does this, where rename would replace
    except FileExistsError:
        raise
    except OSError:  # a file system without links, such as a memory card's
        with path.open("xb"):
            pass
        copy.replace(path)


def _sync_folder(folder: Path) -> None:
    # The new name must reach the disk too; Windows has no handle for folders and needs none.
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def cannot_write(name: str, error: OSError | RuntimeError) -> InputError:
    """Return the error for a file or folder that the system does not let be written.

    A circle of links is a RuntimeError before Python 3.13.
    """
    circle = "its links lead in a circle" if isinstance(error, RuntimeError) else ""
    reason = circle or getattr(error, "strerror", None) or "refused by the system"
    return refuse("file.not_written", name, reason=reason)
