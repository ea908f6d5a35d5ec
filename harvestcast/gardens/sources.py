"""Where many gardens come from: folders, or a Parquet dataset; cut into shares of work.

A share (:class:`Share`) says which gardens it holds without holding their data, so that it is
small to send; whoever works on it loads the data.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Protocol

from harvestcast.errors import InputError, Problem
from harvestcast.records.garden import Garden, open_garden

Opener = Callable[[], Garden]

PER_SHARE = 64
"""Gardens in a share at most, on average: some seconds of work, so that little is lost."""


class Share(Protocol):
    """Gardens that are worked on together; must be picklable."""

    @property
    def label(self) -> str:
        """Name of the share, of letters that a file name may hold."""

    @property
    def size(self) -> int:
        """How many gardens it holds."""

    def names(self) -> list[str]:
        """Return the names of its gardens; reads no more than that takes."""

    def fingerprint(self, today: str) -> str:
        """Return a hash of all input that its results depend on."""

    def load(self, today: str) -> list[tuple[str, Opener]]:
        """Return every garden's name and what opens it."""

    def split(self) -> list[Share]:
        """Return shares of one garden each."""


def bucket(name: str, buckets: int) -> int:
    """Return the bucket of a garden, by its name alone: others coming or going do not move it.

    Parameters
    ----------
    name : str
        Name of the garden.
    buckets : int
        Number of buckets.

    Examples
    --------
    >>> bucket("east school", 8) == bucket("east school", 8) < 8
    True
    """
    return int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], "big") % buckets


def buckets_for(gardens: int, per_share: int) -> int:
    """Return the number of buckets: a power of two, so that it seldom changes as gardens join.

    Examples
    --------
    >>> buckets_for(10_000, 64), buckets_for(10_200, 64), buckets_for(3, 64)
    (256, 256, 1)
    """
    needed = max(1, -(-gardens // per_share))
    return 1 << (needed - 1).bit_length()


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderShare:
    """Garden folders.

    Parameters
    ----------
    label : str
    folders : tuple of (str, Path)
        Name and folder of every garden.
    """

    label: str
    folders: tuple[tuple[str, Path], ...]

    @property
    def size(self) -> int:
        """How many gardens it holds."""
        return len(self.folders)

    def names(self) -> list[str]:
        """Return the names of its gardens."""
        return [name for name, _ in self.folders]

    def fingerprint(self, today: str) -> str:
        """Return a hash of every file in the folders, and of the day that counts as today."""
        total = hashlib.sha256(today.encode())
        for name, folder in self.folders:
            total.update(name.encode() + b"\0")
            for path in sorted(p for p in folder.glob("*") if p.is_file() and p.name[0] != "."):
                try:
                    digest = hashlib.sha256(path.read_bytes()).hexdigest()
                except OSError as error:  # what cannot be read is said when it is opened
                    digest = str(error)
                total.update(f"{path.name}\0{digest}\0".encode())
        return total.hexdigest()

    def load(self, today: str) -> list[tuple[str, Opener]]:
        """Return every garden's name and what opens it."""
        return [(name, partial(open_garden, folder, today=today)) for name, folder in self.folders]

    def split(self) -> list[Share]:
        """Return shares of one garden each."""
        return [
            FolderShare(label=f"{self.label}.{number:04d}", folders=(one,))
            for number, one in enumerate(self.folders)
        ]


def folder_shares(folders: Iterable[str | Path], per_share: int = PER_SHARE) -> list[Share]:
    """Cut garden folders into shares; a folder's name is the name of its garden.

    Parameters
    ----------
    folders : iterable of path
        Garden folders, in any order.
    per_share : int
        Gardens in a share at most, on average.

    Raises
    ------
    InputError
        Where two folders have the same name.
    """
    named: dict[str, Path] = {}
    problems = []
    for folder in folders:
        path = Path(folder).resolve()
        if path.name in named and named[path.name] != path:
            problems.append(
                Problem(
                    file=str(folder),
                    rule=f"another garden's folder has this name too ({named[path.name]})",
                    cure="Rename one of them: a garden is known by the name of its folder.",
                )
            )
        named[path.name] = path
    if problems:
        raise InputError(problems)
    return _grouped(sorted(named.items()), per_share)


def _grouped(gardens: Sequence[tuple[str, Path]], per_share: int) -> list[Share]:
    number = buckets_for(len(gardens), per_share)
    groups: list[list[tuple[str, Path]]] = [[] for _ in range(number)]
    for name, path in gardens:
        groups[bucket(name, number)].append((name, path))
    return [
        FolderShare(label=f"part-{place:05d}", folders=tuple(group))
        for place, group in enumerate(groups)
        if group
    ]


def garden_folders(root: Path) -> list[Path]:
    """Return the garden folders directly inside a folder: those that hold any garden file."""
    names = ("garden.toml", "plantings.*", "picks*.*")
    return sorted(
        one for one in root.iterdir() if one.is_dir() and any(any(one.glob(n)) for n in names)
    )
