"""All sentences of this room that say what is the case: a code and facts in, words out.

Refusals, reasons and notices are told apart by their code; the sentence is only shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import pandas as pd

from harvestcast.errors import ElevationError, UnsafeProcessError
from harvestcast.frames import NOTICES, check_frame
from harvestcast.records.typed.jar_sizes import SIZES
from harvestcast.units import KG_PER_LB, L_PER_PINT
from harvestcast.words import amounts as wording
from harvestcast.words import messages
from harvestcast.words.amounts import about_mass
from harvestcast.words.messages import Message


class Said(messages.Said):
    """One thing that the kitchen has to say: its code, and the facts the sentence is made of."""

    __slots__ = ()

    @property
    def message(self) -> Message:
        """The message of the code in this room's table."""
        return MESSAGES[self.code]

    @property
    def sentence(self) -> str:
        """Both, as one message of an error."""
        return ". ".join(part for part in (self.text, self.cure) if part) + "."


def notice(
    said: Said, *, file: object, line: object, column: str, value: object
) -> dict[str, object]:
    """Return one row of a NOTICES frame, with its code and facts."""
    where = {"file": file, "line": line, "column": column, "value": str(value)}
    return {**where, "odd": said.text, "done": said.cure, "code": said.code, "facts": said.facts}


def notices(rows: Iterable[Mapping[str, object]]) -> pd.DataFrame:
    """Return rows of :func:`notice` as a NOTICES frame."""
    return check_frame(pd.DataFrame(list(rows), columns=NOTICES.names), NOTICES)


def listed(words: Iterable[str], last: str = "and") -> str:
    """Join words as a sentence does.

    Examples
    --------
    >>> listed(["a", "b", "c"]), listed(["a", "b"], "or"), listed([])
    ('a, b and c', 'a or b', '')
    """
    parts = list(words)
    return f" {last} ".join(part for part in (", ".join(parts[:-1]), *parts[-1:]) if part)


def unsafe(code: str, **facts: Any) -> UnsafeProcessError:
    """Return the refusal to give a canning time, to be raised.

    Parameters
    ----------
    code : str
        Code of this table; those of an elevation give an :class:`ElevationError`.
    facts : object
        Facts of the message.

    Examples
    --------
    >>> error = unsafe("process.low_acid", product="okra")
    >>> error.code, error.facts["product"]
    ('process.low_acid', 'okra')
    """
    said = Said(code, facts)
    kind = ElevationError if code.startswith("elevation.") else UnsafeProcessError
    return kind(said.sentence, code=code, facts=facts)


JAR_WORDS: dict[str, str] = {"half_pint": "half-pint", "pint": "pint", "quart": "quart"}

_STANDING = {
    "reprinted": (
        "has only been read in a retyped copy of the guide, not in a publication of a government "
        "or extension service"
    ),
    "repeated": "has only been read on a page of no government or extension service",
    "memory": "is from memory and has not been read in a published table",
}

_COLUMNS = {
    "method": "by {}",
    "jar": "in {} jars",
    "pack": "packed {}",
    "gauge": "with a {} gauge",
}

_CANNERS = {"boiling_water": "boiling-water canner", "pressure": "pressure canner"}

_NOTHING_GUESSED = "Nothing is guessed; freeze, dry or eat it instead"


def _words(key: str) -> str:
    return key.replace("_", " ")


def _jar(jar: str) -> str:
    return JAR_WORDS.get(jar, _words(jar))


def standing_words(standing: str) -> str:
    """Return why a row that was not read in a publication gives no time."""
    return _STANDING[standing]


def _near(names: Iterable[str]) -> str:
    said = listed(names, "or")
    return f"; did you mean {said}?" if said else ""


def height(metres: float, feet: int, units: str) -> str:
    """Return an elevation in both units, the household's own first.

    Examples
    --------
    >>> height(300.0, 985, "metric")
    '300 m (985 ft)'
    """
    both = [f"{feet:,} ft", f"{metres:,.0f} m"]
    first, second = both if units == "us" else both[::-1]
    return f"{first} ({second})"


def _no_row(*, product: str, column: str, value: str, have: Iterable[str]) -> str:
    value, rows = (_jar(value), [_jar(one) for one in have]) if column == "jar" else (value, have)
    asked = _COLUMNS[column].format(_words(value))
    return (
        f"{_words(product)}: no tested process {asked} "
        f"(the table has {', '.join(_words(one) for one in rows)})"
    )


