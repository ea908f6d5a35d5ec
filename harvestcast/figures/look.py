"""One look for all figures: few inks that differ in lightness, patterns beside every colour.

Fills that touch differ by at least 9 units of CIE lightness when printed in grey (a test
computes it) and carry a line around them, and nothing is told apart by colour alone.
"""

from __future__ import annotations

import base64
import io
import textwrap
import warnings
from collections.abc import Callable, Iterable, Sequence
from functools import wraps
from typing import Any, ParamSpec

import matplotlib as mpl
import numpy as np
import pandas as pd
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units

P = ParamSpec("P")

INK = "#1d211c"
SLATE = "#4b5046"
RUST = "#8f3d22"
LEAF = "#5d7a4c"
MID = "#a9b998"
PALE = "#dfe6d5"
PAPER = "#ffffff"

STYLE: Any = {
    **dict(mpl.rcParamsDefault),
    "font.family": ["DejaVu Sans"],
    "font.size": 10.0,
    "axes.titlesize": 11.0,
    "axes.titlelocation": "left",
    "axes.titleweight": "bold",
    "axes.titlepad": 8.0,
    "axes.labelsize": 10.0,
    "axes.edgecolor": SLATE,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "xtick.labelsize": 9.5,
    "ytick.labelsize": 9.5,
    "xtick.color": INK,
    "ytick.color": INK,
    "text.color": INK,
    "legend.fontsize": 9.5,
    "legend.frameon": False,
    "legend.handlelength": 1.4,
    "legend.borderaxespad": 0.0,
    "hatch.linewidth": 0.7,
    "hatch.color": INK,
    "figure.facecolor": PAPER,
    "axes.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    # Typed names may hold a dollar sign; it is no formula.
    "text.parse_math": False,
    "text.usetex": False,
    # Letters as outlines: the page looks the same on every machine and needs no font.
    "svg.fonttype": "path",
    "svg.hashsalt": "harvestcast",
    "date.epoch": "1970-01-01T00:00:00",
}
STYLE.pop("backend", None)
STYLE.pop("backend_fallback", None)

SERIES: tuple[dict[str, Any], ...] = (
    {"color": INK, "linestyle": "-", "marker": "o"},
    {"color": RUST, "linestyle": (0, (5, 2)), "marker": "s"},
    {"color": LEAF, "linestyle": (0, (1, 1.2)), "marker": "^"},
    {"color": SLATE, "linestyle": (0, (6, 2, 1, 2)), "marker": "D"},
    {"color": RUST, "linestyle": (0, (1, 2.5)), "marker": "v"},
    {"color": INK, "linestyle": (0, (9, 3)), "marker": "P"},
)
"""Line, pattern and mark of the first, second, ... variety of a figure."""

FILLS: dict[str, dict[str, Any]] = {
    "boiling_water": {"facecolor": MID, "hatch": ""},
    "pressure": {"facecolor": LEAF, "hatch": "", "edgecolor": INK},
    "freezing": {"facecolor": PAPER, "hatch": "////"},
    "drying": {"facecolor": PALE, "hatch": "----"},
    "fermenting": {"facecolor": PALE, "hatch": "xxxx"},
    "refrigerating": {"facecolor": MID, "hatch": "||||"},
    "keeping": {"facecolor": LEAF, "hatch": "----"},
    "other": {"facecolor": PAPER, "hatch": "\\\\\\\\"},
}
"""Fill and pattern of each way of putting up."""


def styled(
    width: float = 4.2, height: float = 3.0
) -> Callable[[Callable[P, Axes]], Callable[P, Axes]]:
    """Give a figure function the house style and, where none is passed, axes of its own.

    Parameters
    ----------
    width, height : float
        Size of the new figure, inches; drawn at phone width and enlarged on a desk.
    """

    def decorate(draw: Callable[P, Axes]) -> Callable[P, Axes]:
        @wraps(draw)
        def drawn(*args: P.args, **kwargs: P.kwargs) -> Axes:
            with mpl.rc_context(STYLE):
                if kwargs.get("ax") is None:
                    kwargs["ax"] = new_axes(width, height)
                return draw(*args, **kwargs)

        return drawn

    return decorate


def new_axes(width: float, height: float) -> Axes:
    """Return axes on a figure of their own, outside any interactive session."""
    figure = Figure(figsize=(width, height), layout="constrained")
    FigureCanvasAgg(figure)
    return figure.add_subplot()


