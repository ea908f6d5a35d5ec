"""Run what README.md shows and write down what comes out.

``python -m tests.make_readme`` takes the ``console`` blocks in their order, in a folder that holds
a copy of the sample, and rewrites each. A line ``<!-- show: Coming, To do -->`` before a block
keeps of a long summary the sections that begin so, and of each the first :data:`LINES` lines.
Named behind it, ``python -m tests.make_readme week next``, only those commands are run.
"""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
LINES = 2
BLOCK = re.compile(
    r"(?:^<!-- show: (?P<show>.*?) -->\n)?^```console\n\$ (?P<line>.*?)\n(?P<shown>.*?)^```$",
    flags=re.M | re.S,
)
_CALL = "import sys; from harvestcast.report.command.main import main; sys.exit(main())"


def desk(folder: Path) -> Path:
    """Return a folder that holds a copy of the sample, as the README's reader has it."""
    ignored = shutil.ignore_patterns("reports", ".harvestcast*")
    shutil.copytree(ROOT / "sample_logs", folder / "sample_logs", ignore=ignored)
    return folder


def run(line: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a line of the README in a folder."""
    program, *arguments = shlex.split(line)
    assert program == "harvestcast"
    return subprocess.run(
        [sys.executable, "-c", _CALL, *arguments],
        cwd=folder, capture_output=True, text=True, timeout=1800, check=False,
    )  # fmt: skip


def said(done: subprocess.CompletedProcess[str]) -> str:
    """Return what a reader sees: the summary, or what was refused."""
    return done.stdout if done.returncode == 0 else done.stderr


def shortened(text: str, show: str | None) -> str:
    """Return a summary cut down to some of its sections, with three dots for what was left out."""
    if show is None:
        return text
    starts = tuple(one.strip() for one in show.split(","))
    sections: list[list[str]] = []
    for line in text.splitlines():
        if line and not line.startswith(" "):
            sections.append([])
        if line:
            sections[-1].append(line)
    kept = sections[0]
    for section in sections[1:]:
        if section[0].startswith(starts):
            more = ["  ..."] if len(section) > LINES + 1 else []
            kept = [*kept, "", *section[: LINES + 1], *more]
    return "\n".join([*kept, ""])


def main(only: list[str]) -> None:
    """Rewrite the blocks, of some commands or of all."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = desk(Path(scratch))

        def block(match: re.Match[str]) -> str:
            show, line = match["show"], match["line"]
            if only and line.split()[1] not in only:
                return match[0]
            printed = shortened(said(run(line, folder)), show)
            before = "" if show is None else f"<!-- show: {show} -->\n"
            return f"{before}```console\n$ {line}\n{printed}```"

        README.write_text(BLOCK.sub(block, README.read_text("utf-8")), "utf-8", newline="\n")


if __name__ == "__main__":
    main(sys.argv[1:])
