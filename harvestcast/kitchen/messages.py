"""All sentences of this room that say what is the case: a code and facts in, words out.

Refusals, reasons and notices are told apart by their code; the sentence is only shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from harvestcast.frames import NOTICES, check_frame
from harvestcast.words.messages import Message, say


@dataclass(frozen=True, slots=True)
class Said:
    """One thing that the kitchen has to say: its code, and the facts the sentence is made of."""

    code: str
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def text(self) -> str:
        """What is the case."""
        return say(MESSAGES[self.code].text, self.facts)

    @property
    def cure(self) -> str:
        """What to do about it, or what was done."""
        return say(MESSAGES[self.code].cure, self.facts)


def notice(
    said: Said, *, file: object, line: object, column: str, value: object
) -> dict[str, object]:
    """Return one row of a NOTICES frame, with its code and facts."""
    where = {"file": file, "line": line, "column": column, "value": str(value)}
    return {**where, "odd": said.text, "done": said.cure, "code": said.code}


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


def _near(names: Iterable[str]) -> str:
    said = listed(names, "or")
    return f"; did you mean {said}?" if said else ""


MESSAGES: dict[str, Message] = {
    "stock.unknown": Message(
        text="the kitchen knows no such thing in stock",
        cure=lambda near: (
            f"not counted: the shopping list buys as if it were not there{_near(near)}"
        ),
        example={"near": ["vinegar_l"]},
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
}
"""Code -> what it says; the examples are invented."""
