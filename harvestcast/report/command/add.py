"""The command that writes a pick down: add."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from harvestcast.report.command.terminal import FOLDER, Progress, command, show, show_json


@click.command(
    epilog="Example: harvestcast add my_garden cucumber 34 --on yesterday --oversize 3",
    short_help="Write down a pick, or take the last one back.",
    # "-12" is an amount to be answered as one, no option; see the check below.
    context_settings={"ignore_unknown_options": True},
)
@FOLDER
@click.argument("crop", required=False)
@click.argument("amount", nargs=-1)
@click.option("--variety", default="", help="Variety, or words of one that is planted.")
@click.option("--on", default="today", show_default=True, help="Day: yesterday, monday, "
              "2026-07-05.")  # fmt: skip
@click.option("--weight", default="", help="Weight where the amount is a count: 5.2lb.")
@click.option("--oversize", default="", help="Grown too big, beside the amount.")
@click.option("--damaged", default="", help="Damaged, beside the amount.")
@click.option("--bed", default="", help="Bed.")
@click.option("--hours", default="", help="Time spent picking: 0.5, 20 min.")
@click.option("--note", default="", help="Note.")
@click.option("--new-crop", is_flag=True, help="Take a crop that is neither known nor planted.")
@click.option("--undo", is_flag=True, help="Take the last entry, or the last import, back.")
@command
def add(
    folder: Path,
    crop: str | None,
    amount: tuple[str, ...],
    undo: bool,
    as_json: bool,
    progress: Progress,
    **said: Any,
) -> None:
    """Write down a pick, in the words a person would type.

    The amount may be 34, 2 dozen, 3 lb 4 oz, 1/2 kg or none (looked, and found none).
    """
    from harvestcast.records.writing.add import add_pick, undo_last
    from harvestcast.words.crops import crops_said_as

    for word in (crop or "", *amount):
        if word.startswith("-") and not word.lstrip("-")[:1].isdigit():
            raise click.NoSuchOption(word)
    if undo:
        if crop or amount:
            raise click.UsageError("--undo takes back the last entry; it takes no crop or amount")
        entry = undo_last(folder)
    elif crop is None:
        raise click.UsageError("say which crop, and how much of it")
    else:
        entry = add_pick(folder, crop, " ".join(amount), **said)
    with crops_said_as(entry.crop_words):
        remarks = [(one, str(one)) for one in entry.remarks]
    if as_json:
        from harvestcast.report.plain import plain

        show_json({"ok": True, "kind": "undo" if undo else "add", "file": entry.file,
                   "says": entry.says, "lines": list(entry.lines),
                   "remarks": [{"code": one.code, "facts": plain(one.facts), "text": text}
                               for one, text in remarks]})  # fmt: skip
        return
    show(f"{'Taken back from' if undo else 'Written to'} {entry.file}: {entry.says}")
    for _, text in remarks:
        show(f"  {text}")
