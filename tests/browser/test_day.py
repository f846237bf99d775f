"""The notebook of raising day in a real browser, on the example as a user finds it."""

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
        open_notebook(base, page, "day", ".towerlift svg", PATIENCE_MS)
        page.locator(".towerlift").first.evaluate("panel => panel.scrollIntoView()")
        page.screenshot(path=OUTPUT / "day.png")
        yield page


def words(page):
    return page.locator(".towerlift").first.inner_text()


def await_words(page, wanted):
    for _ in range(100):
        if wanted in words(page):
            return
        page.wait_for_timeout(100)
    pytest.fail(f"never said: {wanted}")


def test_every_cell_ran_and_the_claim_held(opened):
    assert cell_errors(opened) == []
    assert cells_not_run(opened) == []


def test_the_page_says_what_it_must(opened):
    assert "does not replace a licensed engineer and a competent rigger" in words(opened)
    await_words(opened, "NOT EVALUATED: no mean wind was measured")
    opened.get_by_label("Wind measured:").check()
    for name, value in (("mean, m/s", "3"), ("gust, m/s", "4.5")):
        opened.get_by_label(name).fill(value)
        opened.get_by_label(name).press("Enter")
    await_words(opened, "GO: fast on the belfry needles by 11:49")
    assert "heel 12.07 m" in words(opened)
    opened.screenshot(path=OUTPUT / "day-go.png")


def test_it_fits_a_small_laptop(opened):
    box = opened.locator(".towerlift").first.bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= LAPTOP[0]
    assert box["height"] <= 645  # what JupyterLab leaves of 768


def test_hanging_late_it_comes_back(opened):
    opened.get_by_label("It hangs").check()
    await_words(opened, "lock ahead")
    handle = opened.locator(".towerlift .noUi-handle").first
    handle.focus()
    for _ in range(24):
        opened.keyboard.press("PageUp")
        opened.wait_for_timeout(250)
        if "COME BACK" in words(opened):
            break
    else:
        opened.screenshot(path=OUTPUT / "day-back.png")
    await_words(opened, "COME BACK")
    assert "30 min back to the last lock" in words(opened)
    opened.screenshot(path=OUTPUT / "day-back.png")
