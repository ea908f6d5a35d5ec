"""Draw every figure of :mod:`harvestcast.figures` from ``sample_logs`` into ``.github/gallery.md``.

``python -m tests.make_gallery`` makes the pages of the sample and keeps the first drawing of each
figure function that they call, small, with the words that stand beside it for those who cannot
see it. ``python -m tests.make_gallery season next`` makes these pages only and leaves the other
pictures as they are. Look at every picture that has changed.
"""

from __future__ import annotations

import inspect
import io
import sys
import tempfile
import textwrap
from collections.abc import Callable, Sequence
from pathlib import Path
from shutil import copytree
from typing import Any

from PIL import Image
from PIL.PngImagePlugin import PngInfo

from harvestcast import figures
from harvestcast.report.html.render import KINDS, write_report

ROOT = Path(__file__).parents[1]
PAGE = ROOT / ".github" / "gallery.md"
PICTURES = ROOT / ".github" / "gallery"
DPI, COLORS = 90, 48
LAST_SEASON = 2026


def drawn_by() -> list[str]:
    """Return the names of the public figure functions: those with words beside them."""
    return [name for name in figures.__all__ if f"{name}_alt" in figures.__all__]


def _recorded(name: str, kept: set[str]) -> Callable[..., Any]:
    draw, words = getattr(figures, name), getattr(figures, f"{name}_alt")
    told = inspect.signature(words).parameters

    def recording(*frames: Any, **given: Any) -> Any:
        ax = draw(*frames, **given)
        if name not in kept:
            kept.add(name)
            _save(name, ax, words(*frames, **{k: v for k, v in given.items() if k in told}))
        return ax

    return recording


def _save(name: str, ax: Any, words: str) -> None:
    """Write a picture, its words within it."""
    picture = Image.open(io.BytesIO(figures.to_png(ax, dpi=DPI))).convert("RGB")
    described = PngInfo()
    described.add_itxt("Description", words)
    picture = picture.quantize(COLORS, dither=Image.Dither.NONE)
    picture.save(PICTURES / f"{name}.png", optimize=True, pnginfo=described)


def page() -> str:
    """Return the page of all pictures there are."""
    parts = [
        "# All figures\n\nDrawn from `sample_logs` (an invented garden) by `python -m "
        "tests.make_gallery`.\n"
    ]
    for name in drawn_by():
        file = PICTURES / f"{name}.png"
        if file.exists():
            words = " ".join(str(Image.open(file).info["Description"]).split())
            module = getattr(figures, f"{name}_alt").__module__
            short = textwrap.shorten(words, 200, placeholder=" ...")
            parts.append(f"## {name}\n\n`{module}`\n\n![{short}](gallery/{name}.png)\n")
    return "\n".join(parts)


def main(kinds: Sequence[str]) -> None:
    """Make pages of the sample, and the gallery of what was drawn."""
    PICTURES.mkdir(exist_ok=True)
    kept: set[str] = set()
    for name in drawn_by():
        setattr(figures, name, _recorded(name, kept))
    with tempfile.TemporaryDirectory() as place:
        garden = Path(place) / "sample_logs"
        copytree(ROOT / "sample_logs", garden)
        for kind in kinds or KINDS:
            print(kind, file=sys.stderr, flush=True)
            # One season of the back-test takes minutes, all of them much longer.
            more: dict[str, Any] = {"year": LAST_SEASON} if kind == "backtest" else {}
            write_report(kind, garden, Path(place) / f"{kind}.html", **more)
    PAGE.write_text(page(), "utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
