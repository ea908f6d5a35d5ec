"""Crop names: whatever the gardener types, one name inside."""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from functools import cache
from importlib.resources import files

PERENNIALS: frozenset[str] = frozenset(
    [
        "apple",
        "artichoke",
        "asparagus",
        "blackberry",
        "blueberry",
        "cherry",
        "chives",
        "grape",
        "peach",
        "pear",
        "plum",
        "raspberry",
        "rhubarb",
        "strawberry",
    ]
)
"""Crops that are picked for years after they were planted (common practice, no source)."""

TWO_CROPS: dict[str, tuple[str, str]] = {"squash": ("summer squash", "winter squash")}
"""Names that mean two crops with quite different seasons; neither is guessed."""


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
    source = files("harvestcast.records") / "data" / "crop_names.csv"
    rows = csv.DictReader(source.read_text("utf-8").splitlines())
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


def likely_crop(name: str) -> str | None:
    """Return the crop that a misspelt name most likely means, for a hint; never used unasked.

    Examples
    --------
    >>> likely_crop("cucmber")
    'cucumber'
    """
    close = get_close_matches(crop_key(name), list(_names()), n=1, cutoff=0.8)
    return _names()[close[0]] if close else None
