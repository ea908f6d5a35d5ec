"""The pages in a real browser: no error, no request, no sideways scroll, sane headings, print."""

import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from harvestcast.report.html.render import browser, print_pdf

FLAGS = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

pytestmark = pytest.mark.browser


@dataclass(slots=True)
class Visit:
    """An opened page, what it asked for and what it complained of."""

    page: Any
    file: Path
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@pytest.fixture(scope="module")
def window() -> Iterator[Any]:
    program = browser()
    if program is None:
        pytest.skip("no chromium or chrome on the path")
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    profile = tempfile.mkdtemp(prefix="harvestcast-test-")
    with sync_api.sync_playwright() as driver:
        context = driver.chromium.launch_persistent_context(
            profile,
            executable_path=program,
            headless=True,
            args=["--no-sandbox", *FLAGS],
            viewport={"width": 1280, "height": 900},
        )
        yield context
        context.close()
    shutil.rmtree(profile, ignore_errors=True)


def _open(window: Any, file: Path) -> Visit:
    made = Visit(page=window.new_page(), file=file)
    made.page.on("request", lambda r: made.requests.append(r.url))
    made.page.on("console", lambda m: made.complaints.append(m.text))
    made.page.on("pageerror", lambda e: made.complaints.append(str(e)))
    made.page.goto(file.as_uri())
    made.page.wait_for_load_state("networkidle")
    return made


@pytest.fixture(scope="module")
def visit(window: Any, week_html: Path) -> Visit:
    """Return the week's page, opened."""
    return _open(window, week_html)


@pytest.fixture(
    scope="module", params=["week_html", "ahead_html", "season_html", "next_html", "backtest_html"]
)
def each(window: Any, request: pytest.FixtureRequest) -> Visit:
    """Return each of the pages, opened."""
    return _open(window, request.getfixturevalue(request.param))


def test_no_error_and_no_request(each: Visit) -> None:
    asked = [url for url in each.requests if not url.startswith("data:")]
    assert asked == [each.file.as_uri()]
    assert each.complaints == []


def test_every_figure_is_shown(each: Visit) -> None:
    sizes = each.page.evaluate("[...document.images].map(i => [i.complete, i.naturalWidth])")
    # The made-up back-test is of two crops: a short page.
    assert len(sizes) >= (2 if each.file.stem == "backtest" else 3)
    assert all(complete and width > 100 for complete, width in sizes)


@pytest.mark.parametrize("width", [320, 375, 768, 1280])
def test_the_page_never_scrolls_sideways(each: Visit, width: int) -> None:
    each.page.set_viewport_size({"width": width, "height": 800})
    wide = each.page.evaluate("document.documentElement.scrollWidth")
    assert wide <= width


def test_no_part_is_wider_than_a_phone_unless_it_scrolls_by_itself(each: Visit) -> None:
    each.page.set_viewport_size({"width": 375, "height": 800})
    wide = each.page.evaluate(
        """[...document.querySelectorAll('main *')].filter(e => {
            const box = e.getBoundingClientRect();
            return box.right > 376 && box.left >= 0 && !e.closest('.table');
        }).map(e => e.tagName + ' ' + e.textContent.slice(0, 40))"""
    )
    assert wide == []


def test_no_amount_is_pushed_behind_a_scrollbar_on_a_phone(each: Visit) -> None:
    each.page.set_viewport_size({"width": 375, "height": 800})
    wide = each.page.evaluate(
        """[...document.querySelectorAll('.table')].filter(
            e => e.scrollWidth > e.clientWidth + 1).map(e => e.getAttribute('aria-label'))"""
    )
    assert wide == []


def test_no_heading_stands_alone_on_a_phone(each: Visit) -> None:
    each.page.set_viewport_size({"width": 390, "height": 800})
    alone = each.page.evaluate(
        """[...document.querySelectorAll('.stacked td')].filter(
            e => !e.textContent.trim() && e.getBoundingClientRect().height > 0).map(
            e => e.dataset.name)"""
    )
    assert alone == []