def _times(times: int) -> str:
    return f" ({times} lines)" if times > 1 else ""


def _untested(*, jars: Iterable[str], methods: Iterable[str], **where: Any) -> str:
    at = ""
    if where["metres"] is not None:
        at = f" at {height(where['metres'], where['feet'], where['units'])}"
    canners = listed([_CANNERS[one] for one in methods], "or")
    return f"{NO_TESTED_TIME}, for {listed(jars)} in a {canners}{at}"


NO_TESTED_TIME = "no tested time on record here that was read in a published table"
"""Why a product whose row was only read second-hand is kept out."""


def _instead(*, crop: str, instead: Iterable[str], **_: Any) -> str:
    use = "use your extension service's current table"
    made = listed(instead)
    return f"{use}; what this kitchen can make of {crop}: {made}" if made else use


def _towards(
    *, stock: float, target: float, unit: str, wanted: float, past: float, planned: float
) -> str:
    said = f"{stock:.0f} of {target:.0f} {unit} on the shelf"
    if wanted > max(0.0, target - stock) + ROUNDS:
        said += f", but {wanted:.0f} more are wanted by the season's end"
        if past > ROUNDS:
            said += f": {past:.0f} of those on the shelf are past their best by then"
    if planned - wanted > ROUNDS:
        said += (
            f"; {planned - wanted:.0f} of the {planned:.0f} in this plan go beyond what is "
            "wanted, only so that nothing spoils"
        )
    return said


ROUNDS = 0.5
"""Jars that make no difference when they are said in whole ones."""


def _full(shelves: Iterable[Mapping[str, Any]]) -> str:
    words = [
        f"{one['label']} ({one['stock']:.0f} of {one['target']:.0f} {one['unit']})"
        for one in shelves
    ]
    return f"{listed(words)} {'is' if len(words) == 1 else 'are'} full"


def _mass(kg: float, units: str) -> str:
    return f"{kg / KG_PER_LB:.1f} lb" if units == "us" else f"{kg:.1f} kg"


_GOES = {
    "eaten": "eaten fresh",
    "given": "given away or fed to animals",
    "carried_out": "still keeping at the end",
    "spoiled": "more than can be used in time",
}


def _crop_full(
    *,
    full: Iterable[Mapping[str, Any]],
    crop: str,
    come: float,
    made: Mapping[str, float],
    goes: Mapping[str, float],
    units: str,
) -> str:
    parts = [f"{_mass(kg, units)} for {label}" for label, kg in made.items()]
    parts += [
        f"{_mass(goes[name], units)} {words}" for name, words in _GOES.items() if name in goes
    ]
    return f"{_full(full)}; of about {_mass(come, units)} of {crop}: {', '.join(parts)}"


_SHELF = {"label": "dill pickles", "stock": 20.0, "target": 20.0, "unit": "pints"}
_UNTESTED: dict[str, Any] = {
    "crop": "tomato",
    "jars": ["pints", "quarts"],
    "methods": ["boiling_water", "pressure"],
    "metres": 300.0,
    "feet": 985,
    "units": "metric",
    "instead": ["frozen tomatoes"],
}

_LEFT: dict[str, Any] = {"crop": "cucumber", "kg": 3.2, "units": "us"}

