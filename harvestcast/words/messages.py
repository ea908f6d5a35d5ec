"""Messages: a code and facts decide, a sentence is only said.

Every room keeps one table of its messages, code to :class:`Message`, in its module ``messages``.
Programs ask for the code and the facts; people read the sentence made from them here. A test
writes the sentences of all rooms, made from their examples, into one file to be read.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from string import Formatter
from typing import Any

from harvestcast.units import KG
from harvestcast.words.crops import facts_in_own_words
from harvestcast.words.days import spoken
from harvestcast.words.numbers import plural, short_number

Words = str | Callable[..., str]
"""A sentence with facts in braces, or a function of the facts by name.

Behind a colon stands how a fact is said, where not as it is: ``{first:day}`` a date in words,
``{known:list}`` texts one after the other, ``{lines:+line}`` a number of things, ``{kg:mass}``
kilograms in the units of the fact ``units``; or a format of Python's (``{warmest:g}``).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """What one code says.

    Parameters
    ----------
    text : str or callable
        What is the case: a format string over the facts, or a function of them.
    cure : str or callable
        What to do about it, or what was done; empty where nothing can be.
    example : mapping
        Facts to show the sentence with; their names are all the names that the message uses.
    """

    text: Words
    cure: Words = ""
    example: Mapping[str, Any] = field(default_factory=dict)


def say(words: Words, facts: Mapping[str, Any]) -> str:
    """Return one sentence of a message, crops in the household's own words.

    Parameters
    ----------
    words : str or callable
        ``text`` or ``cure`` of a :class:`Message`.
    facts : mapping
        Its facts by name.

    Examples
    --------
    >>> say("{crop} was picked {days} days ago", {"crop": "pea", "days": 3})
    'pea was picked 3 days ago'
    >>> say("{lines:+line} of {crops:list}", {"lines": 2, "crops": ["pea", "kale"]})
    '2 lines of pea, kale'
    """
    facts = facts_in_own_words(facts)
    if callable(words):
        return words(**facts)
    return _Formatter(str(facts.get("units", ""))).vformat(words, (), facts)


def mass(kg: float, units: str) -> str:
    """Return a mass as it may have been typed: three figures, small ones in ounces or grams.

    Examples
    --------
    >>> mass(1.234, "metric"), mass(0.2, "us")
    ('1.23 kg', '7.05 oz')
    """
    large, small = ("lb", "oz") if units == "us" else ("kg", "g")
    unit = large if kg >= KG[large] else small
    return f"{short_number(kg / KG[unit])} {unit}"


class _Formatter(Formatter):
    def __init__(self, units: str) -> None:
        self._units = units

    def format_field(self, value: Any, format_spec: str) -> str:
        if format_spec == "day":
            return spoken(value)
        if format_spec == "list":
            return ", ".join(value)
        if format_spec == "mass":
            return mass(value, self._units)
        if format_spec[:1] == "+":
            return plural(value, format_spec[1:])
        return format(value, format_spec)


@dataclass(frozen=True, slots=True)
class Said:
    """One thing to say: its code, and the facts its sentences are made of.

    Every room has a subclass that knows the room's table.
    """

    code: str
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def message(self) -> Message:
        """The message of the code in the table of the room."""
        raise NotImplementedError

    @property
    def text(self) -> str:
        """What is the case."""
        return say(self.message.text, self.facts)

    @property
    def cure(self) -> str:
        """What to do about it, or what was done."""
        return say(self.message.cure, self.facts)
