"""The command for many gardens at once: gardens."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from harvestcast.report.command.terminal import SEED, Progress, SeasonOf, command, show, show_json

if TYPE_CHECKING:
    from harvestcast.gardens.run import GardensResult
    from harvestcast.gardens.trial import PooledTrial

_SHOWN = 10
"""Errors shown in the terminal; all of them stand in the table of errors."""
_TABLES = ("forecasts", "varieties", "best", "left_out", "errors")


@click.command(
    "gardens",
    epilog="Example: harvestcast gardens school_gardens --out results --workers 4",
    short_help="Forecast many gardens at once (needs the extra 'scale').",
)
@click.argument("source", type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(file_okay=False, path_type=Path),
              help="Folder for the tables; a run that was stopped goes on there.")  # fmt: skip
@click.option("--as-of", type=click.DateTime(["%Y-%m-%d"]),
              help="Last day known; left out: each garden's own last day.")  # fmt: skip
@click.option("--weeks", type=click.IntRange(1, 12), default=3, show_default=True,
              help="Weeks ahead.")  # fmt: skip
@click.option("--by", type=click.Choice(["crop", "variety"]), default="crop", show_default=True,
              help="Rows of the forecasts.")  # fmt: skip
@click.option("--year", "years", type=SeasonOf(), multiple=True,
              help="Season to compare, may be given again; left out: that of --as-of.")  # fmt: skip
@click.option("--no-varieties", is_flag=True, help="Only the forecasts.")
@click.option("--trial", is_flag=True, help="Pool the varieties' yields over all gardens.")
@click.option("--workers", type=click.IntRange(1), default=1, show_default=True,
              help="Processes of this machine that share the work.")  # fmt: skip
@click.option("--cluster", metavar="ADDRESS", help="Scheduler of a Dask cluster to use instead.")
@click.option("--csv", is_flag=True, help="Write the tables as CSV files too.")
@SEED
@command
def gardens(
    source: Path,
    out: Path,
    as_of: dt.date | None,
    weeks: int,
    by: Any,
    years: tuple[int, ...],
    no_varieties: bool,
    trial: bool,
    workers: int,
    cluster: str | None,
    csv: bool,
    seed: int,
    as_json: bool,
    progress: Progress,
) -> None:
    """Forecast many gardens at once and compare their varieties.

    SOURCE is a folder that holds garden folders, or a Parquet dataset of gardens. A garden that
    cannot be read stops no other: it is named in the table of errors. Needs the extra 'scale':
    pip install 'harvestcast[scale]'.
    """
    from harvestcast.gardens.run import run_gardens
    from harvestcast.gardens.trial import pool_trial, trial_values

    if trial and no_varieties:
        raise click.UsageError("--trial needs the varieties; leave --no-varieties out.")
    result = run_gardens(
        source,
        out,
        as_of=as_of,
        weeks=weeks,
        by=by,
        seed=seed,
        varieties=not no_varieties,
        years=years or None,
        workers=workers,
        cluster=cluster,
        progress=sys.stderr.isatty() and not as_json,
    )
    pooled = pool_trial(trial_values(result.varieties), seed=seed) if trial else None
    if csv:
        _write_csv(result, pooled, out)
    progress.done()
    if as_json:
        show_json(_summary(result, pooled, out))
        return
    for line in _lines(result, pooled, out):
        show(line)


def _write_csv(result: GardensResult, pooled: PooledTrial | None, out: Path) -> None:
    from harvestcast.records.writing.report_file import write_table

    tables = {name: getattr(result, name) for name in _TABLES}
    if pooled is not None:
        tables["trial"] = pooled.table
    for name, table in tables.items():
        write_table(out / f"{name}.csv", table)


def _summary(result: GardensResult, pooled: PooledTrial | None, out: Path) -> dict[str, Any]:
    summary: dict[str, Any] = {
        "ok": True,
        "out": str(out),
        "gardens": int(result.shares["gardens"].sum()),
        "gardens_with_errors": int(result.errors["garden"].nunique()),
        "shares_kept": int(result.shares["reused"].sum()),
        "errors": result.errors.to_dict("records"),
    }
    if pooled is not None:
        table = pooled.table.astype(object)
        summary["trial"] = table.where(table.notna(), None).to_dict("records")
    return summary


def _lines(result: GardensResult, pooled: PooledTrial | None, out: Path) -> list[str]:
    gardens, errors = int(result.shares["gardens"].sum()), result.errors
    kept = int(result.shares["gardens"][result.shares["reused"].astype(bool)].sum())
    lines = [f"{gardens} gardens" + (f", {kept} of them from the run before" if kept else "")]
    if len(errors):
        lines.append(f"{errors['garden'].nunique()} could not be worked on, or not wholly:")
        for row in errors.head(_SHOWN).itertuples():
            first, *more = str(row.message).splitlines()
            rest = f" (and {len(more)} more)" if more else ""
            lines.append(f"  {row.garden}, {row.stage}: {first}{rest}")
        if len(errors) > _SHOWN:
            lines.append(f"  ... {len(errors) - _SHOWN} more in the table of errors")
    if pooled is not None:
        lines += _trial_lines(pooled)
    lines.append(f"Tables: {out}{'' if str(out).endswith('/') else '/'}")
    return lines


def _trial_lines(pooled: PooledTrial) -> list[str]:
    lines = []
    for crop, rows in pooled.table.groupby("crop", sort=True):
        known = rows[rows["probability_best"].notna()]
        if known.empty:
            continue
        lines.append(f"{crop}, yield per plant against the mean of its varieties:")
        for row in known.sort_values("probability_best", ascending=False).itertuples():
            lines.append(
                f"  {row.variety}: {_percent(row.against_mean)} "
                f"({_percent(row.against_mean_q05)} to {_percent(row.against_mean_q95)}), best "
                f"with {row.probability_best:.0%} probability, {row.gardens} gardens"
            )
    few = int(pooled.table["estimate"].isna().sum())
    if few:
        lines.append(f"{few} varieties stand in fewer than three gardens: nothing is said of them.")
    return lines


def _percent(ratio: Any) -> str:
    return "unknown" if ratio != ratio else f"{ratio - 1:+.0%}"  # NaN is unlike itself
