"""The view in a chromium with software WebGL, seen through its screen and its own numbers."""

import io
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import Any

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Page, sync_playwright

from tests.browser.lab import ARGUMENTS, CHROMIUM

SOFTWARE = ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
VIEWS = "globalThis[Symbol.for('towerlift.views')]"
READY = f"() => {VIEWS}?.length && {VIEWS}.every((view) => view.stats.frames > 0)"
LAPTOP = (1366, 768)


@contextmanager
def offline_page(
    *extra: str, size: tuple[int, int] = LAPTOP, beside: Page | None = None
) -> Iterator[Page]:
    """A page that reaches nothing: every request but for the file itself is refused and kept.

    What was refused is in the page's ``refused``. `beside` is a page that is open
    already: only one playwright runs at a time.
    """
    if not CHROMIUM.exists():
        pytest.fail(
            f"{CHROMIUM} is missing, so the view was not tried in a browser. "
            "As root: apt-get update && apt-get install chromium"
        )
    with ExitStack() as stack:
        if beside is None:
            kind = stack.enter_context(sync_playwright()).chromium
        else:
            assert beside.context.browser is not None
            kind = beside.context.browser.browser_type
        browser = kind.launch(
            executable_path=str(CHROMIUM), args=[*ARGUMENTS, *SOFTWARE, *extra]
        )
        stack.callback(browser.close)
        page = browser.new_page(viewport={"width": size[0], "height": size[1]})
        refused: list[str] = []
        errors: list[str] = []

        def pass_on(route: Any) -> None:
            url = route.request.url
            if url.startswith(("file:", "blob:", "data:")):
                route.continue_()
            else:
                refused.append(url)
                route.abort()

        page.route("**/*", pass_on)
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on(
            "console", lambda line: errors.append(line.text) if line.type == "error" else None
        )
        looked: Any = page
        looked.refused, looked.errors = refused, errors
        yield page


def tell(page: Page, code: str, number: int = 0) -> Any:
    """Have a view do or say something: `code` is the body of a function of ``view``."""
    return page.evaluate(f"async () => {{ const view = {VIEWS}[{number}]; {code} }}")


def settled(page: Page, number: int = 0) -> None:
    """Wait until the view has drawn all that was asked for, finer lines too."""
    tell(
        page,
        """for (let n = 0; n < 600; n++) {
            await new Promise((go) => setTimeout(go, 25));
            const finer = view.settled || !view.picture || !view.picture.software;
            if (!view.pending && finer) return;
        }
        throw new Error("the view does not come to rest");""",
        number,
    )


def screen(page: Page) -> np.ndarray[Any, Any]:
    """What is on the screen where the tower is drawn, (h, w, 3); words over it hidden."""
    page.add_style_tag(
        content=".tlv-over, .tlv-lens, .tlv-hover { visibility: hidden !important }"
    )
    shot = page.locator(".tlv-sight").first.screenshot(animations="disabled")
    page.add_style_tag(
        content=".tlv-over, .tlv-lens, .tlv-hover { visibility: visible !important }"
    )
    return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB"))


def looks_like(pixel: Any, colour: Any) -> bool:
    """Whether a lit pixel has the hue of a colour: its channels in the same proportion."""
    pixel, colour = np.asarray(pixel, float), np.asarray(colour, float)
    unit = pixel / np.linalg.norm(pixel) - colour / np.linalg.norm(colour)
    return bool(np.linalg.norm(unit) < 0.03 and pixel.max() > 0.3 * colour.max())
