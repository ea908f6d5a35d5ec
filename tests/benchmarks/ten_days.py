"""Ten evenings in a row in the invented garden: what was decided for which day, and did it stand?

    python -m tests.benchmarks.ten_days            decisions stand
    python -m tests.benchmarks.ten_days afresh     every evening by itself, as a yardstick
    python -m tests.benchmarks.ten_days 2025-08-04 ten other evenings, from that day on

The picks of the sample log are known up to each evening from 10 to 20 July 2026; the household does
what was decided for a day and writes down the jars and the produce that were expected of it.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path

import pandas as pd

from harvestcast.growth.forecast import forecast
from harvestcast.kitchen.household.entries import write_down
from harvestcast.kitchen.week.plan import DECIDED_DAYS, KitchenPlan, plan_week
from harvestcast.kitchen.week.standing import Standing, option_key, standing_of
from harvestcast.records.garden import open_garden

SAMPLE = Path(__file__).parents[2] / "sample_logs"


def folder_up_to(day: str, place: Path) -> Path:
    """Return a copy of the sample whose books end on a day."""
    folder = place / "garden"
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("reports", ".harvestcast*"))
    for book in (folder / name for name in ("pantry.csv", "kitchen.csv")):
        if book.exists():
            lines = book.read_text("utf-8").splitlines()
            kept = [lines[0], *(line for line in lines[1:] if line[:10] <= day)]
            book.write_text("\n".join(kept) + "\n", "utf-8")
    return folder


def ten_days(
    folder: Path, days: pd.DatetimeIndex, *, stand: bool, draws: int = 400
) -> dict[pd.Timestamp, tuple[KitchenPlan, Standing]]:
    """Return the plan of every evening and what it decided; each day's batches are written down."""
    standing: Standing | None = None
    plans = {}
    for evening in days:
        garden = open_garden(folder, today=evening.date())
        outlook = forecast(garden, as_of=evening, weeks=3, draws=draws, seed=1)
        began = time.process_time()
        plan = plan_week(outlook, garden, standing=standing if stand else None)
        took = time.process_time() - began
        decided = standing_of(plan, outlook, garden, DECIDED_DAYS)
        plans[evening] = (plan, decided)
        print(f"{evening:%b %d}: {took:.1f} s", file=sys.stderr)
        standing = decided
        tomorrow = evening + pd.Timedelta(days=1)
        own = plan.batches[plan.batches["decided"] & (plan.batches["day"] == tomorrow)]
        for row in own.to_dict("records"):
            jars = max(1, round(float(row["jars"])))
            if row["method"] == "refrigerating":
                write_down(folder, "used", str(row["crop"]), f"{row['mass_kg']:.2f} kg",
                           on=f"{tomorrow:%Y-%m-%d}", today=tomorrow.date())  # fmt: skip
                continue
            if row["jar"] == "kg":
                write_down(folder, "put_up", str(row["label"]), f"{row['mass_kg']:.2f} kg",
                           on=f"{tomorrow:%Y-%m-%d}", today=tomorrow.date())  # fmt: skip
                continue
            jar = str(row["jar"]).removesuffix("_bag").replace("_", " ")
            write_down(folder, "put_up", str(row["label"]), str(jars), jar=jar,
                       produce=f"{row['mass_kg']:.2f} kg", on=f"{tomorrow:%Y-%m-%d}",
                       today=tomorrow.date())  # fmt: skip
    return plans


def table_of(plans: dict[pd.Timestamp, tuple[KitchenPlan, Standing]]) -> pd.DataFrame:
    """Return one row a batch and day, one column an evening: how many were decided."""
    rows = []
    for evening, (plan, _) in plans.items():
        own = plan.batches[plan.batches["decided"] | plan.batches["if_kg"].notna()]
        own = own[own["method"] != "keeping"]  # laid up as it comes: no decision of a day
        for row in own.to_dict("records"):
            said = f"{row['batches']:g}" if row["decided"] else f"if {row['if_kg']:.1f}"
            rows.append((f"{row['day']:%d}", option_key(row), f"{evening:%d}", said))
    table = pd.DataFrame(rows, columns=["day", "option", "evening", "n"])
    return table.pivot_table(index=["day", "option"], columns="evening", values="n",
                             aggfunc="first").fillna("")  # fmt: skip


def wandered(plans: dict[pd.Timestamp, tuple[KitchenPlan, Standing]]) -> list[tuple[str, ...]]:
    """Return the batches that went after they were decided, whether a cause was named or not."""
    found = []
    evenings = list(plans)
    for before, after in pairwise(evenings):
        was, now = (
            {
                (row["day"], option_key(row)): row["batches"]
                for row in plans[one][0].batches.to_dict("records")
                if row["decided"] and row["method"] != "keeping"
            }
            for one in (before, after)
        )
        until = before + pd.Timedelta(days=DECIDED_DAYS)
        for key in sorted(was, key=str):
            if after < key[0] <= until and now.get(key, 0) < was[key]:
                found.append((f"{after:%d}", f"{key[0]:%d}", key[1], f"{was[key]:g}",
                              f"{now.get(key, 0):g}"))  # fmt: skip
    return found


def main() -> None:
    """Print the table, what changed, and what was said of it."""
    stand = "afresh" not in sys.argv[1:]
    with tempfile.TemporaryDirectory() as place:
        first = next((word for word in sys.argv[1:] if word != "afresh"), "2026-07-10")
        folder = folder_up_to(first, Path(place))
        plans = ten_days(folder, pd.date_range(first, periods=11), stand=stand)
        print(table_of(plans).to_string())
        print("changed after they were decided:", len(moved := wandered(plans)))
        for one in moved:
            print("  evening {}: day {} {}: {} -> {}".format(*one))
        for evening, (plan, _) in plans.items():
            for row in plan.changed.to_dict("records"):
                print(f"{evening:%d} said: {row['day']:%d} {row['label']} {row['was']:g} -> "
                      f"{row['now']:g}: {row['reason']}")  # fmt: skip
        print(*(line for line in (folder / "kitchen.csv").read_text("utf-8").splitlines()
                if line >= first), sep="\n")  # fmt: skip


if __name__ == "__main__":
    main()
