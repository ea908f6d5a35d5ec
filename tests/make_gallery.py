"""Draw every figure of :mod:`harvestcast.figures` from ``sample_logs`` into ``.github/gallery.md``.

``python -m tests.make_gallery`` makes the pages of the sample and keeps the first drawing of each
figure function that they call, small, with the words that stand beside it for those who cannot
see it. Look at every picture that has changed.
"""

from __future__ import annotations

import inspect
import io
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from shutil import copytree
from typing import Any

from PIL import Image

from harvestcast import figures
from harvestcast.report.html.render import KINDS, write_report

ROOT = Path(__file__).parents[1]
PAGE = ROOT / ".github" / "gallery.md"
PICTURES = ROOT / ".github" / "gallery"
DPI, COLORS = 90, 48
LINE = 100


def drawn_by() -> list[str]:
    """Return the names of the public figure functions: those with words beside them."""
    return [name for name in figures.__all__ if f"{name}_alt" in figures.__all__]


def _recorded(name: str, kept: dict[str, tuple[Any, str]]) -> Callable[..., Any]:
    draw, words = getattr(figures, name), getattr(figures, f"{name}_alt")
    told = inspect.signature(words).parameters

    def recording(*frames: Any, **given: Any) -> Any:
        ax = draw(*frames, **given)
        if name not in kept:
            kept[name] = (ax, words(*frames, **{k: v for k, v in given.items() if k in told}))
        return ax

    return recording


def main() -> None:
    """Make all pages of the sample, and the gallery of what was drawn."""
    kept: dict[str, tuple[Any, str]] = {}
    for name in drawn_by():
        setattr(figures, name, _recorded(name, kept))
    with tempfile.TemporaryDirectory() as place:
        garden = Path(place) / "sample_logs"
        copytree(ROOT / "sample_logs", garden)
        for kind in KINDS:
            print(kind, file=sys.stderr, flush=True)
            write_report(kind, garden, Path(place) / f"{kind}.html")
    PICTURES.mkdir(exist_ok=True)
    parts = ["# All figures\n\nDrawn from `sample_logs` (an invented garden) by `python -m "
             "tests.make_gallery`.\n"]  # fmt: skip
    for name in drawn_by():
        ax, words = kept[name]
        picture = Image.open(io.BytesIO(figures.to_png(ax, dpi=DPI))).convert("RGB")
        picture = picture.quantize(COLORS, dither=Image.Dither.NONE)
        picture.save(PICTURES / f"{name}.png", optimize=True)
        summary = (getattr(figures, f"{name}_alt").__module__, name)
        first = words.split(". ")[0].rstrip(".").replace("\n", " ")[: 2 * LINE]
        parts.append(f"## {name}\n\n`{'.'.join(summary)}`\n\n![{first}](gallery/{name}.png)\n")
    PAGE.write_text("\n".join(parts), "utf-8")


if __name__ == "__main__":
    main()
