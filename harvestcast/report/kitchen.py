"""What is on hand: the list that ``on-hand`` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from harvestcast.report.plain import plain, rows
from harvestcast.units import L_PER_CUFT, L_PER_QUART
from harvestcast.words import amounts as wording
from harvestcast.words.crops import crop_word

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


def listing(garden: Garden) -> dict[str, Any]:
    """Return what is on hand on the last evening known, as plain values.

    Parameters
    ----------
    garden : Garden
        The garden folder.

    Returns
    -------
    dict
        ``kind``, ``as_of``, ``units``; ``stock``: rows of
        :func:`harvestcast.kitchen.household.book.stock_book` with the amount in words (``shown``);
        ``produce``: crop, ``mass_kg`` and ``counted_on``, null where it was never counted and is
        worked out from the picks; ``shelf``: preserves (product, label) with their number of
        ``jars`` of the usual size, in words (``shown``).
    """
    from harvestcast.kitchen.handbook.products import jars_in_words, product
    from harvestcast.kitchen.household.book import produce_events, stock_book
    from harvestcast.kitchen.household.demand import fresh_use
    from harvestcast.kitchen.household.on_hand import on_hand
    from harvestcast.kitchen.household.pantry import shelf

    units, day = garden.household.units, garden.last_day
    if day is None:
        empty: dict[str, Any] = {"stock": [], "produce": [], "shelf": []}
        return {"kind": "on-hand", "as_of": None, "units": units, **empty}
    book = stock_book(garden, day)
    shown = [
        amount_words(float(row["amount"]), str(row["unit"]), units, room=row["kind"] == "room")
        for row in book.to_dict("records")
    ]
    lying = on_hand(garden, day, fresh_use(garden, sorted(set(garden.picks["crop"].astype(str)))))
    produce = lying.groupby("crop")["mass_kg"].sum().reset_index()
    events = produce_events(garden, day)
    last = events.loc[events["what"] == "counted"].groupby("crop")["date"].max()
    produce["counted_on"] = last.reindex(produce["crop"]).to_numpy()
    standing = shelf(garden, day).groupby(["product", "label"])["jars"].sum().reset_index()
    jars = [
        jars_in_words(product(key).usual_jar, round(number, 1))
        for key, number in zip(standing["product"], standing["jars"], strict=True)
    ]
    return {
        "kind": "on-hand",
        "as_of": plain(day),
        "units": units,
        "stock": rows(book.assign(shown=shown)),
        "produce": rows(produce),
        "shelf": rows(standing.assign(shown=jars)),
    }


def amount_words(amount: float, unit: str, units: wording.Units, *, room: bool = False) -> str:
    """Return an amount on hand, rounded as one measures at a shelf.

    Examples
    --------
    >>> amount_words(5.678, "l", "us"), amount_words(99.1, "l", "us", room=True)
    ('1.5 gal', '3.5 cubic feet')
    >>> amount_words(24.0, "pieces", "us"), amount_words(0.7, "l", "metric")
    ('24', '0.7 l')
    """
    if unit == "kg":
        return wording.mass(amount, units)
    if unit == "l" and units == "us":
        if room:
            return f"{amount / L_PER_CUFT:.2g} cubic feet"
        gallons = amount >= 4 * L_PER_QUART
        return f"{amount / L_PER_QUART / (4 if gallons else 1):.2g} {'gal' if gallons else 'qt'}"
    figures = f"{amount:.0f}" if unit == "pieces" else f"{amount:.3g}"
    word = unit.removesuffix("s") if figures == "1" else unit
    return figures if unit == "pieces" else f"{figures} {word}"


def _on(counted: str, as_of: str, units: wording.Units) -> str:
    """Return the day of a count, with its year where it is another than that of the list."""
    return wording.day(counted, units, year=counted[:4] != as_of[:4])


def listing_words(found: dict[str, Any]) -> str:
    """Return the list in words."""
    units: wording.Units = found["units"]
    if found["as_of"] is None:
        return "Nothing is known of this kitchen yet."

    out = [f"On hand on the evening of {wording.long_day(found['as_of'], units)}"]
    lines = []
    for row in found["stock"]:
        name = str(row["item"]).replace("_", " ")
        counted = row["counted_on"]
        since = "never counted; from garden.toml and what was bought since"
        if counted:
            since = f"counted {_on(counted, found['as_of'], units)}"
        lines.append((f"{name}, room free" if row["kind"] == "room" else name, row["shown"], since))
    for row in found["produce"]:
        if row["mass_kg"] >= wording.SMALL_KG:
            counted = row["counted_on"]
            since = "worked out from the picks, never counted"
            if counted:
                since = f"counted {_on(counted, found['as_of'], units)}, and what was picked since"
            lines.append((crop_word(row["crop"]), wording.mass(row["mass_kg"], units), since))
    lines += [
        (row["label"], row["shown"], "put up, less what the book says is gone")
        for row in found["shelf"]
    ]
    width = max([len(name) for name, _, _ in lines], default=0)
    out += [f"  {name:<{width}}  {amount}; {since}" for name, amount, since in lines]
    return "\n".join(out)
