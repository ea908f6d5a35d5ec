"""What was wrong or odd while a folder was read, collected so that all of it is said at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from harvestcast.errors import InputError, Problem
from harvestcast.records.messages import MESSAGES
from harvestcast.words.messages import say

if TYPE_CHECKING:
    import pandas as pd

TYPED = "what you typed"
"""Stands for the file in messages about words typed at the command line."""
MOST_OF_A_KIND = 200
"""Lines of one file said singly for one code; the rest are counted in one line."""
MOST_NOTICES_OF_A_KIND = 25
_ABOUT = ("crop", "variety", "year")
"""Facts that part lines of one code into kinds: an unknown crop says nothing of the next."""

Kind = tuple[object, ...]


def shown(value: object) -> str:
    """Return a value as typed, cut short where it is very long."""
    text = str(value)
    return text if len(text) <= 120 else f"{text[:117]}..."


def refuse(
    code: str,
    file: str,
    line: int | None = None,
    column: str = "",
    value: str = "",
    /,
    **facts: Any,
) -> InputError:
    """Return the error for a file that cannot be used as a whole."""
    return InputError([Problem.of(MESSAGES, code, file, line, column, value, **facts)])


class Findings:
    """Problems and notices of one reading; lives only while a folder is opened."""

    def __init__(self) -> None:
        self._problems: list[Problem] = []
        self._notices: list[dict[str, Any]] = []
        self._kinds: Counter[Kind] = Counter()
        self._first: dict[Kind, str] = {}
        self.sheet = ""
        """Sheet that is being read, of a workbook with several: "line 3" alone would not tell."""

    def problem(
        self, code: str, file: str, line: int | None, column: str, value: object, /, **facts: Any
    ) -> None:
        """Add one problem, said by its code in the room's table of messages and its facts."""
        place = self._place(file)
        if self._is_shown("problem", place, column, code, facts, MOST_OF_A_KIND):
            self._keep(Problem.of(MESSAGES, code, place, line, column, shown(value), **facts))

    def notice(
        self, code: str, file: str, line: int | None, column: str, value: object, /, **facts: Any
    ) -> None:
        """Add one notice: what was odd and what was done about it."""
        place = self._place(file)
        if self._is_shown("notice", place, column, code, facts, MOST_NOTICES_OF_A_KIND):
            kind = _kind("notice", place, column, code, facts)
            if kind not in self._first:
                self._first[kind] = say(MESSAGES[code].text, facts)
            self._notices.append(
                {
                    "file": place,
                    "line": line,
                    "column": column or None,
                    "value": shown(value) or None,
                    "code": code,
                    "facts": facts,
                }
            )

    def take(self, problems: Iterable[Problem]) -> None:
        """Add problems that were made elsewhere."""
        for problem in problems:
            p = replace(problem, file=self._place(problem.file))
            if self._is_shown("problem", p.file, p.column, p.code, p.facts, MOST_OF_A_KIND):
                self._keep(p)

    def _keep(self, problem: Problem) -> None:
        kind = _kind("problem", problem.file, problem.column, problem.code, problem.facts)
        self._first.setdefault(kind, problem.rule)
        self._problems.append(problem)

    def _is_shown(
        self, what: str, file: str, column: str, code: str, facts: Mapping[str, Any], most: int
    ) -> bool:
        kind = _kind(what, file, column, code, facts)
        self._kinds[kind] += 1
        return self._kinds[kind] <= most

    def _place(self, file: str) -> str:
        return f"{file}, sheet {self.sheet}" if self.sheet else file

    def extend(self, other: Findings, without: Collection[str] = ()) -> None:
        """Take over what another reading found, but for problems of some codes."""
        self.take(p for p in other._problems if p.code not in without)
        for n in other._notices:
            self.notice(
                n["code"], n["file"], n["line"], n["column"] or "", n["value"] or "", **n["facts"]
            )

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Every problem, in the order of the files and lines."""
        more = [
            Problem.of(
                MESSAGES,
                "more.problems",
                str(kind[1]),
                None,
                str(kind[2]),
                number=number - MOST_OF_A_KIND,
                of=kind[3],
                first=self._first[kind],
            )
            for kind, number in self._kinds.items()
            if kind[0] == "problem" and number > MOST_OF_A_KIND
        ]
        whole = [*self._problems, *more]
        files = {problem.file: n for n, problem in enumerate(reversed(whole))}
        return tuple(
            sorted(
                whole,
                key=lambda p: (-files[p.file], p.code == "more.problems", p.line or 0),
            )
        )

    @property
    def oddities(self) -> list[tuple[str, str]]:
        """What was odd and what was done about it, of every notice."""
        said = [(MESSAGES[n["code"]], n["facts"]) for n in self._notices]
        return [(say(message.text, facts), say(message.cure, facts)) for message, facts in said]

    @property
    def notices(self) -> pd.DataFrame:
        """Every notice, as a NOTICES frame, said when it is asked for."""
        # Loaded late: whoever writes a pick down waits for no table it does not need.
        import pandas as pd

        from harvestcast.frames import NOTICES, check_frame

        rows = [
            {**notice, "odd": odd, "done": done}
            for notice, (odd, done) in zip(self._notices, self.oddities, strict=True)
        ]
        for kind, number in self._kinds.items():
            if kind[0] == "notice" and number > MOST_NOTICES_OF_A_KIND:
                facts = {
                    "number": number - MOST_NOTICES_OF_A_KIND,
                    "of": kind[3],
                    "first": self._first[kind],
                }
                said = MESSAGES["more.notices"]
                rows.append(
                    {
                        "file": kind[1],
                        "column": kind[2] or None,
                        "odd": say(said.text, facts),
                        "done": say(said.cure, facts),
                        "code": "more.notices",
                        "facts": facts,
                    }
                )
        if not rows:
            return NOTICES.empty()
        return check_frame(pd.DataFrame(rows, columns=NOTICES.names), NOTICES)


def _kind(what: str, file: str, column: str, code: str, facts: Mapping[str, Any]) -> Kind:
    return (what, file, column, code, *(facts.get(name) for name in _ABOUT))
