"""Many gardens at once: in this process, in processes of this machine, or on a Dask cluster."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

import pandas as pd

from harvestcast.errors import InputError
from harvestcast.frames import FrameSpec, check_frame
from harvestcast.gardens import store
from harvestcast.gardens.dataset import GardenTables, dataset_shares, write_dataset
from harvestcast.gardens.engine import client_for, work
from harvestcast.gardens.sources import PER_SHARE, Share, folder_shares, garden_folders
from harvestcast.gardens.study import RESULTS, Task
from harvestcast.records.writing.safely import folder_lock

Source = str | Path | Sequence[str | Path] | Sequence[Share] | GardenTables


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class GardensResult:
    """What came of many gardens; every table is sorted by garden.

    Parameters
    ----------
    out : Path or None
        Folder the results are stored in; tables are read from there each time.
    shares : DataFrame
        One row a share: label, gardens, whether it was reused from an earlier run, CPU seconds
        and clock seconds it took, peak memory of the process. [s, MB]
    """

    out: Path | None
    shares: pd.DataFrame
    _labels: tuple[str, ...]
    _tables: dict[str, pd.DataFrame] | None

    def __repr__(self) -> str:
        gardens, errors = int(self.shares["gardens"].sum()), len(self.errors)
        return f"GardensResult({gardens} gardens, {errors} errors)"

    @property
    def forecasts(self) -> pd.DataFrame:
        """Weekly forecasts (:data:`harvestcast.frames.gardens_tables.FORECASTS`)."""
        return self._table("forecasts")

    @property
    def varieties(self) -> pd.DataFrame:
        """Varieties of every garden and season (GARDEN_VARIETIES)."""
        return self._table("varieties")

    @property
    def best(self) -> pd.DataFrame:
        """Probability of being the best of its crop in its garden (GARDEN_BEST)."""
        return self._table("best")

    @property
    def left_out(self) -> pd.DataFrame:
        """Plantings without a forecast and why (GARDEN_LEFT_OUT)."""
        return self._table("left_out")

    @property
    def errors(self) -> pd.DataFrame:
        """Gardens that could not be worked on, and why (ERRORS)."""
        return self._table("errors")

    def _table(self, name: str) -> pd.DataFrame:
        if self._tables is not None:
            return self._tables[name].copy()
        assert self.out is not None
        return _sorted(store.stored(self.out, name, self._labels), RESULTS[name])


def _sorted(parts: list[pd.DataFrame], spec: FrameSpec) -> pd.DataFrame:
    filled = [part for part in parts if len(part)]
    if not filled:
        return spec.empty()
    whole = check_frame(pd.concat(filled, ignore_index=True), spec)
    return whole.sort_values("garden", kind="stable", ignore_index=True)


def run_gardens(
    source: Source,
    out: str | Path | None = None,
    *,
    as_of: str | dt.date | None = None,
    weeks: int = 3,
    by: Literal["crop", "variety"] = "crop",
    draws: int = 400,
    seed: int = 1,
    forecasts: bool = True,
    varieties: bool = True,
    years: Sequence[int] | None = None,
    workers: int = 1,
    cluster: Any = None,
    per_share: int = PER_SHARE,
    today: str | dt.date | None = None,
    progress: bool = False,
) -> GardensResult:
    """Forecast many gardens and compare their varieties.

    The results are the same to the last digit whatever the shares, the number of workers and the
    order: a garden's seed is made from its name and day, and nothing goes from one garden to
    another. A garden with bad data gives a row of ``errors`` and stops no other.

    Parameters
    ----------
    source : path, sequence of paths, GardenTables, or sequence of Share
        A folder that holds garden folders or a Parquet dataset of gardens
        (:mod:`harvestcast.gardens.dataset`), a list of garden folders, or tables.
    out : path, optional
        Folder for the results. A run that was stopped goes on there where it stopped: finished
        shares are kept as long as their input, the settings and the versions are the same.
        Left out: results are held in memory.
    as_of : date, optional
        Last day known; left out: each garden's own last day.
    weeks, by, draws, seed
        As in :func:`harvestcast.forecast`; ``by`` chooses the rows of the forecasts.
    forecasts, varieties : bool
        What is wanted.
    years : sequence of int, optional
        Seasons whose varieties are compared, in each garden those in which it has picks; left
        out: the season of the last day known.
    workers : int
        1 works in this process; more start as many processes on this machine. A script that asks
        for more keeps its call under ``if __name__ == "__main__":``, since each process reads it.
    cluster : distributed.Client or str, optional
        Dask cluster or the address of its scheduler; its workers must see the same folders.
    per_share : int
        Gardens in a share at most, on average.
    today : date, optional
        Day that counts as today when dates in the future are looked for in folders; left out: by
        the clock, or that of the stopped run that goes on.
    progress : bool
        Show a progress bar on standard error.

    Returns
    -------
    GardensResult

    Raises
    ------
    InputError
        Where the source cannot be read at all, or the results cannot be written.
    HarvestcastError
        Where the extra ``scale`` is not installed.

    Examples
    --------
    >>> import pandas as pd
    >>> from harvestcast.gardens.dataset import GardenTables
    >>> days = pd.date_range("2026-06-01", "2026-07-10")
    >>> tables = GardenTables(
    ...     gardens=pd.DataFrame({"garden": ["east school", "west school"]}),
    ...     picks=pd.DataFrame({"garden": "east school", "date": days[30:], "crop": "cucumber",
    ...                         "variety": "A", "count": 3.0}),
    ...     plantings=pd.DataFrame({"garden": "east school", "crop": "cucumber", "variety": "A",
    ...                             "date": pd.Timestamp("2026-05-15"), "how": "sown",
    ...                             "plants": 4.0}, index=[0]),
    ...     weather=pd.DataFrame({"garden": "east school", "date": days, "tmin_c": 14.0,
    ...                           "tmax_c": 26.0}),
    ... )
    >>> result = run_gardens(tables, draws=100, varieties=False)
    >>> len(result.forecasts), result.errors["garden"].tolist()
    (3, ['west school'])
    """
    task = Task(
        as_of=None if as_of is None else pd.Timestamp(as_of).date().isoformat(),
        weeks=weeks,
        draws=draws,
        seed=seed,
        by=by,
        forecasts=forecasts,
        varieties=varieties,
        years=None if years is None else tuple(sorted(int(year) for year in years)),
        today=pd.Timestamp(today if today is not None else dt.date.today()).date().isoformat(),
    )
    folder = None if out is None else Path(out).resolve()
    with ExitStack() as stack:
        if folder is not None:
            folder.mkdir(parents=True, exist_ok=True)
            stack.enter_context(folder_lock(folder))
            if today is None:
                task = replace(task, today=store.today_of(folder, task.today))
            store.begin(folder, task)
        shares = _shares(source, per_share, stack)
        client = client_for(stack, workers, cluster, len(shares))
        done = work(shares, task, folder, client, progress=progress)
        labels = tuple(sorted(record["label"] for record in done))
        if folder is not None:
            store.end(folder, task, list(labels))
    return _result(folder, labels, done)


def read_results(out: str | Path) -> GardensResult:
    """Return the results of a finished run from its folder.

    Parameters
    ----------
    out : path
        Folder of the results.

    Raises
    ------
    FileNotFoundError
        Where there was no run, or it is not finished.
    """
    folder = Path(out).resolve()
    labels = store.labels_of(folder)
    records = [store.record_of(folder, label) for label in labels]
    return _result(folder, labels, records)


def _shares(source: Source, per_share: int, stack: ExitStack) -> list[Share]:
    if isinstance(source, GardenTables):
        place = stack.enter_context(TemporaryDirectory(prefix="harvestcast-gardens-"))
        return write_dataset(place, source, per_share=per_share)
    if not isinstance(source, str | Path):
        several: list[Any] = list(source)
        if several and not isinstance(several[0], str | Path):
            return several
        return folder_shares(several, per_share)
    root = Path(source)
    if (root / "gardens").is_dir() and any((root / "gardens").glob("*=*")):
        return dataset_shares(root, per_share)
    folders = garden_folders(root) if root.is_dir() else []
    if not folders:
        raise InputError.one(
            source,
            "holds neither garden folders nor a dataset of gardens",
            "Name the folder in which the gardens' folders lie.",
        )
    return folder_shares(folders, per_share)


def _result(
    out: Path | None, labels: tuple[str, ...], records: list[dict[str, Any]]
) -> GardensResult:
    tables = None
    if out is None:
        parts = sorted(records, key=lambda record: record["label"])
        tables = {
            name: _sorted([record["tables"][name] for record in parts], spec)
            for name, spec in RESULTS.items()
        }
    columns = ("label", "gardens", "reused", "cpu_s", "clock_s", "peak_mb", "process")
    rows = [
        {name: record.get(name, True) for name in columns}
        | {f"{stage}_cpu_s": used for stage, used in record["stages_cpu_s"].items()}
        for record in records
    ]
    shares = pd.DataFrame(rows).sort_values("label", ignore_index=True) if rows else pd.DataFrame(
        columns=[*columns])  # fmt: skip
    return GardensResult(out=out, shares=shares, _labels=labels, _tables=tables)
