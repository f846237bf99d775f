"""The framer's notebook in a real browser, on the example as a user finds it."""

import re

import pytest

from tests.browser.lab import (
    LAPTOP,
    OUTPUT,
    cell_errors,
    cells_not_run,
    example_lab,
    open_notebook,
)

PATIENCE_MS = 600_000  # to put the example on the bench on a slow machine

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    """The notebook after all its cells have run."""
    with example_lab(tmp_path_factory.mktemp("lab")) as (base, page):
        open_notebook(base, page, "framer", ".towerlift-framer svg >> nth=1", PATIENCE_MS)
        page.locator(".towerlift-framer").first.evaluate("panel => panel.scrollIntoView()")
        page.wait_for_timeout(500)
        page.screenshot(path=OUTPUT / "framer-panel.png")
        yield page


def panel(page):
    return page.locator(".towerlift-framer").first


def settle(page, change):
    """Do something that changes the map, and wait until it has changed."""
    before = panel(page).locator("svg").first.inner_html()
    change()
    for _ in range(100):
        page.wait_for_timeout(50)
        after = panel(page).locator("svg").first.inner_html()
        if after != before:
            return before, after
    pytest.fail("the map did not change within five seconds")


def answer(page, name):
    panel(page).locator("button", has_text=re.compile(f"^{name}$")).click()
    page.wait_for_timeout(200)
    page.wait_for_selector('.jp-Notebook-ExecutionIndicator[data-status="idle"]')
    page.wait_for_timeout(300)


def test_every_cell_ran_and_the_claim_held(opened):
    assert cell_errors(opened) == []
    assert cells_not_run(opened) == []


def test_the_page_says_what_it_must(opened):
    text = panel(opened).inner_text()
    assert "does not replace a licensed engineer and a competent rigger" in text
    assert "FALLS SHORT by 20.3 mm" in text
    assert "brace N4 east foot" in text


def test_it_fits_a_small_laptop(opened):
    panel(opened).evaluate("panel => panel.scrollIntoView()")
    box = panel(opened).bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= LAPTOP[0]
    assert box["height"] <= 645  # what JupyterLab leaves of 768
    wider = opened.eval_on_selector_all(
        ".towerlift-framer .widget-box",
        "parts => parts.filter(p => p.scrollWidth > p.clientWidth + 1).map(p => p.className)",
    )
    assert wider == []


def test_a_number_names_its_piece(opened):
    titles = panel(opened).locator("svg rect.cell title").all_text_contents()
    assert len(titles) > 80
    assert all("budget" in title and "heel" in title for title in titles)
    worst = next(title for title in titles if "20.3 mm short" in title)
    assert worst.startswith("brace N4 east foot, north face")
    assert "stage L3" in worst


def test_the_plumb_line_moves_the_map(opened):
    # Sliders in order: moisture, out of square, drift, plumb line x, plumb line y.
    handle = panel(opened).locator(".noUi-handle").nth(4)
    handle.focus()
    settle(opened, lambda: opened.keyboard.press("ArrowLeft"))
    text = panel(opened).inner_text()
    assert "FALLS SHORT by 19.3 mm" in text
    assert "another setting" in text
    settle(opened, lambda: panel(opened).locator("button", has_text="As planned").click())
    assert "FALLS SHORT by 20.3 mm" in panel(opened).inner_text()


@pytest.mark.parametrize(
    ("tab", "said"),
    [
        ("Prices", "pare 25 mm off the north side of brace N4 east foot"),
        ("Pare", "brace foot"),
        ("Shims", "taper to the next height"),
        ("Chance", "Chance of touching"),
        ("Calendar", "least to spare to the masonry"),
        ("Tolerance", "swelling at +4 %"),
    ],
)
def test_every_answer_opens(opened, tab, said):
    answer(opened, tab)
    opened.wait_for_function(
        "said => document.querySelector('.towerlift-framer').textContent.includes(said)",
        arg=said,
        timeout=60_000,
    )
    opened.screenshot(path=OUTPUT / f"framer-{tab.lower()}.png")


def test_a_variant_is_kept(opened):
    settle(opened, lambda: panel(opened).locator("select").first.select_option("belfry"))
    panel(opened).locator("input[type=text]").fill("belfry as drawn")
    panel(opened).locator("input[type=text]").press("Tab")
    panel(opened).locator("button", has_text=re.compile("^Keep$")).click()
    opened.wait_for_timeout(800)
    assert "the plan is untouched" in panel(opened).inner_text()
    settle(opened, lambda: panel(opened).locator("select").first.select_option("base"))
    opened.screenshot(path=OUTPUT / "framer-variant.png")