MESSAGES: dict[str, Message] = {
    # Elevation and the process table.
    "elevation.missing": Message(
        text="No canning time is given without the elevation of the kitchen: water boils cooler "
        "higher up",
        cure="Add elevation_m (or elevation_ft) to garden.toml",
    ),
    "elevation.too_high": Message(
        text="No canning time is given for {metres:g} m: nobody keeps house above {most:,.0f} m",
        cure="Check the number and its unit (elevation_m or elevation_ft)",
        example={"metres": 9000.0, "most": 5000.0},
    ),
    "elevation.below_sea": Message(
        text="The tables begin at sea level and have no row for {feet} ft",
        cure="Below sea level water boils hotter than at sea level; set elevation_m = 0 to use the "
        "sea-level row",
        example={"feet": -33},
    ),
    "elevation.no_row": Message(
        text=lambda product, feet, jar: (
            f"{_words(product)}: the table has no row for {feet:,} ft in {_jar(jar)} jars"
        ),
        cure="Freeze or dry it instead, or ask your local extension office",
        example={"product": "green_beans", "feet": 8001, "jar": "pint"},
    ),
    "elevation.canner": Message(
        text="there is a canner but no elevation, and no canning time is shown without one",
        cure="Add elevation_m (or elevation_ft), or take the canner out",
    ),
    "process.unknown": Message(
        text=lambda product, near: (
            f"{_words(product)}: no tested process is on record for it{_near(map(_words, near))}"
        ),
        cure=_NOTHING_GUESSED,
        example={"product": "pumpkin_butter", "near": ["apple_butter"]},
    ),
    "process.low_acid": Message(
        text=lambda product: (
            f"{_words(product)}: a low-acid food; it is never safe in boiling water, which leaves "
            "the spores of botulism alive"
        ),
        cure="Use a pressure canner, or freeze or dry it",
        example={"product": "okra"},
    ),
    "process.no_row": Message(
        text=_no_row,
        cure=_NOTHING_GUESSED,
        example={"product": "okra", "column": "jar", "value": "half_pint", "have": ["pint"]},
    ),
    "process.jar_too_large": Message(
        text=lambda product, jar, largest: (
            f"{_words(product)}: a jar of {jar} is larger than any with a tested time; the largest "
            f"is the {_jar(largest)} ({1000 * L_PER_PINT * float(SIZES[largest]):.0f} ml)"
        ),
        cure="Use smaller jars: the middle of a larger one heats more slowly than was tested",
        example={"product": "chile_salsa", "jar": "1 l", "largest": "pint"},
    ),
    "process.untested": Message(
        text=lambda product, jar, feet, standing: (
            f"{_words(product)}, {_jar(jar)} jars at {feet:,} ft: the figure "
            f"{_STANDING[standing]}, so no time is given"
        ),
        cure="Use the current tables of your extension service, or freeze or dry it",
        example={"product": "choice_salsa", "jar": "pint", "feet": 1001, "standing": "memory"},
    ),
    "process.gauge_needed": Message(
        text=lambda product: f"{_words(product)}: the time differs by canner",
        cure='Say gauge="dial" or gauge="weighted"',
        example={"product": "tomatoes_crushed"},
    ),
    "process.method_unknown": Message(
        text="{method} is no canning method",
        cure="Use boiling_water or pressure",
        example={"method": "oven"},
    ),
    "process.gauge_unknown": Message(
        text="{gauge} is no gauge of a canner",
        cure="Use dial or weighted",
        example={"gauge": "digital"},
    ),
    "process.gauge_contradicts": Message(
        text="{method} and a {gauge} gauge contradict each other",
        cure="Name one of them",
        example={"method": "pressure_dial", "gauge": "weighted"},
    ),
    "process.gauge_in_water": Message(
        text="A boiling-water canner has no gauge", cure="Leave the gauge out"
    ),
    "process.condition_missing": Message(
        text=lambda missing: (
            f"A canning time is not shown without what it holds for: {', '.join(missing)}"
        ),
        cure="Look the process up for one jar, pack, canner and elevation",
        example={"missing": ["pressure"]},
    ),
    # Why this kitchen cannot put something up.
    "option.no_equipment": Message(
        text=lambda kind: f"there is no {_words(kind)} in garden.toml",
        example={"kind": "pressure_canner"},
    ),
    "option.no_amount": Message(text="the handbook has no figure for the produce it takes"),
    "option.no_canner_for_jar": Message(
        text=lambda jar: f"no canner in garden.toml takes {_jar(jar)} jars",
        example={"jar": "quart"},
    ),
    "option.no_drying_time": Message(text="the handbook has no drying time for it"),
    # Targets that no plan can serve.
    "target.not_grown": Message(
        text="no {crop} is planted or picked", example={"crop": "raspberry"}
    ),
    "target.refused": Message(
        text=lambda reasons, **_: "; ".join(reasons),
        example={"reasons": ["there is no freezer in garden.toml"], "codes": []},
    ),
    "target.untested": Message(
        text=lambda **facts: (
            f"{_untested(**{k: v for k, v in facts.items() if k not in ('crop', 'instead')})}; "
            f"{_instead(**facts)}"
        ),
        example=_UNTESTED,
    ),
    # Settings.
    "target.unknown": Message(
        text="no such product is known here, so no tested way to put it up either",
        cure=lambda near: (
            f"left out: nothing is planned or counted towards it{_near(near)}; "
            "'harvestcast check FOLDER --products' lists what there is"
        ),
        example={"near": ["dill pickles"]},
    ),
    "target.size_unread": Message(
        text="this size of jar cannot be read for certain",
        cure="left out: name the product with half pints, pints or quarts, or with no size",
    ),
    "target.not_weighed": Message(
        text="{label} are counted in {counted}, not weighed",
        cure="left out; give the target in jars",
        example={"label": "dill pickles", "counted": "pints"},
    ),
    "target.weighed": Message(
        text="{label} is counted in kg, not in jars",
        cure="left out: name the product with no size of jar",
        example={"label": "onions in the cool store"},
    ),
    "stock.unknown": Message(
        text="the kitchen knows no such thing in stock",
        cure=lambda near: (
            f"not counted: the shopping list buys as if it were not there{_near(near)}"
        ),
        example={"near": ["vinegar_l"]},
    ),
    "jar.processed_as": Message(
        text="no time is printed for jars of {jar}",
        cure=lambda jar, counted, tested: (
            f"counted as {_jar(counted)} jars and processed as {_jar(tested)} jars, the next "
            "larger size that was tested"
        ),
        example={"jar": "500 ml", "counted": "pint", "tested": "quart"},
    ),
    "jar.between": Message(
        text="jars of {jar} are no size that the plan counts in",
        cure=lambda jar, tested: (
            f"not planned with; whoever fills them processes them as {_jar(tested)} jars, the next "
            "larger size that was tested"
        ),
        example={"jar": "720 ml", "tested": "quart"},
    ),
    "jar.beside": Message(
        text=lambda jar, counted: (
            f"there are {_jar(counted)} jars as well, and jars of {jar} have another time"
        ),
        cure="not planned with, so that no jar gets the other's time",
        example={"jar": "500 ml", "counted": "pint"},
    ),
    "jar.too_large": Message(
        text="jars of {jar} are larger than any with a tested time, the quart (946 ml)",
        cure="nothing is canned in them: the middle of a larger jar heats more slowly",
        example={"jar": "1 litre"},
    ),
    "canner.no_row": Message(
        text=lambda gauge, metres, feet, units: (
            f"the tables have no tested row for a {gauge}-gauge pressure canner at "
            f"{height(metres, feet, units)}"
        ),
        cure="nothing is planned in that canner; ask your local extension office",
        example={"gauge": "dial", "metres": 2743.2, "feet": 9000, "units": "us"},
    ),
    "variety.other_crop": Message(
        text="the variety's name is that of another crop ({other}), and stands under {crop}",
        cure=(
            "no canning time is given for {crop} until this is settled, for another crop has "
            "another time: type {other} as the crop in this line, or list the name under aliases "
            'of [crops."{crop}"] in garden.toml where it is right as it stands'
        ),
        example={"variety": "Fordhook Lima", "crop": "snap bean", "other": "lima bean"},
    ),
    # What is left over: why, and a use for it.
    "left.too_old": Message(
        text=lambda kg, units, **_: (
            f"{about_mass(kg, units)} of it is in the kitchen already and too old to be put up"
        ),
        example=_LEFT,
    ),
    "left.oversize": Message(
        text=lambda kg, units, **_: (
            f"{about_mass(kg, units)} of it is oversize, and nothing offered takes that"
        ),
        example=_LEFT,
    ),
    "left.no_way": Message(
        text=lambda kg, units, **_: (
            f"this kitchen has no way to put up {about_mass(kg, units)} of it"
        ),
        example=_LEFT,
    ),
    "left.no_hours": Message(
        text=lambda kg, units, **_: (
            f"for {about_mass(kg, units)} of it there are no hours left in the kitchen"
        ),
        example=_LEFT,
    ),
    "left.not_worth": Message(
        text=lambda kg, units, **_: (
            f"{about_mass(kg, units)} of it is not worth the hours and jars: the shelves are full "
            "enough, or too little comes at a time"
        ),
        example=_LEFT,
    ),
    "use.product": Message(
        text=lambda kg, units, label, filled, **_: (
            f"put up {about_mass(kg, units)} as {label} (about {filled}), though no target asks "
            "for it"
        ),
        example={**_LEFT, "label": "cucumber relish", "filled": "6 half pints"},
    ),
    "use.give": Message(
        text=lambda kg, units, usual, **_: (
            f"give away {about_mass(kg, units)} more than the usual {about_mass(usual, units)} a "
            "week"
        ),
        example={**_LEFT, "usual": 1.8},
    ),
    "use.feed": Message(
        text=lambda kg, units, usual, **_: (
            f"feed animals {about_mass(kg, units)} more than the usual {about_mass(usual, units)} "
            "a week"
        ),
        example={**_LEFT, "usual": 2.7},
    ),
    "use.pick_smaller": Message(
        text="pick smaller, and every day: less grows oversize", example=_LEFT
    ),
    "use.leave": Message(
        text=lambda kg, units, **_: f"leave {about_mass(kg, units)} where it grows for now",
        example=_LEFT,
    ),
    "use.compost": Message(
        text=lambda kg, units, **_: f"compost {about_mass(kg, units)}", example=_LEFT
    ),
    # The household's own recipes.
    "recipe.unknown_product": Message(
        text="the recipe is for {product}, which is no product known here",
        cure="refused; 'harvestcast check FOLDER --products' lists the products",
        example={"product": "plum wine"},
    ),
    "recipe.not_canned": Message(
        text="{label} are not canned", cure="refused", example={"label": "frozen peas"}
    ),
    "recipe.no_source": Message(
        text="the recipe for {label} names no publication",
        cure="refused; add source with its title, number, year and page",
        example={"label": "dill pickles"},
    ),
    "recipe.band": Message(
        text="the recipe for {label} is not for {feet:,} ft",
        cure="refused; elevation_from and elevation_to say what it was tested for",
        example={"label": "dill pickles", "feet": 1180},
    ),
    "recipe.low_acid": Message(
        text="{label} are low-acid food: never in boiling water",
        cure="refused; can them under pressure, or freeze them",
        example={"label": "canned snap beans"},
    ),
    "recipe.larger_jar": Message(
        text="the recipe for {label} is for a larger jar ({jar}) than any tested ({most})",
        cure="refused",
        example={"label": "easy hot sauce", "jar": "pint", "most": "half_pint"},
    ),
    "recipe.less_headspace": Message(
        text="the recipe for {label} has less headspace than the guide's {least:g} in",
        cure="refused",
        example={"label": "dill pickles", "least": 0.5},
    ),
    "recipe.lower_pressure": Message(
        text="the recipe for {label} has a lower pressure than the guide's {least:g} psi",
        cure="refused",
        example={"label": "canned snap beans", "least": 11.0},
    ),
    "recipe.shorter": Message(
        text="the recipe for {label} is shorter ({minutes:g} min) than the guide's {least:g} min",
        cure="refused",
        example={"label": "dill pickles", "minutes": 5.0, "least": 15.0},
    ),
    "recipe.no_acid": Message(
        text="the recipe for {label} does not say how it gets its acid",
        cure="refused; acid is one of {known:list}",
        example={"label": "dill pickles", "known": ["vinegar_in_recipe", "none_added"]},
    ),
    "recipe.other_acid": Message(
        text="the recipe for {label} lacks the acid of the guide's: {acid}",
        cure="refused",
        example={"label": "salsa", "acid": "bottled lemon or lime juice is part of the recipe"},
    ),
    "recipe.less_acid": Message(
        text="the recipe for {label} has less than the guide's {least:g} tablespoons of bottled "
        "lemon juice in each jar",
        cure="refused",
        example={"label": "crushed tomatoes", "least": 2.0},
    ),
    # What was decided before, and what has changed since.
    "change.less_came": Message(
        text=lambda kg, crop, units, **_: (
            f"{about_mass(kg, units)} less {crop} came in than the forecast held likely"
        ),
        example={"kg": 4.1, "crop": "cucumber", "units": "us"},
    ),
    "change.more_came": Message(
        text=lambda kg, crop, units, **_: (
            f"{about_mass(kg, units)} more {crop} came in than the forecast held likely"
        ),
        example={"kg": 4.1, "crop": "cucumber", "units": "us"},
    ),
    "change.less_due": Message(
        text=lambda kg, crop, units, **_: (
            f"{about_mass(kg, units)} less {crop} is due now than the forecast held likely"
        ),
        example={"kg": 4.1, "crop": "cucumber", "units": "us"},
    ),
    "change.more_due": Message(
        text=lambda kg, crop, units, **_: (
            f"{about_mass(kg, units)} more {crop} is due now than the forecast held likely"
        ),
        example={"kg": 4.1, "crop": "cucumber", "units": "us"},
    ),
    "change.not_done": Message(
        text=lambda label, day, units, **_: (
            f"{label} were planned for {wording.day(day, units)} and are not written down as put up"
        ),
        example={"label": "dill pickles", "day": pd.Timestamp("2026-07-12"), "units": "us"},
    ),
    "change.also_done": Message(
        text=lambda label, day, units, **_: f"{label} were put up on {wording.day(day, units)}",
        example={"label": "frozen peas", "day": pd.Timestamp("2026-07-12"), "units": "us"},
    ),
    "change.counted": Message(
        text=lambda crop, kg, more, units, **_: (
            f"the count found {about_mass(kg, units)} {'more' if more else 'less'} {crop} than the "
            "plan had assumed"
        ),
        example={"crop": "cucumber", "kg": 4.1, "more": False, "units": "us"},
    ),
    "change.settings": Message(
        text="garden.toml was changed ({keys:list})", example={"keys": ["hours", "targets"]}
    ),
    "change.limits": Message(text="it does not fit beside the other batches any more"),
    "change.no_way": Message(text="this household cannot do it any more"),
    # The kitchen book.
    "book.unknown": Message(
        text="the kitchen knows nothing of that name",
        cure="not counted; write jars with their size, lids, freezer bags, an ingredient of a "
        "recipe, a crop, or freezer, refrigerator or cool store",
    ),
    "book.no_jar": Message(
        text="the line is about preserves and names no jar",
        cure="not counted; name the size of the jar or bag beside it",
    ),
    "book.unit": Message(
        text="{item} is measured in {units:list}",
        cure="not counted; write the amount with such a unit",
        example={"item": "vinegar, 5 % acidity", "units": ["gal", "l"]},
    ),
    # The pantry book.
    "pantry.unknown": Message(
        text=lambda times, **_: f"no such product is known here{_times(times)}",
        cure=lambda near, canned, **_: (
            "not counted"
            + (f"; did you mean one of: {', '.join(near)}?" if near else "")
            + (
                "; no tested process is known here for it: before such a jar is opened or tasted, "
                "ask your local extension or food safety service"
                if canned
                else ""
            )
        ),
        example={"near": [], "canned": True, "times": 2},
    ),
    "pantry.size_unread": Message(
        text=lambda times: f"this size of jar cannot be read for certain{_times(times)}",
        cure="not counted; write half pint, pint, quart, or ml",
        example={"times": 1},
    ),
    "pantry.size_unknown": Message(
        text=lambda times, usual: f"this is no size of jar known here{_times(times)}",
        cure=lambda times, usual: (
            f"counted as {_words(usual)}; sizes are half pint, pint and quart, or ml"
        ),
        example={"times": 1, "usual": "pint"},
    ),
    "pantry.more_eaten": Message(
        text="more {label} eaten than there were: {have:.3g} stood on the shelf by this book",
        cure="the rest is taken for older jars that were never written down",
        example={"label": "dill pickles", "have": 3.0},
    ),
    # Why a batch is done.
    "batch.towards_target": Message(
        text=_towards,
        example={
            "stock": 4.0, "target": 20.0, "unit": "pints", "wanted": 18.0, "past": 2.0,
            "planned": 21.0,
        },
    ),
    "batch.no_target": Message(text="no target is set; better than letting it spoil"),
    "batch.others_full": Message(text=lambda full: _full(full), example={"full": [_SHELF]}),
    "batch.own_full": Message(
        text=lambda full: f"{_full(full)}; more only so that nothing spoils",
        example={"full": [_SHELF]},
    ),
    "crop.shelves_full": Message(
        text=_crop_full,
        example={
            "full": [_SHELF], "crop": "cucumber", "come": 10.0, "made": {"dill pickles": 4.0},
            "goes": {"eaten": 6.0}, "units": "metric",
        },
    ),
    # What one unit more would bring.
    "saving.unclear": Message(text="no clear saving"),
    "saving.sure": Message(text="sure: it helps with the planned batches as they are"),
    "saving.part": Message(
        text="about {percent:.0f} % of it with the planned batches as they are",
        example={"percent": 40.0},
    ),
    "saving.anew": Message(text="only if batches are chosen anew"),
}  # fmt: skip
"""Code -> what it says; the examples are invented."""
