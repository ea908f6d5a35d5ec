"""Messages: a code and facts decide, a sentence is only said.

Every room keeps one table of its messages, code to :class:`Message`, in its module ``messages``.
Programs ask for the code and the facts; people read the sentence made from them here. A test
writes the sentences of all rooms, made from their examples, into one file to be read.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

Words = str | Callable[..., str]
"""A sentence with facts in braces, or a function of the facts by name."""


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
    """Return one sentence of a message.

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
    """
    return words(**facts) if callable(words) else words.format_map(facts)