def in_session(drawn: Axes, given: Axes | None) -> Axes:
    """Return axes; where none were given, the session shows their figure as one of its own.

    A notebook then shows it under the cell, and ``matplotlib.pyplot.show()`` in a window.

    Parameters
    ----------
    drawn : matplotlib.axes.Axes
        Axes that were drawn on.
    given : matplotlib.axes.Axes or None
        Those that the caller gave to draw on.
    """
    if given is None:
        import matplotlib.pyplot as plt

        plt.figure(drawn.figure)
    return drawn


def resize(ax: Axes, height: float) -> None:
    """Make the figure as tall as its rows need, where the axes have a figure of their own."""
    figure = ax.figure
    if isinstance(figure, Figure) and len(figure.axes) == 1:
        figure.set_figheight(height)


def crown(ax: Axes, title: str, *, handles: Sequence[Artist] | None = None, ncols: int = 2) -> None:
    """Put the title and the key above the figure, from its left edge.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        Axes that are drawn already.
    title : str
        Title.
    handles : sequence of artists, optional
        What the key explains; left out: everything that was drawn with a label.
    ncols : int
        Columns of the key.
    """
    shown = list(handles) if handles is not None else ax.get_legend_handles_labels()[0]
    figure = ax.figure
    if isinstance(figure, Figure) and len(figure.axes) == 1:
        # From the edge of the figure, not of the axes, which long names push to the right.
        key = figure.legend(
            handles=shown, loc="outside upper left", ncols=ncols, title=title, alignment="left",
            columnspacing=0.9, handletextpad=0.4, borderpad=0.1, borderaxespad=0.1,
            title_fontproperties={"weight": "bold", "size": STYLE["axes.titlesize"]},
        )  # fmt: skip
        key.set_label("crown")
        return
    ax.set_title(title)
    if shown:
        ax.legend(handles=shown, loc="best")


LONGEST = 26
"""Letters of a row's name that stand on one line."""


def named_rows(ax: Axes, at: np.ndarray, names: Iterable[object]) -> None:
    """Label the rows of a lying figure, with half a row of room above and below.

    A long name takes two lines, and no more: the picture is for the bars. Its words are whole.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        Axes of the figure.
    at : numpy.ndarray
        Place of each row, n-1 down to 0.
    names : iterable
        A name a row, as typed.
    """
    short = (textwrap.wrap(wording.clean(name), LONGEST, max_lines=2) for name in names)
    ax.set_yticks(at, ["\n".join(lines) for lines in short])
    ax.set_ylim(-0.6, len(at) - 0.4)


def week_axes(ax: Axes, at: np.ndarray, starts: Sequence[Any], units: Units, per: str) -> None:
    """Label upright weekly figures: first days below, at most seven, and mass from zero up.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        Axes of the figure.
    at : numpy.ndarray
        Place of each week.
    starts : sequence of dates
        First day of each week.
    units : {"us", "metric"}
        Order of the dates and unit of the mass.
    per : str
        What the mass is: ``a week``.
    """
    step = max(1, -(-len(starts) // 7))
    ax.set_xticks(at[::step], [wording.day(d, units, weekday=False) for d in starts[::step]])
    ax.set_xlim(-0.6, (at[-1] if len(at) else -0.2) + 0.6)
    ax.set_ylim(bottom=0)
    ax.set_xlabel("week from")
    ax.set_ylabel(f"{wording.mass_unit(units)} {per}")


def largest(frame: pd.DataFrame, column: str) -> pd.Series:
    """Return the row with the largest known value; at least one must be known."""
    return frame.iloc[int(np.nanargmax(frame[column].to_numpy(float)))]


def _save(ax: Axes, kind: str, **options: Any) -> bytes:
    buffer = io.BytesIO()
    figure = ax.get_figure(root=True)
    assert figure is not None
    with mpl.rc_context(STYLE), warnings.catch_warnings():
        # A typed name may hold a letter the font lacks; the alternative text carries it whole.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        figure.savefig(buffer, format=kind, **options)
    return buffer.getvalue()


def to_svg(ax: Axes) -> bytes:
    """Return the figure as an SVG file, the same bytes for the same figure."""
    return _save(ax, "svg", metadata={"Date": None, "Creator": None})


def to_png(ax: Axes, dpi: float = 150) -> bytes:
    """Return the figure as a PNG file."""
    return _save(ax, "png", dpi=dpi, metadata={"Software": None})


def data_uri(svg: bytes) -> str:
    """Return an SVG file as an address that stands in the page itself."""
    return "data:image/svg+xml;base64," + base64.b64encode(svg).decode("ascii")
