"""Results that the command line puts aside, so that a notebook need not compute them again."""

from __future__ import annotations

import pickle
from pathlib import Path
from typing import Any, TypeVar

Kind = TypeVar("Kind")


def put_aside(results: Any, path: Path) -> Path:
    """Write results to a scratch file of the program's own and return its path."""
    path.write_bytes(pickle.dumps(results))
    return path


def read_aside(path: str | Path, kind: type[Kind]) -> Kind:
    """Return results put aside a moment ago; only files of :func:`put_aside` may be given.

    Raises
    ------
    TypeError
        Where the file holds something else.
    """
    found = pickle.loads(Path(path).read_bytes())
    if not isinstance(found, kind):
        raise TypeError(f"{path} holds no results of kind {kind.__name__}")
    return found
