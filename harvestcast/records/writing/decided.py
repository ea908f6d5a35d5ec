"""What ``week`` decided, day by day: one small file beside the reports.

It stands in the folder ``reports``, so that a copy of the garden takes it along and whoever wants
to begin afresh deletes it. A file of that name that is something else is left alone.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from harvestcast.records.tables.findings import refuse
from harvestcast.records.writing.safely import cannot_write, folder_lock, replace_file

FILE = "decided.json"
_KIND = "harvestcast_decided"
MOST_RUNS = 60
"""Days whose decisions are kept; older ones are of no more use."""


def read_runs(folder: str | Path) -> list[dict[str, Any]]:
    """Return what was decided, a run a day, the earliest first; empty where nothing was.

    Each run has ``as_of`` and the tables of :mod:`harvestcast.kitchen.week.standing` as rows.
    """
    return _runs(Path(folder) / "reports" / FILE) or []


def write_run(folder: str | Path, run: Mapping[str, Any]) -> None:
    """Note a run; the one of the same day is replaced, and later ones stay.

    Raises
    ------
    harvestcast.errors.InputError
        Where something else stands there, or the folder cannot be written to.
    """
    file = Path(folder) / "reports" / FILE
    try:
        file.parent.mkdir(exist_ok=True)
    except OSError as error:
        raise cannot_write(file.parent.name, error) from None
    with folder_lock(file.parent):
        runs = _runs(file)
        if runs is None:
            raise refuse("report.other", str(file))
        kept = [one for one in runs if one["as_of"] != run["as_of"]]
        kept = sorted([*kept, dict(run)], key=lambda one: str(one["as_of"]))[-MOST_RUNS:]
        text = json.dumps({"kind": _KIND, "runs": kept}, indent=1, allow_nan=False)
        replace_file(file, text.encode("utf-8"))


def _runs(file: Path) -> list[dict[str, Any]] | None:
    """Return the runs of a file; none where there is no file, None where it is another's."""
    if not file.exists():
        return []
    with suppress(OSError, ValueError, TypeError, KeyError):
        found = json.loads(file.read_text("utf-8"))
        if found["kind"] == _KIND and all("as_of" in one for one in found["runs"]):
            return list(found["runs"])
    return None
