"""Pieces of the page: escaping, structure, contrast."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import product
from types import SimpleNamespace

import pandas as pd
import pytest

from harvestcast.report.html import page
from harvestcast.report.html.page import TEMPLATE, Cell, Piece
from harvestcast.report.week import basis
from harvestcast.report.week import page as week_page
from harvestcast.report.week import words as week_words


class _Tags(HTMLParser):
    """Counts tags, so that nothing typed can have become one."""

    def __init__(self) -> None:
        super().__init__()
        self.names: list[str] = []
        self.handlers: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.append(tag)
        self.handlers += [name for name, _ in attrs if name.startswith("on")]


@pytest.fixture(scope="module")
def parts(made_up: SimpleNamespace) -> str:
    return "\n".join(part(made_up.week()).html for part in week_page.PARTS)


def test_typed_script_is_text_wherever_it_stands(parts: str, made_up: SimpleNamespace) -> None:
    assert parts.count("&lt;script&gt;alert(1)&lt;/script&gt;") >= 5
    tags = _Tags()
    tags.feed(parts)
    assert not {"script", "b", "iframe", "object"} & set(tags.names)
    assert not tags.handlers
    assert "&lt;b&gt;Button" in parts  # the variety name, in the table of failed checks


def test_what_the_forecast_leans_on_is_said(parts: str, made_up: SimpleNamespace) -> None:
    said = "This week leans on the recent pace by 35 %"
    assert said not in parts
    row = made_up.week().checks.head(1).assign(code="forecast.leans", comment=said)
    week = replace(made_up.week(), checks=pd.concat([made_up.week().checks, row]))
    assert said in basis.checks(week).html


def test_attributes_cannot_be_broken_out_of() -> None:
    typed = '" onload="alert(1)'
    frame = pd.DataFrame({"a": [typed], "b": [typed]})
    made = page.table(
        frame,
        [Cell(heading=typed, words=page.column("a")), Cell(heading=typed, words=page.column("b"))],
        caption=typed,
        empty="",
    )
    tags = _Tags()
    tags.feed(made.html)
    assert not tags.handlers


def test_every_picture_has_words(parts: str) -> None:
    alts = re.findall(r'<img [^>]*alt="([^"]*)"', parts)
    assert len(alts) == parts.count("<img ") >= 8
    assert all(len(alt) > 40 for alt in alts)


def test_every_table_has_a_caption_and_headings(parts: str) -> None:
    for table in re.findall(r"<table.*?</table>", parts, re.S):
        assert "<caption>" in table
        assert 'scope="col"' in table
        assert 'scope="row"' in table


def test_us_and_metric_pages_show_their_own_units(made_up: SimpleNamespace) -> None:
    text = {}
    for units in ("us", "metric"):
        html = "\n".join(part(made_up.week(units)).html for part in week_page.PARTS)
        html = re.sub(r'src="data:[^"]*"', "", html)
        text[units] = re.sub(r"<[^>]+>", " ", html)
    assert re.search(r"\d lb\b", text["us"])
    assert not re.search(r"\d (kg|g|m|kPa|mm)\b", text["us"])
    assert re.search(r"\d kg\b", text["metric"])
    # The table's own figure may stand in brackets, as the pressure does.
    metric = re.sub(r"\([\d,]+ to [\d,]+ ft\)", "", text["metric"])
    assert not re.search(r"\d (lb|oz|ft)\b", metric)
    assert "13 mm (1/2 in)" in text["metric"]
    assert "11 psi (76 kPa)" in text["metric"]
    assert "Mon Jul 20" in text["us"]
    assert "Mon 20 Jul" in text["metric"]


def test_a_process_shows_time_pressure_headspace_and_source(made_up: SimpleNamespace) -> None:
    html = week_page.kitchen_sheet(made_up.week()).html
    row = next(r for r in re.findall(r"<tr.*?</tr>", html) if "Snap beans" in r)
    for words in ("20 min", "11 psi", "1 in", "[1]"):
        assert words in row
    assert "[1] Made-up handbook &lt;2026&gt;, table 1" in html


def test_the_first_screen_answers_what_is_asked_in_the_kitchen(made_up: SimpleNamespace) -> None:
    """What comes today and tomorrow, what has waited, what to do, to buy, and what is too much."""
    week = replace(made_up.week("metric"), today=made_up.as_of + pd.Timedelta(days=1))
    made = week_page.PARTS[1](week)
    assert made.name == "Today and tomorrow"
    text = re.sub(r"<[^>]+>", " ", made.html).replace("\N{NO-BREAK SPACE}", " ")
    text = " ".join(text.split())
    assert "cucumber 2.4 kg, 18 pieces 1.2 to 6, 90% 2.4 kg, 18 pieces 1.2 to 6, 50% " in text
    # The week stands in the same row.
    assert "7 days to Sun 26 Jul" in text
    assert "about 18 kg (6 to 30 kg) hangs there, 33% of it oversize" in text
    assert "11 days ago (usually every 2 days): pick today" in text
    dill = text.index("Mon 20 Jul: Dill pickles (2 batches)")
    assert dill < text.index("After that:") if "After that:" in text else dill
    assert "Vinegar, 5% acidity: 3.2 qt. Lids: 21 lids." in text
    assert text.index("Overdue") < text.index("cucumber") < text.index("To do")
    assert text.index("To do") < text.index("To buy") < text.index("Surplus") < text.index("Mind")
    # A time is said with its conditions or not at all: here it is not.
    assert not re.search(r"canner, \d+ min|pack|headspace", text)


def test_empty_results_are_said(made_up: SimpleNamespace) -> None:
    names = ("days", "overdue", "coming", "batches", "shopping", "surplus", "bottlenecks",
             "cautions", "wanted", "notices", "left_out", "balance", "fitted",
             "picked")  # fmt: skip
    full = made_up.week()
    fields = {name: getattr(full, name) for name in type(full).__slots__}
    bare = type(full)(**{**fields, **{name: fields[name].iloc[:0] for name in names}})
    for part in week_page.PARTS:
        assert isinstance(part(bare), Piece)
    html = "".join(part(bare).html for part in week_page.PARTS)
    assert "Nothing needs to be bought" in html
    assert "Nothing in the files was odd" in html


def test_a_thing_that_helps_is_shown_with_both_signs(made_up: SimpleNamespace) -> None:
    """Produce less and fewer jars is said so; what is not clear or helps nothing is not shown."""
    week = made_up.week()
    one = week.bottlenecks.iloc[0].to_dict()
    rows = [
        {**one, "resource": "dryer", "saved_kg": 2.0, "more_jars": -3.0},
        {**one, "resource": "lids", "saved_kg": -0.4, "more_jars": -2.0},
        {**one, "resource": "freezer", "comment": "no clear saving", "code": "saving.unclear"},
    ]
    html = week_page.bottlenecks(replace(week, bottlenecks=pd.DataFrame(rows))).html
    assert "dryer" in html and "4.4 lb less" in html and "3 fewer" in html
    assert "lids" not in html and "freezer" not in html
    none = week_page.bottlenecks(replace(week, bottlenecks=pd.DataFrame(rows[1:]))).html
    assert "<table" not in none


def test_an_empty_cell_is_blank_however_it_is_set() -> None:
    """A stacked row shows the heading of every cell that is not called blank."""
    rows = pd.DataFrame({"crop": ["kale", "leek"], "count": ["", "about 3"], "day": ["", "Mon"]})
    cells = [
        Cell(heading="Crop", words=page.column("crop")),
        Cell(heading="Pieces", words=page.column("count"), number=True),
        Cell(heading="Day", words=page.column("day"), whole=True),
    ]
    html = page.table(rows, cells, caption="c", empty="", stacked=True).html
    assert html.count('class="number blank"') == html.count('class="whole blank"') == 1
    assert 'class="number" data-name="Pieces"><span>about 3' in html


def test_decided_and_likely_batches_stand_under_other_headings(made_up: SimpleNamespace) -> None:
    """What is decided has a range and the hours of a full batch; what is likely is an average."""
    now, after = week_page.kitchen_sheet(made_up.week("metric")).html.split("Likely in the days")[
        ::2
    ]
    assert 'data-name="Fills about"><span>18 pints (9 to 27)' in now
    assert "By hand, at most" in now and "on average" not in now
    assert "a half pint is 0.24 l, a pint 0.47 l" in now
    assert 'data-name="Fills on average"><span>9 half pints<' in after
    assert "By hand, on average" in after


def test_what_is_bought_says_for_how_many_jars(made_up: SimpleNamespace) -> None:
    week = made_up.week()
    shop = week.shopping.assign(use="up to 4 quarts of dill pickles")
    week = replace(week, shopping=shop)
    line = "vinegar, 5% acidity: 3.2 qt, for up to 4 quarts of dill pickles"
    assert line in week_words.terminal(week)
    # A litre of the vinegar is in the house.
    assert "Jul 21; what is in stock is taken off\n" in week_words.terminal(week)
    empty = replace(week, shopping=shop.assign(in_stock=0.0))
    assert "is taken off" not in week_words.terminal(empty)
    assert line in week_page.kitchen_sheet(week).html


def test_a_target_kept_out_is_no_bare_zero(made_up: SimpleNamespace) -> None:
    week = made_up.week()
    kept = week.kept_out.assign(product="canned_snap_beans", label="Snap beans")
    html = week_page.pantry(replace(week, kept_out=kept)).html
    assert "none, see below" in html
    assert "Nothing is planned for Snap beans (target 12): no tested time on record here." in html


def _variables() -> dict[str, str]:
    css = (TEMPLATE / "style.css").read_text("utf-8")
    root = css[css.index(":root") : css.index("}")]
    return dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", root))


def _luminance(color: str) -> float:
    """Relative luminance (W3C, Web Content Accessibility Guidelines 2.2, glossary)."""
    parts = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, two: str) -> float:
    """Contrast ratio (the same guidelines, glossary)."""
    light, dark = sorted((_luminance(one), _luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_the_ends_of_its_scale() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#777777") == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("ink", "ground"), list(product(("ink", "soft", "mark", "warn"), ("paper", "sheet", "band")))
)
def test_letters_stand_out_from_their_ground(ink: str, ground: str) -> None:
    """At least 4.5 to 1: success criterion 1.4.3, level AA, of the same guidelines."""
    colors = _variables()
    assert contrast(colors[ink], colors[ground]) >= 4.5


def test_every_colour_of_the_page_is_one_of_the_named_ones() -> None:
    css = (TEMPLATE / "style.css").read_text("utf-8")
    named = css[: css.index("}")] + css[css.index("@media print") :].split("}")[0]
    rest = css.replace(css[: css.index("}")], "").replace(
        css[css.index("@media print") :].split("}")[0], ""
    )
    assert not re.findall(r"#[0-9a-fA-F]{3,6}\b(?![^{]*\{)", rest)
    assert "#" in named
