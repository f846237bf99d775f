"""The roofer's notebook in a real browser, on the example as a user finds it."""

import pytest

from tests.browser.lab import (
    LAPTOP,
    OUTPUT,
    cell_errors,
    cells_not_run,
    example_lab,
    open_notebook,
)

PATIENCE_MS = 300_000

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    """The notebook after all its cells have run."""
    with example_lab(tmp_path_factory.mktemp("lab")) as (base, page):
        open_notebook(base, page, "roofer", ".towerlift svg >> nth=2", PATIENCE_MS)
        page.locator(".towerlift").first.evaluate("panel => panel.scrollIntoView()")
        page.screenshot(path=OUTPUT / "roofer.png")
        yield page


def words(page):
    return page.locator(".towerlift").first.inner_text()


def press(page, slider, key, times=1):
    """Move a slider by its keys, and wait until what is shown has changed."""
    before = words(page)
    handle = page.locator(".towerlift .noUi-handle").nth(slider)
    handle.focus()
    for _ in range(times):
        page.keyboard.press(key)
        page.wait_for_timeout(60)
    for _ in range(100):
        page.wait_for_timeout(100)
        if words(page) != before:
            page.wait_for_timeout(400)
            return words(page)
    pytest.fail("nothing changed within ten seconds")


def test_every_cell_ran_and_the_claim_held(opened):
    assert cell_errors(opened) == []
    assert cells_not_run(opened) == []


def test_the_page_says_what_it_must(opened):
    said = words(opened)
    assert "does not replace a licensed engineer and a competent rigger" in said
    assert "1 of 7 DATES WILL NOT DO" in said
    assert "Way off: " in said
    assert "open to roofers" in said


def test_it_fits_a_small_laptop(opened):
    box = opened.locator(".towerlift").first.bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= LAPTOP[0]
    assert box["height"] <= 645  # what JupyterLab leaves of 768


def test_the_date_slider_comes_to_the_crossing(opened):
    for _ in range(14):
        said = press(opened, 0, "ArrowRight")
        if "Sat 01 May 2027" in said:
            break
    assert "CROSSING 1" in said
    assert "the belfry moves to pick the spire up" in said
    opened.screenshot(path=OUTPUT / "roofer-crossing.png")


def test_the_wind_and_crew_sliders_change_the_windows(opened):
    said = press(opened, 1, "PageUp", 3)
    assert "ABOVE THE USUAL LIMIT" in said
    said = press(opened, 2, "ArrowLeft")
    assert "h are planned" in said
    opened.screenshot(path=OUTPUT / "roofer-three.png")