def test_a_long_heading_breaks_on_a_phone_before_it_runs_into_its_words(each: Visit) -> None:
    each.page.set_viewport_size({"width": 390, "height": 800})
    unbroken = each.page.evaluate(
        """[...document.querySelectorAll('.stacked td')].filter(
            e => getComputedStyle(e, '::before').whiteSpace != 'normal').map(
            e => e.dataset.name)"""
    )
    assert unbroken == []


def test_headings_go_down_one_step_at_a_time(each: Visit) -> None:
    levels = each.page.evaluate(
        "[...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map(h => +h.tagName[1])"
    )
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert levels.count(2) >= (2 if each.file.stem == "backtest" else 5)


def test_what_was_typed_is_text_on_the_screen(visit: Visit, made_up: SimpleNamespace) -> None:
    shown = visit.page.inner_text("main")
    assert "<script>alert(1)</script>" in shown
    assert visit.page.evaluate("document.scripts.length") == 0
    assert "<script>alert(1)</script>" in visit.page.title()


def test_a_keyboard_reaches_every_table_and_sees_where_it_is(visit: Visit) -> None:
    visit.page.set_viewport_size({"width": 1280, "height": 800})
    names = visit.page.evaluate(
        "[...document.querySelectorAll('[tabindex=\"0\"]')].map(e => e.getAttribute('aria-label'))"
    )
    assert len(names) >= 7
    assert all(names)
    visit.page.keyboard.press("Tab")
    assert visit.page.evaluate("document.activeElement.textContent") == "To the report"


def test_letters_are_large_enough_on_a_phone(each: Visit) -> None:
    each.page.set_viewport_size({"width": 375, "height": 800})
    smallest = each.page.evaluate(
        """Math.min(...[...document.querySelectorAll('main *')]
            .filter(e => e.childElementCount === 0 && e.textContent.trim() && e.offsetParent)
            .map(e => parseFloat(getComputedStyle(e).fontSize)))"""
    )
    assert smallest >= 13


