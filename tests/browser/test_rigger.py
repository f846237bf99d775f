"""The rigger's notebook in a real browser, on the example as a user finds it."""

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

PATIENCE_MS = 900_000  # to reckon the example on a slow machine, kernels compiled first

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    """The notebook after all its cells have run."""
    with example_lab(tmp_path_factory.mktemp("lab")) as (base, page):
        open_notebook(base, page, "rigger", ".towerlift svg >> nth=2", PATIENCE_MS)
        page.locator(".towerlift").first.evaluate("panel => panel.scrollIntoView()")
        page.screenshot(path=OUTPUT / "rigger.png")
        yield page


def words(page):
    return page.locator(".towerlift").first.inner_text()


def after(page, change):
    """Do something that changes the numbers, and wait until they have changed."""
    before = words(page)
    change()
    for _ in range(100):
        page.wait_for_timeout(100)
        if words(page) != before:
            page.wait_for_timeout(300)
            return words(page)
    pytest.fail("the numbers did not change within ten seconds")


def choose(page, number, start):
    """Pick the first option that begins so, in one of the lists that drop down."""
    picker = page.locator(".towerlift select:not([size])").nth(number)
    labels = picker.locator("option").all_text_contents()
    plain = [label.replace("\u00a0", " ") for label in labels]
    index = next(n for n, label in enumerate(plain) if label.startswith(start))
    picker.select_option(index=index)


def test_every_cell_ran_and_the_claim_held(opened):
    assert cell_errors(opened) == []
    assert cells_not_run(opened) == []


def test_the_page_says_what_it_must(opened):
    said = words(opened)
    assert "does not replace a licensed engineer and a competent rigger" in said
    assert "Limit by:" in said
    for number in ("fullest rope", "hardest capstan", "nearest", "corners, mm"):
        assert number in said
    assert "certificate Q-0" in said


def test_it_fits_a_small_laptop(opened):
    box = opened.locator(".towerlift").first.bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= LAPTOP[0]
    assert box["height"] <= 645  # what JupyterLab leaves of 768


def test_a_lost_rope_topples_the_spire_in_l1(opened):
    after(opened, lambda: choose(opened, 0, "L1: spire 0.05"))
    said = after(opened, lambda: choose(opened, 2, "T4"))
    assert "NO REST" in said
    opened.screenshot(path=OUTPUT / "rigger-toppled.png")
    said = after(opened, lambda: choose(opened, 2, "none"))
    assert "NO REST" not in said


def test_the_wind_slider_moves_the_section(opened):
    after(opened, lambda: choose(opened, 0, "L2: belfry 13.95"))
    handle = opened.locator(".towerlift .noUi-handle").nth(3)
    handle.focus()
    said = after(opened, lambda: opened.keyboard.press("End"))
    assert re.search(r"STRIKES|mrad", said)
    opened.screenshot(path=OUTPUT / "rigger-blown.png")
