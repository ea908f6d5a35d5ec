"""Results of many gardens on disk, one share after the other, never half of one.

<out>/forecasts/part-00017.parquet   one file a table and share
<out>/done/part-00017.json           written last: this share is finished, for this input
<out>/run.json                       what was asked, by which versions, and whether it is done
"""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import pandas as pd

from harvestcast.errors import InputError
from harvestcast.gardens.parquet import parquet_bytes, read_parquet
from harvestcast.gardens.study import RESULTS, Task
from harvestcast.records.writing.safely import replace_file

_ENGINES = ("harvestcast", "numpy", "scipy", "pandas")
FORM = 1
"""Number of this form of storing; another one is worked out anew."""


def versions() -> dict[str, str]:
    """Return the versions that results depend on."""
    found = {}
    for name in _ENGINES:
        with suppress(PackageNotFoundError):
            found[name] = version(name)
    return found


def fingerprint(task: Task, share_fingerprint: str) -> str:
    """Return the hash of everything the results of a share depend on."""
    whole = {
        "form": FORM,
        "task": task.words(),
        "versions": versions(),
        "input": share_fingerprint,
    }
    return hashlib.sha256(json.dumps(whole, sort_keys=True).encode()).hexdigest()


def finished(out: Path, label: str, wanted: str) -> dict[str, Any] | None:
    """Return the record of a finished share, if it was made from the wanted input and is whole."""
    try:
        record = record_of(out, label)
    except (OSError, ValueError):
        return None
    if record.get("fingerprint") != wanted:
        return None
    for name, digest in record["files"].items():
        try:
            content = _file(out, name, label).read_bytes()
        except OSError:
            return None
        if hashlib.sha256(content).hexdigest() != digest:
            return None
    return record


def record_of(out: Path, label: str) -> dict[str, Any]:
    """Return the record of a share."""
    record: dict[str, Any] = json.loads(_done(out, label).read_bytes())
    return record


def keep(
    out: Path, label: str, wanted: str, tables: dict[str, pd.DataFrame], record: dict[str, Any]
) -> dict[str, Any]:
    """Write the results of a share, and that it is finished, in this order."""
    _done(out, label).unlink(missing_ok=True)
    files = {}
    for name in RESULTS:
        content = parquet_bytes(tables[name])
        path = _file(out, name, label)
        path.parent.mkdir(parents=True, exist_ok=True)
        replace_file(path, content)
        files[name] = hashlib.sha256(content).hexdigest()
    whole = {**record, "label": label, "fingerprint": wanted, "files": files}
    done = _done(out, label)
    done.parent.mkdir(parents=True, exist_ok=True)
    replace_file(done, json.dumps(whole, indent=1).encode())
    return whole


def today_of(out: Path, today: str) -> str:
    """Return the day that counts as today: that of a run stopped in the last two days, if any."""
    with suppress(OSError, ValueError):
        said = json.loads((out / "run.json").read_bytes())
        late = (pd.Timestamp(today) - pd.Timestamp(said["today"])).days
        if not said["finished"] and 0 <= late <= 2:
            return str(said["today"])
    return today


def begin(out: Path, task: Task) -> None:
    """Write down that a run goes on in this folder, and clear away what a killed one left."""
    _may_begin(out)
    for name in (*RESULTS, "done"):
        for path in (out / name).glob(".harvestcast-new-*"):
            path.unlink(missing_ok=True)
    _say(out, task, [], finished=False)


def _may_begin(out: Path) -> None:
    """Refuse a folder in which files of the names that are needed are not ours.

    Raises
    ------
    harvestcast.errors.InputError
        Where it is so; what stands there is left as it is.
    """
    said: object = None
    with suppress(OSError, ValueError):
        said = json.loads((out / "run.json").read_bytes())
    ours = isinstance(said, dict) and {"finished", "today", "task", "shares"} <= set(said)
    taken = [name for name in ("run.json", *RESULTS, "done") if (out / name).exists()]
    if taken and not ours:
        raise InputError.one(
            out,
            f"{', '.join(taken)} in it is not of an earlier run of this command; it "
            "was left as it is",
            "Name another folder for the results.",
        )


def end(out: Path, task: Task, labels: list[str]) -> None:
    """Write down that the run is finished, and remove shares of earlier ways of cutting."""
    _say(out, task, labels, finished=True)
    good = set(labels)
    for name, ending in (*((name, ".parquet") for name in RESULTS), ("done", ".json")):
        for path in (out / name).glob(f"part-*{ending}"):
            if path.name.removesuffix(ending) not in good:
                path.unlink()


def _say(out: Path, task: Task, labels: list[str], *, finished: bool) -> None:
    said = {
        "finished": finished,
        "today": task.today,
        "task": task.words(),
        "versions": versions(),
        "shares": sorted(labels),
    }
    replace_file(out / "run.json", json.dumps(said, indent=1).encode())


def stored(out: Path, name: str, labels: tuple[str, ...]) -> list[pd.DataFrame]:
    """Return one table of every share."""
    return [read_parquet(_file(out, name, label)) for label in labels]


def labels_of(out: Path) -> tuple[str, ...]:
    """Return the shares of a finished run.

    Raises
    ------
    FileNotFoundError
        Where there was no run, or it is not finished.
    """
    path = out / "run.json"
    said = json.loads(path.read_bytes())
    if not said["finished"]:
        raise FileNotFoundError(
            f"{path}: this run is not finished; start it again, it goes on where it stopped"
        )
    return tuple(said["shares"])


def _file(out: Path, name: str, label: str) -> Path:
    return out / name / f"{label}.parquet"


def _done(out: Path, label: str) -> Path:
    return out / "done" / f"{label}.json"