def test_the_first_page_on_paper_is_the_first_screen(visit: Visit, tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")
    for size in ("A4", "Letter"):
        out = tmp_path / f"{size}.pdf"
        visit.page.pdf(path=str(out), format=size, prefer_css_page_size=False)
        first, second, *_ = (
            " ".join(leaf.extract_text().split()) for leaf in pypdf.PdfReader(out).pages
        )
        for words in ("The next two days", "Overdue", "To do", "To buy", "Surplus", "Mind"):
            assert words in first
        assert "What to do on which day" not in first
        assert second.startswith("What to do on which day")


@pytest.mark.parametrize(("width", "hidden"), [(390, True), (1200, False)])
def test_figures_fold_away_on_a_phone_only(visit: Visit, width: int, hidden: bool) -> None:
    visit.page.set_viewport_size({"width": width, "height": 844})
    shown = visit.page.evaluate("[...document.images].map(i => i.checkVisibility())")
    assert len(shown) >= 3
    assert set(shown) == {not hidden}
    long = visit.page.evaluate("document.documentElement.scrollHeight")
    assert long < 12 * 844 or not hidden


def test_a_long_table_folds_away_on_every_screen_and_not_on_paper(
    window: Any, ahead_html: Path
) -> None:
    page = _open(window, ahead_html).page
    row = page.locator("details.long tbody tr").first
    for width in (390, 1200):
        page.set_viewport_size({"width": width, "height": 844})
        assert not row.evaluate("row => row.checkVisibility()")
    assert page.locator("details:not(.long) img").first.evaluate("img => img.checkVisibility()")
    page.emulate_media(media="print")
    assert row.evaluate("row => row.checkVisibility()")
    page.emulate_media(media="screen")
    page.locator("details.long summary").click()
    assert row.evaluate("row => row.checkVisibility()")
    page.close()


def test_the_kitchen_sheet_prints_on_one_page_of_its_own(visit: Visit, tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")
    for size in ("A4", "Letter"):
        out = tmp_path / f"{size}.pdf"
        visit.page.pdf(path=str(out), format=size, prefer_css_page_size=False)
        pages = [" ".join(leaf.extract_text().split()) for leaf in pypdf.PdfReader(out).pages]
        assert 4 <= len(pages) <= 9
        holding = [i for i, text in enumerate(pages) if "Kitchen sheet" in text]
        assert len(holding) == 1
        leaf = pages[holding[0]]
        assert "Dill pickles" in leaf
        assert "Cucumber relish" in leaf
        assert "21 lids" in leaf  # the shopping list hangs beside the work
        assert "Hours in the kitchen" not in leaf
        assert "What will be left over" not in leaf


def test_a_full_kitchen_sheet_still_prints_on_one_page(
    window: Any, made_up: SimpleNamespace, tmp_path: Path
) -> None:
    """Twenty-two batches and fourteen things to buy: a heavy ten days."""
    import pandas as pd

    from harvestcast.report.html.page import TEMPLATE
    from harvestcast.report.week import page as week_page

    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")
    full = made_up.week()
    fields = {name: getattr(full, name) for name in type(full).__slots__}
    many = pd.concat([full.batches] * 5, ignore_index=True).head(22)
    buy = pd.concat([full.shopping.query("to_buy > 0")] * 7, ignore_index=True)
    week = type(full)(**{**fields, "batches": many, "shopping": buy})
    css = (TEMPLATE / "style.css").read_text("utf-8")
    leaf = tmp_path / "sheet.html"
    leaf.write_text(
        f"<!DOCTYPE html><html lang=en><style>{css}</style><main>"
        f"{week_page.kitchen_sheet(week).html}</main>",
        "utf-8",
    )
    tab = window.new_page()
    tab.goto(leaf.as_uri())
    for size in ("A4", "Letter"):
        tab.pdf(path=str(tmp_path / "sheet.pdf"), format=size)
        texts = [p.extract_text().strip() for p in pypdf.PdfReader(tmp_path / "sheet.pdf").pages]
        # Why each is done follows on a leaf of its own.
        assert sum("Kitchen sheet" in text for text in texts) == 1
        assert len([text for text in texts if text and not text.startswith("Why these")]) == 1
    tab.close()


def test_print_is_dark_on_white(each: Visit) -> None:
    each.page.emulate_media(media="print")
    ink, ground = each.page.evaluate(
        "[getComputedStyle(document.body).color, getComputedStyle(document.body).backgroundColor]"
    )
    each.page.emulate_media(media="screen")
    assert ink == "rgb(0, 0, 0)"
    assert ground == "rgb(255, 255, 255)"


def test_a_pdf_is_written_where_a_browser_is(week_html: Path, tmp_path: Path) -> None:
    if browser() is None:
        pytest.skip("no chromium or chrome on the path")
    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")
    out = print_pdf(week_html, tmp_path / "week.pdf")
    assert len(pypdf.PdfReader(out).pages) >= 4


def test_the_picking_sheet_is_one_page(window: Any, tmp_path: Path) -> None:
    import pandas as pd

    from harvestcast.records.garden import garden_from_frames
    from harvestcast.report.html.sheets import ONE_PAGE, picking_sheet

    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")
    tab = window.new_page()
    for number in (1, 12, ONE_PAGE):
        plantings = pd.DataFrame(
            {
                "crop": "tomato",
                "variety": [f"Number {i} <i>x</i>" for i in range(number)],
                "date": pd.Timestamp("2026-05-20"),
                "how": "set_out",
            }
        )
        garden = garden_from_frames(plantings=plantings, name="many")
        leaf = tmp_path / "sheet.html"
        leaf.write_text(picking_sheet(garden), "utf-8")
        tab.goto(leaf.as_uri())
        assert "<i>x</i>" in tab.inner_text("main")
        tab.pdf(path=str(tmp_path / "sheet.pdf"), prefer_css_page_size=True)
        assert len(pypdf.PdfReader(tmp_path / "sheet.pdf").pages) == 1
    tab.close()
