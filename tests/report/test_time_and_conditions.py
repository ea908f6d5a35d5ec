"""A canning time never stands without its conditions, in no rendering and for no product.

What must stand beside each time is read here from the process table itself, by plain filtering.
"""

import json
import math
from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import pandas as pd
import pytest

from harvestcast import frames
from harvestcast.errors import UnsafeProcessError
from harvestcast.kitchen.handbook import process_times as handbook
from harvestcast.kitchen.handbook.conditions import conditions_of
from harvestcast.kitchen.handbook.products import product
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.report.week import page as week_page
from harvestcast.report.week import views
from harvestcast.report.week import words as week_words
from harvestcast.report.week.process_words import process_words
from harvestcast.report.week.results import Week
from harvestcast.report.week.summary import summary
from tests.kitchen.conftest import make_garden

FT = 0.3048
FEET = (0, 1000, 1001, 3000, 4500, 6001, 8000, 8001, 9500)
KITCHEN = (
    {"kind": "boiling_water_canner"},
    {"kind": "pressure_canner", "gauge": "dial"},
    {"kind": "pressure_canner", "gauge": "weighted"},
)
AS_OF = "2026-08-01"
# From the printed tables: the fractions of an inch they use.
INCHES = {0.125: "1/8 in", 0.25: "1/4 in", 0.5: "1/2 in", 1.0: "1 in", 1.25: "1 1/4 in"}
# USDA AIB 539 (2015), Guide 3, p. 3-5.
TOMATO_ACID = {
    "pint": ("1 tablespoon of bottled lemon juice", "0.25 teaspoon of citric acid"),
    "quart": ("2 tablespoons of bottled lemon juice", "0.5 teaspoon of citric acid"),
}


def canned(feet: float, **settings: object) -> pd.DataFrame:
    """Return every way of canning of the whole catalogue at an elevation, as decided batches."""
    garden = make_garden(equipment=KITCHEN, elevation_m=feet * FT, **settings)
    options = weekly_options(garden, AS_OF)
    day = pd.Timestamp(AS_OF) + pd.Timedelta(days=1)
    rows = options[options["method"].isin(handbook.METHODS)].assign(
        day=day, batches=1.0, mass_kg=options["kg_per_batch"], jars=options["jars_per_batch"],
        jars_low=math.nan, jars_high=math.nan, best_by=day, decided=True, reason=None,
    )  # fmt: skip
    return frames.check_frame(
        rows.assign(code=None, facts=None, if_kg=math.nan, since=pd.NaT), frames.BATCHES
    )


def _number(value: float, unknown: float) -> float:
    return unknown if math.isnan(value) else value


@cache
def _rows() -> dict[tuple[str, ...], list[dict]]:
    """Return the verified rows of the process table by product, pack, jar, method and gauge."""
    rows: dict[tuple[str, ...], list[dict]] = {}
    table = handbook.table("canning_process")
    for row in table[table["verified"]].assign(gauge=table["gauge"].fillna("")).to_dict("records"):
        key = tuple(row[k] for k in ("product", "pack", "jar", "method", "gauge"))
        rows.setdefault(key, []).append(row)
    return rows


def table_row(batch: pd.Series, feet: float) -> dict[str, object]:
    """Return the row of the process table that a batch must rest on: the longest at most psi."""
    item = product(batch["product"])
    gauge = "" if batch["method"] == "boiling_water" else batch["equipment"].split("_")[0]
    mine = [
        row
        for row in _rows()[item.handbook, item.pack, batch["jar"], batch["method"], gauge]
        if row["altitude_low_ft"] <= feet <= _number(row["altitude_high_ft"], math.inf)
    ]
    return max(mine, key=lambda row: (row["process_min"], _number(row["pressure_psi"], 0.0)))


def must_stand(batch: pd.Series, row: dict[str, object]) -> list[str]:
    """Return the words that must stand beside a time, for a household in feet and pounds."""
    high = row["altitude_high_ft"]
    band = (
        f"{row['altitude_low_ft']:,.0f} to {high:,.0f} ft"
        if high == high
        else f"above {row['altitude_low_ft'] - 1:,.0f} ft"
    )
    words = [
        f"{row['process_min']:g} min",
        f"{row['pack']} pack",
        batch["jar"].replace("_", " "),
        INCHES[row["headspace_in"]],
        band,
    ]
    if row["gauge"]:
        words += [f"{row['gauge']}-gauge pressure canner", f"at {row['pressure_psi']:g} psi"]
    else:
        words.append("boiling-water canner")
    key = product(batch["product"]).handbook
    kind = handbook.table("acid").set_index("product").loc[key, "acid"]
    if kind == "each_jar":
        lemon, citric = TOMATO_ACID[batch["jar"]]
        words += [lemon] if key == "pears_asian" else [lemon, citric]
    else:
        words += [
            said
            for part, said in (
                ("lemon_juice_in", "bottled lemon or lime juice"),
                ("vinegar", "vinegar of 5 % acidity"),
                ("and_lemon_juice", "bottled lemon juice"),
                ("none_added", "no acid added"),
            )
            if part in kind and not (part == "lemon_juice_in" and "vinegar" in kind)
        ]
    return words


def _week(some: Week, batches: pd.DataFrame, feet: float, *, decided: bool = True) -> Week:
    table = frames.check_frame(batches.assign(decided=decided), frames.BATCHES)
    return replace(some, batches=table, elevation_m=feet * FT)


def _sheet_rows(week, number: int) -> list[str]:
    """Return the rows of the kitchen sheet, which page, print and notebook share."""
    page = week_page.kitchen_sheet(week)._repr_html_()
    body = page.split("<tbody")[1].split("</tbody>")[0]
    rows = body.split('<tr role="row">')[1:]
    assert len(rows) == number
    return rows


