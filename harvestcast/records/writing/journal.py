"""The last entries, so that one can be taken back.

An entry is noted before its line is written, with the fingerprint of the file before and
after; a program killed in between leaves a note that can be told from a finished one.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from harvestcast.records.writing.safely import replace_file

FILE = ".harvestcast-entries"
MOST = 50
"""Entries that can be taken back, one after the other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One entry as noted: what was added to which file."""

    file: str
    added: str
    before: str
    after: str
    says: str
    whole: str = ""
    """Not empty where the whole file was written in one go, as an import does."""


def fingerprint(content: bytes | None) -> str:
    """Return the fingerprint of a file; empty where there was none."""
    return "" if content is None else hashlib.sha256(content).hexdigest()


def read_notes(folder: Path) -> list[Note]:
    """Return the notes of a folder, the last one last; none where they cannot be read."""
    notes: list[Note] = []
    with suppress(OSError, ValueError, TypeError):
        for item in json.loads((folder / FILE).read_text("utf-8")):
            note = Note(**{key: str(value) for key, value in item.items()})
            # Only files of this very folder: a note from elsewhere must not reach outside it.
            if Path(note.file).name == note.file:
                notes.append(note)
    return notes


def write_notes(folder: Path, notes: Sequence[Note]) -> None:
    """Write the last notes of a folder; call with its lock held."""
    text = json.dumps([asdict(note) for note in notes[-MOST:]], ensure_ascii=False, indent=0)
    replace_file(folder / FILE, text.encode("utf-8", "surrogatepass"))


def finished(notes: Sequence[Note], folder: Path) -> list[Note]:
    """Return the notes without a last one whose line was never written."""
    if notes:
        path = folder / notes[-1].file
        content = path.read_bytes() if path.is_file() else None
        if fingerprint(content) == notes[-1].before:
            return list(notes[:-1])
    return list(notes)
