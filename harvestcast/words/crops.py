"""What the household calls its crops and its jars.

Tables and JSON hold one canonical name a crop; people read the word of their own files. The words
are carried by the garden (``Garden.crop_words``), and whoever says something for one garden says
it within :func:`crops_said_as`. Every sentence goes through :func:`harvestcast.words.messages.say`
or :func:`harvestcast.words.amounts.clean`, which ask :func:`crop_word` here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from types import MappingProxyType
from typing import Any

_WORDS: ContextVar[Mapping[str, str]] = ContextVar("crop_words", default=MappingProxyType({}))


@contextmanager
def crops_said_as(words: Mapping[str, str]) -> Iterator[None]:
    """Say crops by the household's own words within a block, as a language is set for one.

    Parameters
    ----------
    words : mapping of str to str
        Canonical crop name to the household's word; crops left out keep their name.

    Examples
    --------
    >>> with crops_said_as({"chard": "silverbeet"}):
    ...     crop_word("chard"), crop_word("kale")
    ('silverbeet', 'kale')
    >>> crop_word("chard")
    'chard'
    """
    token = _WORDS.set(words)
    try:
        yield
    finally:
        _WORDS.reset(token)


def crop_word(name: object) -> str:
    """Return the household's word for a crop; any other text as it is."""
    return _WORDS.get().get(str(name), str(name))


def own_jar(size: object) -> str | None:
    """Return the household's jar that a size of the plan stands for; None where it is that size.

    It is carried with the crops, under the name ``jar`` and the size.

    Examples
    --------
    >>> with crops_said_as({"jar pint": "jar of 500 ml"}):
    ...     own_jar("pint"), own_jar("quart")
    ('jar of 500 ml', None)
    """
    return _WORDS.get().get(f"jar {str(size).replace(' ', '_')}")


def processed_as(size: object) -> str | None:
    """Return the tested size that the household's own jar of a size is processed as."""
    tested = _WORDS.get().get(f"processed {size}")
    return tested and tested.replace("_", " ")


def facts_in_own_words(facts: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the facts of a message with every crop in the household's word."""
    if not _WORDS.get():
        return facts
    return {name: _in_own_words(value) for name, value in facts.items()}


def _in_own_words(value: Any) -> Any:
    if isinstance(value, str):
        return crop_word(value)
    if isinstance(value, Mapping):
        return {_in_own_words(key): _in_own_words(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        whole = [_in_own_words(one) for one in value]
        # A list that knows how it is said stays one.
        return type(value)(whole) if isinstance(value, list) else tuple(whole)
    return value
