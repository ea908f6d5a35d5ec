"""Crop names: whatever the gardener types, one name inside."""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Collection, Iterator, Mapping
from difflib import get_close_matches
from functools import cache
from importlib.resources import files

PERENNIALS: frozenset[str] = frozenset(
    [
        "apple",
        "apricot",
        "artichoke",
        "asian pear",
        "asparagus",
        "blackberry",
        "blueberry",
        "cherry",
        "chives",
        "crab apple",
        "fig",
        "grape",
        "nectarine",
        "peach",
        "pear",
        "plum",
        "raspberry",
        "rhubarb",
        "strawberry",
    ]
)
"""Crops that are picked for years after they were planted (common practice, no source)."""

TWO_CROPS: dict[str, tuple[str, str]] = {
    name: crops
    for names, crops in (
        ("squash", ("summer squash", "winter squash")),
        ("haricot fagiolo fagioli judia", ("snap bean", "shell bean")),
        ("peperoni", ("sweet pepper", "hot pepper")),  # Italian for one, German for the other
        (
            "kurbis kurbisse kuerbis kuerbisse courge zucca zucche calabaza pompoen pompoenen",
            ("winter squash", "pumpkin"),
        ),
    )
    for name in names.split()
}
"""Names that mean two crops with quite different seasons or uses; neither is guessed."""


def tidy_name(text: str) -> str:
    """Return a name in lower case with single spaces.

    Examples
    --------
    >>> tidy_name("  Egyptian  Spinach ")
    'egyptian spinach'
    """
    return " ".join(str(text).casefold().split())


def crop_key(name: str) -> str:
    """Return a name without case, accents and punctuation, the comma form turned round.

    Examples
    --------
    >>> crop_key("Jalapeño")
    'jalapeno'
    >>> crop_key("Peppers, hot")
    'hot peppers'
    """
    plain = unicodedata.normalize("NFKD", str(name)[:200].casefold())
    plain = "".join(c for c in plain if not unicodedata.combining(c)).replace("'", "")
    plain = plain.replace("\u2019", "").replace("(", ",").replace(")", " ")
    parts = [" ".join(re.findall(r"[^\W_]+", part)) for part in plain.split(",")]
    return " ".join(part for part in reversed(parts) if part)


def _singulars(key: str) -> Iterator[str]:
    yield key
    head, _, last = key.rpartition(" ")
    stem = f"{head} " if head else ""
    for ending, singular in (("ies", "y"), ("ves", "f"), ("oes", "o"), ("es", ""), ("s", "")):
        if last.endswith(ending) and len(last) > len(ending) + 1:
            yield stem + last[: -len(ending)] + singular


@cache
def _names() -> dict[str, str]:
    folder = files("harvestcast.records.typed") / "data"
    rows = (
        row
        for name in ("crop_names.csv", "further_crop_names.csv")
        for row in csv.DictReader((folder / name).read_text("utf-8").splitlines())
    )
    return {crop_key(row["synonym"]): row["crop"] for row in rows}


def crop_names() -> tuple[str, ...]:
    """Return every canonical crop name, in alphabetical order.

    Examples
    --------
    >>> "snap bean" in crop_names()
    True
    """
    return tuple(sorted(set(_names().values())))


def canonical_crop(name: str, aliases: Mapping[str, str] | None = None) -> str | None:
    """Return the canonical crop for a name, whatever its case, plural or synonym.

    Parameters
    ----------
    name : str
        Name as typed.
    aliases : mapping of str to str, optional
        The household's own names and the crops they mean; they go before the common ones.

    Returns
    -------
    str or None
        Canonical lower-case English singular; None where the name is unknown or means two
        crops.

    Examples
    --------
    >>> canonical_crop("Cucumbers"), canonical_crop("Aubergine"), canonical_crop("beans (green)")
    ('cucumber', 'eggplant', 'snap bean')
    >>> canonical_crop("squash") is None
    True
    >>> canonical_crop("squash", {"squash": "winter squash"})
    'winter squash'
    """
    key = crop_key(name)
    if not key:
        return None
    if aliases:
        own = {crop_key(alias): crop for alias, crop in aliases.items()}
        for singular in _singulars(key):
            if singular in own:
                return canonical_crop(own[singular]) or tidy_name(own[singular])
    known = _names()
    return next((known[s] for s in _singulars(key) if s in known), None)


def two_crops(name: str) -> tuple[str, str] | None:
    r"""Return the two crops that a name may mean, whatever its case, accents or plural.

    Examples
    --------
    >>> two_crops("Squashes"), two_crops("K\u00fcrbis"), two_crops("cucumber")
    (('summer squash', 'winter squash'), ('winter squash', 'pumpkin'), None)
    """
    found = (TWO_CROPS.get(singular) for singular in _singulars(crop_key(name)))
    return next((two for two in found if two), None)


def same_name(typed: str, crop: str) -> bool:
    """Return whether a name is the crop's own, but for case, marks and plural.

    Examples
    --------
    >>> same_name("Cucumbers", "cucumber"), same_name("courgettes", "zucchini")
    (True, False)
    """
    return crop_key(crop) in _singulars(crop_key(typed))


def one_word(crop: str, typed: Mapping[str, int]) -> str | None:
    """Return the one word that a household has for a crop, in the form it writes most.

    Parameters
    ----------
    crop : str
        Canonical crop.
    typed : mapping of str to int
        How often each name was typed for it.

    Returns
    -------
    str or None
        The crop itself where its own name was typed; None where two words were.

    Examples
    --------
    >>> one_word("zucchini", {"Courgettes": 7, "courgette": 2})
    'courgettes'
    >>> one_word("zucchini", {"zucchinis": 3}), one_word("chard", {"Chard": 1, "silverbeet": 9})
    ('zucchini', None)
    """
    most = max(typed, key=lambda name: typed[name])
    words = [set(_singulars(crop_key(name))) for name in typed]
    if not set.intersection(*words):
        return None
    if same_name(most, crop):
        return crop
    # "Beans, broad" is how a list is sorted; nobody says it so.
    turned = reversed([part.strip() for part in most.replace("(", ",").replace(")", "").split(",")])
    return " ".join(" ".join(turned).lower().split())[:80]


def likely_crop(name: str, grown: Collection[str] = ()) -> str | None:
    """Return the crop that a misspelt name most likely means, for a hint; never used unasked.

    Parameters
    ----------
    name : str
        Name as typed.
    grown : collection of str
        Canonical crops of the garden; they are thought of first.

    Examples
    --------
    >>> likely_crop("cucmber"), likely_crop("oinons"), likely_crop("beens", ["snap bean"])
    ('cucumber', 'onion', 'snap bean')
    """
    typed = list(_singulars(crop_key(name)))
    own = [known for known, crop in _names().items() if crop in grown]
    # A word of three letters (ail, sla) lies close to too many others, unless it is the crop's own.
    every = [known for known, crop in _names().items() if len(known) > 3 or known == crop]
    for pool, cutoff in ((own, 0.7), (every, 0.75)):
        # Two letters exchanged are the commonest slip, and far from each other by likeness.
        exchanged = {"".join(sorted(known)): known for known in pool if len(known) > 3}
        for key in typed:
            found = exchanged.get("".join(sorted(key)))
            close = [found] if found else get_close_matches(key, pool, n=1, cutoff=cutoff)
            if close:
                return _names()[close[0]]
    return None
