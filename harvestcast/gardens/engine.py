"""Who does the work: this process, processes of this machine, or a Dask cluster."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Any

import pandas as pd
from threadpoolctl import threadpool_limits
from tqdm import tqdm

from harvestcast.gardens import store
from harvestcast.gardens.needs import needed
from harvestcast.gardens.sources import Share
from harvestcast.gardens.study import Task, study_share, worker_errors

TRIES = 3
"""Workers that may die on a share before its gardens are worked on one by one."""


def run_share(share: Share, task: Task, out: Path | None) -> dict[str, Any]:
    """Work on one share, or find that it is finished; runs wherever the engine puts it.

    Returns
    -------
    dict
        Record of the share; with its tables where there is no folder for results.
    """
    clock, spent = time.monotonic(), time.process_time()
    # Threads of a linear algebra library may add up in another order: one, everywhere.
    with threadpool_limits(1):
        wanted = ""
        if out is not None:
            wanted = store.fingerprint(task, share.fingerprint(task.today))
            old = store.finished(out, share.label, wanted)
            if old is not None:
                return {**old, "reused": True}
        tables, stages = study_share(share, task)
        record: dict[str, Any] = {
            "gardens": share.size,
            "cpu_s": time.process_time() - spent,
            "clock_s": time.monotonic() - clock,
            "stages_cpu_s": stages,
            "peak_mb": peak_mb(),
            "process": os.getpid(),
        }
        return _kept(share, wanted, tables, record, out)


def _kept(
    share: Share,
    wanted: str,
    tables: dict[str, pd.DataFrame],
    record: dict[str, Any],
    out: Path | None,
) -> dict[str, Any]:
    if out is None:
        return {**record, "label": share.label, "reused": False, "tables": tables}
    return {**store.keep(out, share.label, wanted, tables, record), "reused": False}


def peak_mb() -> float:
    """Return the most memory this process has held so far, in MB."""
    if sys.platform == "win32":
        return float("nan")
    # Linux carries ru_maxrss over from the process that started this one; VmHWM begins anew.
    with suppress(OSError, StopIteration):
        lines = Path("/proc/self/status").read_text("ascii").splitlines()
        return int(next(line for line in lines if line.startswith("VmHWM")).split()[1]) / 2**10
    import resource

    unit = 2**20 if sys.platform == "darwin" else 2**10
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit


def client_for(stack: ExitStack, workers: int, cluster: Any, shares: int) -> Any:
    """Return the client of a Dask cluster, or None to work in this process."""
    if cluster is not None:
        distributed = needed("distributed")
        if isinstance(cluster, str):
            return stack.enter_context(distributed.Client(cluster))
        return cluster
    if workers < 1:
        raise ValueError(f"workers: at least 1, not {workers}")
    return None if workers == 1 else stack.enter_context(local(min(workers, max(shares, 1))))


@contextmanager
def local(workers: int) -> Iterator[Any]:
    """Start worker processes on this machine; they end with the block, or with this process."""
    dask, distributed = needed("dask"), needed("distributed")
    settings = {
        # A dead worker is blamed on what it worked on, not on what waited behind it.
        "distributed.scheduler.worker-saturation": 1.0,
        "distributed.scheduler.allowed-failures": TRIES - 1,
    }
    with (
        dask.config.set(settings),
        distributed.LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            dashboard_address="127.0.0.1:0",  # any free port: other runs may go on beside this
            host="127.0.0.1",
        ) as here,
        distributed.Client(here) as client,
    ):
        yield client


def work(
    shares: list[Share], task: Task, out: Path | None, client: Any, *, progress: bool
) -> list[dict[str, Any]]:
    """Work on all shares and return their records."""
    done: list[dict[str, Any]] = []
    found = _plainly(shares, task, out) if client is None else _by_dask(shares, task, out, client)
    total = sum(share.size for share in shares)
    with tqdm(total=total, unit=" gardens", disable=not progress, file=sys.stderr) as bar:
        for record in found:
            done.append(record)
            bar.update(record["gardens"])
    return done


def _plainly(shares: list[Share], task: Task, out: Path | None) -> Iterator[dict[str, Any]]:
    for share in shares:
        yield run_share(share, task, out)


def _by_dask(
    shares: list[Share], task: Task, out: Path | None, client: Any
) -> Iterator[dict[str, Any]]:
    """Hand the shares to Dask, which puts a dead worker's share on another one.

    A share on which workers die again and again is cut into its gardens; a garden on which they
    still die gets its row of error.
    """
    distributed = needed("distributed")
    mine: dict[Any, Share] = {}

    def hand_over(share: Share) -> Any:
        future = client.submit(run_share, share, task, out, pure=False)
        mine[future] = share
        return future

    queue = distributed.as_completed([hand_over(share) for share in shares])
    for future in queue:
        share = mine.pop(future)
        error = future.exception() if future.status == "error" else None
        if error is None:
            yield future.result()
        elif not isinstance(error, distributed.scheduler.KilledWorker):
            raise error
        elif share.size > 1:
            queue.update([hand_over(one) for one in share.split()])
        else:
            yield _given_up(share, task, out)
        future.release()


def _given_up(share: Share, task: Task, out: Path | None) -> dict[str, Any]:
    message = (
        f"{TRIES} worker processes died on this garden (out of memory, or killed). "
        "Look at the size of its tables; then run it alone."
    )
    tables = worker_errors(share, message)
    nothing = {"read": 0.0, "forecast": 0.0, "compare": 0.0}
    record = {"gardens": share.size, "cpu_s": 0.0, "clock_s": 0.0, "stages_cpu_s": nothing,
              "peak_mb": float("nan"), "process": 0}  # fmt: skip
    # Never taken for finished by a later run: its worker may live then.
    return _kept(share, "died", tables, record, out)