def _terminal_rows(some: Week, batches: pd.DataFrame, feet: float) -> list[str]:
    """Return the to-do lines of the terminal, which shows twelve at a time."""
    lines: list[str] = []
    for first in range(0, len(batches), 12):
        own = _week(some, batches.iloc[first : first + 12], feet)
        said = week_words.terminal(own).split("To do, decided now")[1].split("\n\n")[0]
        lines += said.splitlines()[1:]
    assert len(lines) == len(batches)
    return lines


@pytest.mark.parametrize("feet", FEET)
def test_a_time_never_stands_without_its_conditions(made_up: SimpleNamespace, feet: float) -> None:
    batches = canned(feet)
    assert len(batches) > 20
    records = [batch for _, batch in batches.iterrows()]
    rested = [table_row(batch, feet) for batch in records]
    known = [must_stand(batch, row) for batch, row in zip(records, rested, strict=True)]
    some = made_up.week("us")
    decided = _week(some, batches, feet)
    likely = _week(some, batches, feet, decided=False)
    of = {(b["product"], b["jar"], b["equipment"]): w for b, w in zip(records, known, strict=True)}
    later = [
        of[b["product"], b["jar"], b["equipment"]]
        for _, b in views.later(likely.batches).iterrows()
    ]
    for shown, wanted in (
        (_sheet_rows(decided, len(batches)), known),
        (_sheet_rows(likely, len(batches)), later),
        (_terminal_rows(some, batches, feet), known),
    ):
        for line, words in zip(shown, wanted, strict=True):
            assert all(word in line for word in words), (words, line)
    work_of = json.loads(json.dumps(summary(decided)["work"]))
    for batch, row, work in zip(records, rested, work_of, strict=True):
        assert (work["pack"], work["jar"], work["method"]) == (
            row["pack"], batch["jar"], batch["method"],
        )  # fmt: skip
        assert (work["gauge"] or "") == row["gauge"]
        assert work["gauge"] is None or work["equipment"] == f"{row['gauge']}_gauge_pressure_canner"
        for name, column in (
            ("process_min", "process_min"),
            ("pressure_psi", "pressure_psi"),
            ("headspace_in", "headspace_in"),
            ("band_low_ft", "altitude_low_ft"),
            ("band_high_ft", "altitude_high_ft"),
        ):
            assert work[name] == (row[column] if row[column] == row[column] else None), name
        assert work["acid"] in handbook.ACIDS
        assert (work["acid"] == "each_jar") == (work["lemon_juice_tbsp"] is not None)


def test_acid_in_stock_is_named_all_the_same(made_up: SimpleNamespace) -> None:
    stock = {"lemon_juice_l": 5, "citric_acid_g": 500}
    batches = canned(0, stock=stock, crops=["tomato"])
    sauce = batches[batches["product"] == "tomato_sauce"]
    assert set(sauce["jar"]) == {"pint", "quart"}
    for _, batch in sauce.iterrows():
        said = process_words(batch, made_up.week("us")).line
        assert all(words in said for words in TOMATO_ACID[batch["jar"]])


def test_metric_words_keep_the_figures_of_the_table(made_up: SimpleNamespace) -> None:
    (_, beans), *_ = canned(0, crops=["snap bean"]).iterrows()
    said = process_words(beans, made_up.week("metric")).line
    assert "11 psi (76 kPa)" in said and "26 mm (1 in)" not in said
    assert "25 mm (1 in)" in said and "0 to 609 m (0 to 2,000 ft)" in said


@pytest.mark.parametrize("lacking", ["pack", "gauge", "acid", "headspace_in", "pressure_psi",
                                     "band_low_ft"])  # fmt: skip
def test_a_time_that_lacks_a_condition_is_not_shown(made_up: SimpleNamespace, lacking: str) -> None:
    (_, beans), *_ = canned(0, crops=["snap bean"]).iterrows()
    with pytest.raises(UnsafeProcessError, match="is not shown without"):
        process_words(beans.drop(lacking), made_up.week("us"))


def test_a_process_for_no_gauge_has_no_one_pressure() -> None:
    both = handbook.process("green_beans", jar="pint", elevation_m=0)
    with pytest.raises(UnsafeProcessError, match="gauge, pressure"):
        conditions_of(both)


def test_acid_agrees_with_the_recipes_and_the_collected_guide(shared) -> None:
    kinds = handbook.table("acid").set_index("product")["acid"]
    assert sorted(kinds.index) == sorted(handbook.handbook_products())
    assert set(kinds) == set(handbook.ACIDS)
    guide = pd.read_csv(shared("handbook/acidification.csv"))
    each = guide[guide["jar_size"].isin(["pint", "quart"])].set_index(
        ["product", "jar_size", "acid"]
    )
    assert set(kinds.index[kinds == "each_jar"]) == set(each.index.get_level_values(0))
    for key in kinds.index[kinds == "each_jar"]:
        for jar in ("pint", "quart"):
            lemon, citric = TOMATO_ACID[jar]
            assert lemon.startswith(f"{each.loc[(key, jar, 'bottled lemon juice'), 'amount']:g} ")
            if key != "pears_asian":  # the guide prints lemon juice only (p. 2-20)
                assert citric.startswith(f"{each.loc[(key, jar, 'citric acid'), 'amount']:g} ")
    for feet in (0, 7000):
        found = handbook.process("tomato_sauce_thin", jar="quart", elevation_m=feet * FT)
        assert (found.lemon_juice_tbsp, found.citric_acid_tsp) == (2.0, 0.5)
