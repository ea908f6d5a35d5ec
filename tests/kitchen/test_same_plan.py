"""The same week gives the same plan, however busy the machine and however many threads it has."""

import json
import os
import subprocess
import sys

import pytest

SAMPLE = "sample_logs"
DAY = "2026-09-01"
PLAN = f"""
import json, sys
import harvestcast as hc
garden = hc.open_garden({SAMPLE!r})
plan = hc.plan_week(hc.forecast(garden, as_of={DAY!r}, draws=200), garden, days=8, scenarios=12)
report = plan.solve
tables = (plan.batches, plan.balance, plan.surplus, plan.bottlenecks, plan.shopping)
sys.stdout.write(json.dumps({{
    "tables": [table.to_csv(float_format="%.17g") for table in tables],
    "work": [report.nodes, report.steps, report.objective, report.bound],
}}))
"""
BUSY = "while True: pass"


def _planned(threads: int) -> dict:
    """Plan in a process of its own; what it prints must be the plan and nothing else."""
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    there = (
        os.environ | dict.fromkeys(names, str(threads)) | {"PYTHONPATH": os.pathsep.join(sys.path)}
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", PLAN], env=there, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return json.loads(done.stdout)


def _same(alone: dict, beside: dict) -> None:
    assert alone["work"] == beside["work"]
    assert alone["tables"] == beside["tables"]
    assert any("pint" in table or "quart" in table for table in alone["tables"])


def test_the_number_of_threads_changes_nothing() -> None:
    """Every figure of every table is the same to the last digit, and so is the work done.

    Neither the library nor its solver prints a word.
    """
    _same(_planned(1), _planned(2))


@pytest.mark.statistics
def test_a_busy_machine_and_other_threads_change_nothing() -> None:
    """Planned alone with one thread, then with two threads beside eight programs that never rest.

    No clock is read on the way.
    """
    alone = _planned(1)
    others = [subprocess.Popen([sys.executable, "-c", BUSY]) for _ in range(8)]
    try:
        beside = _planned(2)
    finally:
        for one in others:
            one.kill()
            one.wait()
    _same(alone, beside)
