"""The command that lists what is wrong, odd or missing in the files: check."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from harvestcast.report.command.terminal import (
    BAD_INPUT,
    FOLDER,
    Progress,
    command,
    in_words_of,
    notice_line,
    problem_lines,
    problem_rows,
    show,
    show_json,
)

if TYPE_CHECKING:
    from harvestcast.report.messages import Remark


@click.command(
    epilog="Example: harvestcast check my_garden",
    short_help="List all that is wrong, odd or missing in the files.",
)
@FOLDER
@click.option("--products", is_flag=True, help="List instead what can stand under [targets].")
@command
def check(folder: Path, products: bool, as_json: bool, progress: Progress) -> None:
    """Read every file of a garden and list all that is wrong, odd, or still missing.

    Exit status 1 where anything must be mended before a report can be made.
    """
    if products:
        _products(folder, as_json)
        return
    import pandas as pd

    from harvestcast.errors import InputError
    from harvestcast.kitchen.household.settings import settings_problems
    from harvestcast.records.garden import check_garden, open_garden
    from harvestcast.records.settings import read_household
    from harvestcast.records.tables.findings import Findings
    from harvestcast.report.check import odd_things, still_missing, strange_settings
    from harvestcast.report.plain import plain, rows
    from harvestcast.words import amounts as wording

    lacking: list[Remark] = []
    try:
        garden = open_garden(folder)
        in_words_of(garden)
        problems = settings_problems(garden.household)
        notices = odd_things(garden)
        lacking = still_missing(garden)
    except InputError:
        problems, notices = check_garden(folder)
        said = {problem.column.replace("elevation_ft", "elevation_m") for problem in problems}
        if folder.is_dir():
            home = read_household(folder, Findings())
            judged = settings_problems(home)
            problems += tuple(problem for problem in judged if problem.column not in said)
            notices = pd.concat([notices, strange_settings(home, folder)], ignore_index=True)
    # That there is no elevation is said once: as what is to be mended, or as what is missing.
    mended = any(problem.column == "elevation_m" for problem in problems)
    if mended:
        lacking = [remark for remark in lacking if remark.code != "missing.elevation"]
    if mended or any(remark.code == "missing.elevation" for remark in lacking):
        notices = notices.loc[~notices["code"].eq("elevation.none").fillna(False)]
    found = notices.sort_values(["file", "line"], kind="stable")
    if as_json:
        show_json({"ok": not problems, "kind": "check", "errors": problem_rows(problems),
                   "notices": rows(found),
                   "missing": [{"code": one.code, "text": one.text, "facts": plain(one.facts)}
                               for one in lacking]})  # fmt: skip
    else:
        for line in problem_lines(problems):
            show(f"error    {line}")
        for row in rows(found):
            show(f"warning  {notice_line(row)}")
        for one in lacking:
            show(f"missing  {one.text}")
        counts = [_number(len(problems), "error"), _number(len(found), "warning")]
        counts += [f"{_number(len(lacking), 'thing')} missing"] if lacking else []
        show(wording.sentence(", ".join(counts)))
    if problems:
        raise SystemExit(BAD_INPUT)


def _products(folder: Path, as_json: bool) -> None:
    from harvestcast.records.garden import open_garden
    from harvestcast.report.products import product_lines, product_list

    garden = open_garden(folder)
    in_words_of(garden)
    listed = product_list(garden)
    if as_json:
        show_json({"ok": True, "kind": "products", "products": listed})
        return
    for line in product_lines(listed):
        show(line)


def _number(count: int, noun: str) -> str:
    return f"{count or 'no'} {noun}{'' if count == 1 else 's'}"
