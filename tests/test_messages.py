"""Every sentence that the rooms can say, written into one file to be read by a person.

``python -m tests.test_messages`` writes ``tests/messages.txt`` anew; read what has changed there.
"""

from __future__ import annotations

import importlib
import re
from pathlib import Path
from string import Formatter

import pytest

from harvestcast.words.messages import Message, Words, say

ROOT = Path(__file__).parents[1]
SNAPSHOT = Path(__file__).with_name("messages.txt")
ROOMS = sorted(path.parent.name for path in (ROOT / "harvestcast").glob("*/messages.py"))
ROOMS.remove("words")


def _messages(room: str) -> dict[str, Message]:
    table: dict[str, Message] = importlib.import_module(f"harvestcast.{room}.messages").MESSAGES
    return table


def _told(message: Message) -> str:
    text, cure = (say(words, message.example) for words in (message.text, message.cure))
    return f"{text}\n    {cure}" if cure else text


def everything() -> str:
    """Return the sentences of all rooms, each under its code."""
    parts = []
    for room in ROOMS:
        parts.append(f"== {room}\n")
        parts += [f"{code}\n    {_told(one)}\n" for code, one in sorted(_messages(room).items())]
    return "\n".join(parts)


CASES = [(room, code) for room in ROOMS for code in sorted(_messages(room))]


@pytest.mark.parametrize(("room", "code"), CASES, ids="/".join)
def test_a_message_is_said_from_its_facts(room: str, code: str) -> None:
    message = _messages(room)[code]
    assert re.fullmatch(r"[a-z_]+(\.[a-z_0-9]+)+", code), "a code reads subject.case"
    said = _told(message)
    assert said.strip() and "{" not in said and "nan" not in said.split()
    named = {name for words in (message.text, message.cure) for name in _names(words)}
    assert named <= set(message.example)


def _names(words: Words) -> set[str]:
    if callable(words):
        return set()
    return {name.split(".")[0].split("[")[0] for _, name, _, _ in Formatter().parse(words) if name}


def test_all_sentences_stand_in_the_file_that_is_read() -> None:
    assert SNAPSHOT.read_text("utf-8") == everything(), (
        "sentences have changed: python -m tests.test_messages writes them; read the difference"
    )


if __name__ == "__main__":
    SNAPSHOT.write_text(everything(), "utf-8")
