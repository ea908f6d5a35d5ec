"""Variety names: spelt in many ways, yet one variety."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Mapping, Sequence
from collections.abc import Set as AbstractSet
from typing import Any

UNNAMED = "unnamed"
"""Stands for the variety of a pick or planting that names none."""
_LETTERS = str.maketrans(
    {"\u00f8": "o", "\u0142": "l", "\u0111": "d", "\u00e6": "ae", "\u0153": "oe"}
)
_QUOTES = frozenset("'`\u00b4\u02bb\u02bc\u2018\u2019\u201b\u2032")
_LEAST_LETTERS = 3
"""Letters of the longest word that two names share, so that "F1" alone joins nothing."""


def variety_words(name: str) -> tuple[str, ...]:
    r"""Return the words of a variety's name without case, accents and punctuation.

    Examples
    --------
    >>> variety_words("P\u014dk\u0113n\u014d 'King\u2019s'"), variety_words("Long-Green (F1)")
    (('pokeno', 'kings'), ('long', 'green', 'f1'))
    """
    plain = unicodedata.normalize("NFKD", str(name)[:200].casefold()).translate(_LETTERS)
    # Only marks on Latin, Greek and Cyrillic letters are accents; elsewhere they make the letter.
    kept = (c for c in plain if not "\u0300" <= c <= "\u036f" and c not in _QUOTES)
    text = "".join(c if c.isalnum() or unicodedata.category(c)[0] == "M" else " " for c in kept)
    return tuple(text.split())


def variety_key(name: str) -> str:
    """Return what all spellings of a variety's name have in common.

    Examples
    --------
    >>> variety_key("Long Green"), variety_key("LONG-GREEN"), variety_key("***")
    ('longgreen', 'longgreen', '***')
    """
    return "".join(variety_words(name)) or " ".join(str(name).casefold().split())


def one_name_each(
    planted: Sequence[str],
    picked: Sequence[str],
    *,
    apart: Collection[str] = (),
    days: Mapping[str, AbstractSet[Any]] | None = None,
) -> dict[str, str]:
    """Return under which name each spelling of one crop's varieties is read.

    Spellings that differ in case, accents, apostrophes, hyphens or spaces are one name: the one
    met first. A name that stands in no planting and lacks a word of a planted one, or has a word
    more, is that one where no other fits. Where nothing is planted under a name, a name that lacks
    a word is the longer one, as long as the two were never picked on one day.

    Parameters
    ----------
    planted, picked : sequence of str
        Names as typed in the plantings and in the picks, in the order they are met.
    apart : collection of str
        Names that the household keeps as they are; nothing is joined to them unasked.
    days : mapping of str to set, optional
        Days on which each name was picked.

    Examples
    --------
    >>> one_name_each(["Old Lantern", "Roma", "Roma VF"], ["old-lantern", "Lantern", "Roma"])
    {'Old Lantern': 'Old Lantern', 'Roma': 'Roma', 'Roma VF': 'Roma VF', \
'old-lantern': 'Old Lantern', 'Lantern': 'Old Lantern'}
    """
    chosen: dict[str, str] = {}
    read_as: dict[str, str] = {}
    for name in (*planted, *picked):
        kept = name in apart or name == UNNAMED
        read_as[name] = name if kept else chosen.setdefault(variety_key(name), name)
    sown = {read_as[name] for name in planted}
    named = [name for name in dict.fromkeys(read_as.values()) if name != UNNAMED]
    words = {name: _stems(name) for name in named}
    targets = [name for name in named if name in sown]
    picked_on: dict[str, set[Any]] = {}
    for typed, own in (days or {}).items():
        picked_on.setdefault(read_as[typed], set()).update(own)
    # The longest names first: what they are read as is known when a shorter one asks.
    whole = {name: name for name in named}
    for name in sorted(named, key=lambda n: -len(words[n])):
        if name in sown or name in apart:
            continue
        fits = {
            whole[other]
            for other in targets or named
            if other not in apart
            and _fits(words[name], words[other], either=bool(targets))
            and name != whole[other]
            and (targets or picked_on.get(name, set()).isdisjoint(picked_on.get(other, ())))
        }
        if len(fits) == 1:
            whole[name] = fits.pop()
    return {typed: whole.get(name, name) for typed, name in read_as.items()}


def _stems(name: str) -> frozenset[str]:
    """Return the words of a name; a plural or possessive s says nothing of its own."""
    long = _LEAST_LETTERS + 2
    words = variety_words(name)
    return frozenset(w[:-1] if len(w) >= long and w[-1] == "s" != w[-2] else w for w in words)


def _fits(typed: AbstractSet[str], known: AbstractSet[str], *, either: bool) -> bool:
    """Return whether one name has all words of the other, and those are not mere numbers."""
    fewer = typed if typed <= known else known if either and known < typed else frozenset[str]()
    return any(len(word) >= _LEAST_LETTERS and not word.isdigit() for word in fewer)
