"""Every exception of the library.

Messages speak to the person who keeps the garden: what is wrong, where, by which rule,
and what to do about it. Bad input is collected and reported at once, never one line at a time.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from harvestcast.words.messages import Message, say


class HarvestcastError(Exception):
    """Base of every error the library raises on purpose."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is wrong in one place of one file.

    Programs decide by ``code`` and ``facts``; people read ``rule`` and ``cure``. Usually made by
    :meth:`of` from a room's table of messages.

    Parameters
    ----------
    file : str
        File name, relative to the garden folder.
    line : int or None
        Line (text file) or row (spreadsheet) number, counted from 1, the heading included.
    column : str
        Heading or key the value stands under; empty where the whole line is meant.
    value : str
        What was typed, unchanged.
    rule : str
        The rule it breaks, in plain words.
    cure : str
        What to do about it.
    code : str
        What kind of thing it is: a key of the room's table of messages, such as
        ``date.ambiguous``.
    facts : mapping of str to object
        What rule and cure were made from, by name: numbers, texts, dates, and lists of them.
    """

    file: str
    line: int | None = None
    column: str = ""
    value: str = ""
    rule: str
    cure: str
    code: str = ""
    facts: Mapping[str, Any] = field(default_factory=dict, hash=False)

    @classmethod
    def of(
        cls,
        messages: Mapping[str, Message],
        code: str,
        file: str,
        line: int | None = None,
        column: str = "",
        value: str = "",
        /,
        **facts: Any,
    ) -> Problem:
        """Return the problem that a code of a room's table and its facts say.

        Examples
        --------
        >>> table = {"jar.none": Message(text="no {size} jar is left", cure="Buy some.")}
        >>> problem = Problem.of(table, "jar.none", "garden.toml", 3, "jars", size="pint")
        >>> problem.code, str(problem)
        ('jar.none', 'garden.toml, line 3, jars: no pint jar is left. Buy some.')
        """
        return cls(
            file=file,
            line=line,
            column=column,
            value=value,
            code=code,
            facts=facts,
            rule=say(messages[code].text, facts),
            cure=say(messages[code].cure, facts),
        )

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}, line {self.line}"
        if self.column:
            where += f", {self.column}"
        shown = f" ({self.value!r})" if self.value else ""
        return f"{where}{shown}: {self.rule}. {self.cure}"


class InputError(HarvestcastError, ValueError):
    """A file or a setting cannot be used as it stands; ``problems`` lists every reason."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))

    @classmethod
    def one(cls, file: object, rule: str, cure: str, **place: Any) -> InputError:
        """Return the error of one problem, said in words of its own."""
        return cls([Problem(file=str(file), rule=rule, cure=cure, **place)])


class TypedError(HarvestcastError, ValueError):
    """A word, date, number or amount cannot be read; ``code`` and ``facts`` say why."""

    def __init__(self, message: str, code: str, facts: Mapping[str, Any]) -> None:
        self.code = code
        self.facts = facts
        super().__init__(message)


class FrameError(HarvestcastError, ValueError):
    """A table breaks its specification in :mod:`harvestcast.frames`."""


class UnsafeProcessError(HarvestcastError, ValueError):
    """No tested process is on record for what was asked; nothing is guessed in its place.

    ``code`` and ``facts`` say which rule refused it.
    """

    def __init__(
        self, message: str, *, code: str = "", facts: Mapping[str, Any] | None = None
    ) -> None:
        self.code = code
        self.facts: dict[str, Any] = dict(facts or {})
        super().__init__(message)


class ElevationError(UnsafeProcessError):
    """A canning time was asked for without an elevation."""


class PlanError(HarvestcastError, RuntimeError):
    """The week's programme could not be solved."""


class InfeasiblePlanError(PlanError):
    """The household's limits contradict each other; ``limits`` names those that must give."""

    def __init__(self, message: str, limits: Iterable[str] = ()) -> None:
        self.limits: tuple[str, ...] = tuple(limits)
        super().__init__(message)
