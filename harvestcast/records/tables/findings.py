"""What was wrong or odd while a folder was read, collected so that all of it is said at once."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from harvestcast.errors import Problem

if TYPE_CHECKING:
    import pandas as pd

TYPED = "what you typed"
"""Stands for the file in messages about words typed at the command line."""
MOST_OF_A_KIND = 200
"""Lines of one file said singly for one rule; the rest are counted in one line."""
MOST_NOTICES_OF_A_KIND = 25


def shown(value: object) -> str:
    """Return a value as typed, cut short where it is very long."""
    text = str(value)
    return text if len(text) <= 120 else f"{text[:117]}..."


class Findings:
    """Problems and notices of one reading; lives only while a folder is opened."""

    def __init__(self) -> None:
        self._problems: list[Problem] = []
        self._notices: list[dict[str, object]] = []
        self._kinds: Counter[tuple[str, ...]] = Counter()
        self.sheet = ""
        """Sheet that is being read, of a workbook with several: "line 3" alone would not tell."""

    def problem(
        self,
        file: str,
        line: int | None,
        column: str,
        value: object,
        rule: str,
        cure: str,
        *,
        kind: str = "",
    ) -> None:
        """Add one problem; ``kind`` groups those whose wording differs from line to line."""
        file = self._place(file)
        key = ("problem", file, column, kind or rule)
        self._kinds[key] += 1
        if self._kinds[key] <= MOST_OF_A_KIND:
            self._problems.append(
                Problem(
                    file=file, line=line, column=column, value=shown(value), rule=rule, cure=cure
                )
            )

    def notice(
        self,
        file: str,
        line: int | None,
        column: str,
        value: object,
        odd: str,
        done: str,
        *,
        kind: str = "",
    ) -> None:
        """Add one notice: what was odd and what was done about it."""
        file = self._place(file)
        key = ("notice", file, column, kind or odd)
        self._kinds[key] += 1
        if self._kinds[key] <= MOST_NOTICES_OF_A_KIND:
            self._notices.append(
                {
                    "file": file,
                    "line": line,
                    "column": column or None,
                    "value": shown(value) or None,
                    "odd": odd,
                    "done": done,
                }
            )

    def _place(self, file: str) -> str:
        return f"{file}, sheet {self.sheet}" if self.sheet else file

    def extend(self, other: Findings, unless: str = "") -> None:
        """Take over what another reading found, but for problems whose rule holds ``unless``."""
        for p in other._problems:
            if unless and unless in p.rule:
                continue
            self.problem(p.file, p.line, p.column, p.value, p.rule, p.cure)
        for n in other._notices:
            self.notice(
                str(n["file"]),
                n["line"],  # type: ignore[arg-type]
                str(n["column"] or ""),
                n["value"] or "",
                str(n["odd"]),
                str(n["done"]),
            )

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Every problem, in the order of the files and lines."""
        more = [
            Problem(
                file=key[1],
                column=key[2],
                rule=f"{number - MOST_OF_A_KIND} more lines break the same rule ({key[3]})",
                cure="Mend them likewise.",
            )
            for key, number in self._kinds.items()
            if key[0] == "problem" and number > MOST_OF_A_KIND
        ]
        whole = [*self._problems, *more]
        files = {problem.file: n for n, problem in enumerate(reversed(whole))}
        return tuple(
            sorted(whole, key=lambda p: (-files[p.file], p.line is None and p in more, p.line or 0))
        )

    @property
    def oddities(self) -> list[tuple[str, str]]:
        """What was odd and what was done about it, of every notice."""
        return [(str(n["odd"]), str(n["done"])) for n in self._notices]

    @property
    def notices(self) -> pd.DataFrame:
        """Every notice, as a NOTICES frame."""
        # Loaded late: whoever writes a pick down waits for no table it does not need.
        import pandas as pd

        from harvestcast.frames import NOTICES, check_frame

        more = [
            {
                "file": key[1],
                "line": None,
                "column": key[2] or None,
                "value": None,
                "odd": f"{number - MOST_NOTICES_OF_A_KIND} more lines: {key[3]}",
                "done": "the same",
            }
            for key, number in self._kinds.items()
            if key[0] == "notice" and number > MOST_NOTICES_OF_A_KIND
        ]
        if not self._notices:
            return NOTICES.empty()
        frame = pd.DataFrame([*self._notices, *more], columns=NOTICES.names)
        return check_frame(frame, NOTICES)
