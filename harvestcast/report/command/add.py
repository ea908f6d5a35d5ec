"""The commands that write down: add for the picks, and those of the kitchen book."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from harvestcast.report.command.terminal import (
    FOLDER,
    Progress,
    command,
    in_words_of,
    show,
    show_json,
)

if TYPE_CHECKING:
    from harvestcast.records.writing.add import Entry


_ITEM = click.argument("item", required=False)
_AMOUNT = click.argument("amount", nargs=-1)
_ON = click.option("--on", default="today", show_default=True, help="Day: yesterday, monday, "
                   "2026-07-05.")  # fmt: skip
_NOTE = click.option("--note", default="", help="Note.")
_UNDO = click.option("--undo", is_flag=True, help="Take the last entry back.")
_BEFORE_A_NUMBER = frozenset(
    ("a", "about", "an", "approx", "approx.", "ca", "ca.", "half", "no", "none")
)
"""Words that an amount may begin with, beside a number."""


def _parted(words: Sequence[str], *, crop: bool = False) -> tuple[str, str]:
    """Return item and amount of words that were typed without quotation marks.

    Behind the name of a ``crop`` no further word belongs to it, unless both name another one.

    Examples
    --------
    >>> _parted(["green", "beans", "3", "lb"]), _parted(["okra", "2", "dozen"])
    (('green beans', '3 lb'), ('okra', '2 dozen'))
    >>> _parted(["green beans", "none"]), _parted(["cucumber", "two", "dozen"])
    (('green beans', 'none'), ('cucumber', 'two dozen'))
    >>> _parted(["tomato", "Wimble", "3"], crop=True), _parted(["sweet", "corn", "9"], crop=True)
    (('tomato', 'Wimble 3'), ('sweet corn', '9'))
    """
    from harvestcast.records.typed.crops import canonical_crop

    for at, word in enumerate(words[1:], 1):
        if word[:1].isnumeric() or word[:1] in tuple("-+~.") or word.casefold() in _BEFORE_A_NUMBER:
            item = " ".join(words[:at])
            if crop and canonical_crop(words[0]) and not canonical_crop(item):
                break
            return item, " ".join(words[at:])
    return words[0], " ".join(words[1:])


def _written(
    folder: Path,
    kind: str,
    item: str | None,
    amount: tuple[str, ...],
    write: Callable[[str, str], Entry],
    *,
    undo: bool,
    as_json: bool,
) -> None:
    """Write an entry, or take the last one back, and say it."""
    from harvestcast.records.writing.add import undo_last
    from harvestcast.words.crops import crops_said_as

    if undo and (item or amount):
        raise click.UsageError("--undo takes back the last entry; it takes no item or amount")
    entry = (
        undo_last(folder) if undo else write(*_parted([item or "", *amount], crop=kind == "add"))
    )
    with crops_said_as(entry.crop_words):
        remarks = [(one, str(one)) for one in entry.remarks]
    if as_json:
        from harvestcast.report.plain import plain

        show_json({"ok": True, "kind": "undo" if undo else kind, "file": entry.file,
                   "says": entry.says, "lines": list(entry.lines),
                   "remarks": [{"code": one.code, "facts": plain(one.facts), "text": text}
                               for one, text in remarks]})  # fmt: skip
        return
    show(f"{'Taken back from' if undo else 'Written to'} {entry.file}: {entry.says}")
    for _, text in remarks:
        show(f"  {text}")


@click.command(
    epilog="Example: harvestcast add my_garden cucumber 34 --on yesterday --oversize 3",
    short_help="Write down a pick, or take the last one back.",
    # "-12" is an amount to be answered as one, no option; see the check below.
    context_settings={"ignore_unknown_options": True},
)
@FOLDER
@click.argument("crop", required=False)
@_AMOUNT
@click.option("--variety", default="", help="Variety, or words of one that is planted.")
@_ON
@click.option("--weight", default="", help="Weight where the amount is a count: 5.2lb.")
@click.option("--oversize", default="", help="Grown too big, beside the amount.")
@click.option("--damaged", default="", help="Damaged, beside the amount.")
@click.option("--bed", default="", help="Bed.")
@click.option("--hours", default="", help="Time spent picking: 0.5, 20 min.")
@_NOTE
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
    from harvestcast.records.writing.add import add_pick

    for word in (crop or "", *amount):
        if word.startswith("-") and not word.lstrip("-")[:1].isdigit():
            raise click.NoSuchOption(word)
    for name, value in said.items():
        if str(value).startswith("--"):  # the next option, taken for the value of this one
            raise click.BadOptionUsage(name, f"Option '--{name}' requires an argument.")
    if crop is None and not undo:
        raise click.UsageError("say which crop, and how much of it")
    _written(
        folder, "add", crop, amount,
        lambda crop, amount: add_pick(folder, crop, amount, **said),
        undo=undo, as_json=as_json,
    )  # fmt: skip


@click.command(
    "put-up",
    epilog='Example: harvestcast put-up my_garden "dill pickles" 7 pints --from 8lb --hours 2.5',
    short_help="Write down a batch that was put up.",
)
@FOLDER
@click.argument("product", required=False)
@_AMOUNT
@click.option("--jar", default="", help="Size of the jars, where the amount does not say it.")
@click.option("--from", "produce", default="", help="Weight of the produce that went in.")
@click.option("--hours", default="", help="Time it took: 2.5, 40 min.")
@_ON
@_NOTE
@_UNDO
@command
def put_up(
    folder: Path,
    product: str | None,
    amount: tuple[str, ...],
    undo: bool,
    as_json: bool,
    progress: Progress,
    **said: Any,
) -> None:
    """Write down a batch that was put up: of what, and how many jars or bags.

    Its jars, lids or bags, what its recipe needs, its room in the freezer and the produce that went
    in are taken off what is in the kitchen.
    """
    from harvestcast.kitchen.household.entries import write_down

    if product is None and not undo:
        raise click.UsageError("say what was put up, and how many jars or bags of it")
    _written(
        folder, "put-up", product, amount,
        lambda product, amount: write_down(folder, "put_up", product, amount, **said),
        undo=undo, as_json=as_json,
    )  # fmt: skip


@click.command(
    "on-hand",
    epilog='Example: harvestcast on-hand my_garden "pint jars" 24; without an item it lists them',
    short_help="Count what is in the kitchen, or list it.",
)
@FOLDER
@_ITEM
@_AMOUNT
@_ON
@_NOTE
@_UNDO
@command
def on_hand(
    folder: Path,
    item: str | None,
    amount: tuple[str, ...],
    undo: bool,
    as_json: bool,
    progress: Progress,
    **said: Any,
) -> None:
    """Write down a count: jars, lids, bags, ingredients, produce, or the room free in a freezer.

    A count is what is there after all that stands in the book already; count in the evening, after
    the day's picks, since the plan begins the day after. What is counted in the morning was there
    the evening before: write it down with --on that day. Without an item all that is on hand is
    listed, with the day of its last count.
    """
    from harvestcast.kitchen.household.entries import write_down

    if item is None and not undo:
        from harvestcast.records.garden import open_garden
        from harvestcast.report.kitchen import listing, listing_words

        progress("reading the garden")
        garden = open_garden(folder)
        in_words_of(garden)
        found = listing(garden)
        progress.done()
        if as_json:
            show_json(found)
        else:
            show(listing_words(found))
        return
    _written(
        folder, "on-hand", item, amount,
        lambda item, amount: write_down(folder, "counted", item, amount, **said),
        undo=undo, as_json=as_json,
    )  # fmt: skip


@click.command(
    epilog='Example: harvestcast bought my_garden, or harvestcast bought my_garden "pint jars" 12',
    short_help="Write down what was bought.",
)
@FOLDER
@_ITEM
@_AMOUNT
@_ON
@_UNDO
@command
def bought(
    folder: Path,
    item: str | None,
    amount: tuple[str, ...],
    undo: bool,
    as_json: bool,
    progress: Progress,
    on: str,
) -> None:
    """Write down what was bought; without an item, all of the last shopping list."""
    from harvestcast.kitchen.household.entries import buy_list, write_down

    def write(item: str, amount: str) -> Entry:
        return (
            write_down(folder, "bought", item, amount, on=on) if item else buy_list(folder, on=on)
        )

    _written(folder, "bought", item, amount, write, undo=undo, as_json=as_json)


def _gone(name: str, what: Any, short: str, example: str, words: str) -> click.Command:
    """Make a command that writes down what is gone from the kitchen, in one way of going."""

    @click.command(name, epilog=f"Example: harvestcast {name} my_garden {example}",
                   short_help=short, help=words)  # fmt: skip
    @FOLDER
    @_ITEM
    @_AMOUNT
    @_ON
    @_NOTE
    @_UNDO
    @command
    def gone(
        folder: Path,
        item: str | None,
        amount: tuple[str, ...],
        undo: bool,
        as_json: bool,
        progress: Progress,
        **said: Any,
    ) -> None:
        from harvestcast.kitchen.household.entries import write_down

        if item is None and not undo:
            raise click.UsageError("say what it was, and how much of it")
        _written(
            folder, name, item, amount,
            lambda item, amount: write_down(folder, what, item, amount, **said),
            undo=undo, as_json=as_json,
        )  # fmt: skip

    return gone


used = _gone(
    "used", "used", "Write down what was eaten or used up.", '"dill pickles" 2 pints',
    "Write down what was eaten or used up: jars from the shelf, an ingredient, lids, produce.",
)  # fmt: skip
gave = _gone(
    "gave", "given", "Write down what was given away.", "cucumbers 5 lb",
    "Write down what was given away: produce, or jars from the shelf.",
)  # fmt: skip
fed = _gone(
    "fed", "fed", "Write down what animals were fed.", "zucchini 4 lb",
    "Write down what animals were fed.",
)  # fmt: skip
threw_out = _gone(
    "threw-out", "thrown_out", "Write down what was thrown out.", "cucumbers 3 lb",
    "Write down what was thrown out or composted: produce, or jars from the shelf.",
)  # fmt: skip
KITCHEN = (put_up, used, gave, fed, threw_out, on_hand, bought)
"""The commands of the kitchen book, in the order in which the help lists them."""
