"""Benchmarks of the browser view, in a chromium without a graphics processor.

The example, its triangles cut up until there are about 400,000, in a picture of 800 by
600. A frame's time runs from the slider's event to the moment at which a changed picture
was put on the screen, as the browser's own recording of its screen has it; that it has
changed, and where, is read from that recording.
"""

import base64
import gzip
import io
import pickle
import statistics
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import nbformat
import numpy as np
from PIL import Image
from playwright.sync_api import Page

from tests.benchmarks.rows import AT_MOST, Row
from tests.browser.lab import laptop_page, run_all_cells, running_lab
from tests.browser.looking import READY, VIEWS, offline_page, settled, tell
from towerlift import check_plan
from towerlift.plan import read_plan
from towerlift.scrub import standalone_html
from towerlift.scrub.view import bundle
from towerlift.shapes.solids import Solid
from towerlift.workflow import Outcome

EXAMPLE = Path(__file__).resolve().parents[2] / "meshes" / "tidewatch" / "plan-corrected.toml"
SIZE = (800, 600)
STEPS = 40
SCRUBS, ROUNDS = 1000, 20
CHANGED = 12  # difference of a pixel that is seen, of 255
ENOUGH = 300  # so many pixels changed are motion, not the writing of a number
# The picture at its size whatever the page's layout; no finer second drawing.
FIXED = f".tlv-main {{ grid-template-columns: {SIZE[0] + 2}px 1fr !important }}"
CELLS = (
    "import pickle\nfrom towerlift.scrub import ScrubView\n"
    "with open('outcome.pickle', 'rb') as file:\n    outcome = pickle.load(file)",
    "view = ScrubView(outcome, height=620)\nview",
)


def cut_up(solid: Solid, times: int) -> Solid:
    """The same surface with every triangle cut in four, so many times."""
    vertices, faces, members = solid.vertices, solid.faces, solid.members
    for _ in range(times):
        ends = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
        once, which = np.unique(ends, axis=0, return_inverse=True)
        halves = len(vertices) + which.reshape(-1, 3)
        middles = (vertices[once[:, 0]] + vertices[once[:, 1]]) / 2
        vertices = np.concatenate([vertices, middles])
        (a, b, c), (ab, bc, ca) = faces.T, halves.T
        parts = ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))
        faces = np.concatenate([np.column_stack(part) for part in parts])
        members = np.tile(members, 4)
    return replace(solid, vertices=vertices, faces=faces, members=members)


def dense(outcome: Outcome) -> tuple[Outcome, int]:
    """The outcome drawn with about 400,000 triangles, and how many there are."""
    shapes = outcome.shapes
    sections = {
        name: replace(piece, solid=None if piece.solid is None else cut_up(piece.solid, 3))
        for name, piece in shapes.sections.items()
    }
    finer = replace(
        shapes,
        shaft=cut_up(shapes.shaft, 5),
        sections=sections,
        fixtures={name: cut_up(solid, 2) for name, solid in shapes.fixtures.items()},
    )
    solids = [finer.shaft, *finer.fixtures.values()]
    solids += [piece.solid for piece in sections.values() if piece.solid is not None]
    return replace(outcome, shapes=finer), sum(len(solid.faces) for solid in solids)


def rows() -> Iterator[Row]:
    """Every row of the view."""
    packed = len(gzip.compress(bundle(), 9)) / 1e3
    yield Row(name="scrub.bundle", value=packed, unit="kB", goal=200, bound=AT_MOST)
    outcome = check_plan(read_plan(EXAMPLE), EXAMPLE.parent)
    html = len(standalone_html(outcome).encode()) / 1e6
    yield Row(name="scrub.html", value=html, unit="MB", goal=8, bound=AT_MOST)
    finer, n_triangles = dense(outcome)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "view.html"
        file.write_text(standalone_html(finer), encoding="utf-8")
        with offline_page(size=(1500, 660)) as page:
            page.goto(file.as_uri())
            page.wait_for_function(READY)
            page.add_style_tag(content=FIXED)
            tell(page, "view.resize(); view.lookFrom('whole tower');")
            settled(page)
            yield from frame_rows(page, n_triangles)
            yield from heap_row(page)
        yield from notebook_rows(Path(folder), finer)


# --------------------------------------------------------------------- frames


def frame_rows(page: Page, n_triangles: int) -> Iterator[Row]:
    """Time to a changed picture, and against a redraw of what has not changed."""
    against = f"{n_triangles} triangles"
    times = [1e3 * each for each in seen_after(page)]
    median, late = statistics.median(times), float(np.quantile(times, 0.95))
    yield Row(
        name="scrub.frame.median", value=median, unit="ms", against=against,
        goal=110, bound=AT_MOST,
    )  # fmt: skip
    yield Row(
        name="scrub.frame.p95", value=late, unit="ms", against=against,
        goal=160, bound=AT_MOST,
    )  # fmt: skip
    slid, redrawn, anew = drawn_in(page)
    yield Row(
        name="scrub.frame.floor", value=slid / redrawn, unit="x",
        against=f"redraw of the same, {redrawn:.0f} ms", goal=1.3, bound=AT_MOST,
    )  # fmt: skip
    yield Row(
        name="scrub.frame.anew", value=anew, unit="ms",
        against="nothing kept, as while the view turns", bound=AT_MOST,
    )  # fmt: skip


def seen_after(page: Page) -> list[float]:
    """Times from the slider's event until the screen showed another picture. [s]"""
    recording = Recording(page)
    box = page.locator(".tlv-sight").bounding_box()
    assert box is not None
    recording.crop = (
        int(box["x"]) + 50, int(box["y"]) + 20,
        int(box["x"] + 0.62 * box["width"]), int(box["y"] + box["height"]) - 20,
    )  # fmt: skip
    times = []
    for k in range(STEPS):
        settled(page)
        recording.rest()
        began = page.evaluate(
            "along => { const slider = document.querySelector('.tlv-way input');"
            "slider.value = String(along);"
            "const at = (performance.timeOrigin + performance.now()) / 1000;"
            "slider.dispatchEvent(new Event('input')); return at; }",
            68.0 + 0.4 * k,  # the base rises
        )
        times.append(recording.changed_after(began) - began)
    recording.stop()
    return times


class Recording:
    """The browser's own recording of its screen."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.crop = (0, 0, 1, 1)
        self.frames: list[tuple[float, Any]] = []
        self.before: Any = None
        self.client = page.context.new_cdp_session(page)
        self.client.on("Page.screencastFrame", self._heard)
        self.client.send("Page.startScreencast", {"format": "jpeg", "quality": 90})

    def _heard(self, event: Any) -> None:
        self.client.send("Page.screencastFrameAck", {"sessionId": event["sessionId"]})
        self.frames.append((event["metadata"]["timestamp"], event["data"]))

    def _picture(self, data: str) -> Any:
        image = Image.open(io.BytesIO(base64.b64decode(data))).convert("RGB")
        return np.asarray(image.crop(self.crop), dtype=int)

    def rest(self) -> None:
        """Wait until nothing comes any more; the last frame is what is compared with."""
        n = -1
        while n != len(self.frames) or (self.before is None and not self.frames):
            n = len(self.frames)
            self.page.wait_for_timeout(150)
        if self.frames:
            self.before = self._picture(self.frames[-1][1])
        self.frames.clear()

    def changed_after(self, began: float) -> float:
        """When the first frame with motion in it was on the screen. [s]"""
        looked, end = 0, time.monotonic() + 20
        while time.monotonic() < end:
            for stamp, data in self.frames[looked:]:
                looked += 1
                apart = np.abs(self._picture(data) - self.before).max(axis=2) > CHANGED
                if stamp > began and apart.sum() > ENOUGH:
                    return stamp
            self.page.wait_for_timeout(10)
        raise RuntimeError("the picture did not change within 20 s")

    def stop(self) -> None:
        """End the recording."""
        self.client.send("Page.stopScreencast")


def drawn_in(page: Page) -> list[float]:
    """Median time until it is drawn. [ms]

    Of a scrub; of a redraw with nothing new, which may use what is kept of what stands
    still as a scrub may; and of a redraw in which nothing is kept.
    """
    times = tell(
        page,
        """const gl = view.picture.renderer.getContext(), texel = new Uint8Array(4);
        const times = [[], [], []];
        for (let k = 0; k < 50; k++) {
            const anew = () => { view.picture.sight = ""; view.invalidate(); };
            const acts = [() => view.slide(68 + 0.3 * k), () => view.invalidate(), anew];
            for (const [which, act] of acts.entries()) {
                const [frames, began] = [view.stats.frames, performance.now()];
                act();
                while (view.stats.frames === frames) await new Promise(requestAnimationFrame);
                clearTimeout(view.settling);
                gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, texel);
                if (k > 4) times[which].push(performance.now() - began);
            }
        }
        return times;""",
    )
    return [statistics.median(each) for each in times]


# --------------------------------------------------------------------- memory


def heap_row(page: Page) -> Iterator[Row]:
    """Growth of the heap by a thousand scrubs and twenty views opened and closed."""
    client = page.context.new_cdp_session(page)

    def heap() -> float:
        client.send("HeapProfiler.collectGarbage")
        used: float = client.send("Runtime.getHeapUsage")["usedSize"]
        return used

    # What is made once, of code and of caches, is not growth: of the second instance of the
    # code too, which opening another view brings, and which runs as long before it is quick.
    for _ in range(2):
        scrub(page, 200)
        open_and_close(page, 5)
    before = heap()
    scrub(page, SCRUBS)
    open_and_close(page, ROUNDS)
    growth = 100 * (heap() / before - 1)
    yield Row(
        name="scrub.heap", value=growth, unit="%",
        against=f"{before / 1e6:.0f} MB before", goal=5, bound=AT_MOST,
    )  # fmt: skip


def scrub(page: Page, times: int) -> None:
    """Slide through the whole raise in so many steps."""
    tell(
        page,
        f"""for (let k = 0; k < {times}; k++) {{
            const frames = view.stats.frames;
            view.slide(view.story.length * ((k * 0.618) % 1));
            while (view.stats.frames === frames) await new Promise(requestAnimationFrame);
        }}""",
    )


def open_and_close(page: Page, times: int) -> None:
    """Open another view of the same raise, wait for its picture, and take it away."""
    tell(
        page,
        f"""const bytes = (id) => Uint8Array.from(atob(document.getElementById(id).textContent),
            (letter) => letter.charCodeAt(0));
        const plain = new Blob([bytes("bundle")]).stream()
            .pipeThrough(new DecompressionStream("gzip"));
        globalThis.bundleUrl ??= URL.createObjectURL(new Blob(
            [await new Response(plain).arrayBuffer()], {{ type: "text/javascript" }}));
        const code = await import(globalThis.bundleUrl);
        for (let k = 0; k < {times}; k++) {{
            const place = document.createElement("div");
            document.body.append(place);
            const other = await code.mountPage(place, bytes("parcel"),
                {{ position: 100, unit: "m" }});
            while (other.stats.frames < 2) await new Promise(requestAnimationFrame);
            code.ended(other);
            place.remove();
        }}""",
    )


# --------------------------------------------------------------------- in a notebook


def notebook_rows(folder: Path, outcome: Outcome) -> Iterator[Row]:
    """First picture after the cell runs, and messages that a scrub needs."""
    with (folder / "outcome.pickle").open("wb") as file:
        pickle.dump(outcome, file)
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in CELLS])
    book.metadata["kernelspec"] = {
        "name": "python3", "display_name": "Python 3", "language": "python",
    }  # fmt: skip
    nbformat.write(book, folder / "raise.ipynb")
    with running_lab(folder) as base, laptop_page() as page:
        sent: list[object] = []
        page.on("websocket", lambda ws: ws.on("framesent", lambda f: sent.append(f)))  # noqa: PLW0108
        run_all_cells(page, f"{base}/lab/tree/raise.ipynb")
        page.wait_for_function(READY, timeout=300_000)
        settled(page)
        page.wait_for_timeout(3000)  # the picture that stays in the notebook is drawn
        yield first_picture(page)
        settled(page)
        page.wait_for_timeout(3000)
        n = len(sent)
        tell(
            page,
            """const slider = view.layout.slider;
            for (let k = 0; k < 50; k++) {
                slider.value = String(0.02 * k * view.story.length);
                slider.dispatchEvent(new Event("input"));
                await new Promise(requestAnimationFrame);
            }""",
        )
        settled(page)
        page.wait_for_timeout(1000)
        yield Row(
            name="scrub.messages", value=len(sent) - n, unit="count", goal=0, bound=AT_MOST
        )


def first_picture(page: Page) -> Row:
    """The cell is run again, as a reader does; the page has not seen this raise before."""
    page.locator(".jp-CodeCell .jp-Editor").nth(1).click()
    page.evaluate(
        f"""() => {{
            const first = {VIEWS}[0];
            globalThis.seen = 0;
            const watch = () => {{
                const view = {VIEWS}.find((each) => each !== first && each.stats.frames > 0);
                if (view) {{
                    const gl = view.picture.renderer.getContext();
                    gl.finish();
                    requestAnimationFrame(() => {{ globalThis.seen = performance.now(); }});
                }} else requestAnimationFrame(watch);
            }};
            watch();
            const start = () => {{ globalThis.began = performance.now(); }};
            document.addEventListener("keydown", start, {{ capture: true, once: true }});
        }}"""
    )
    page.keyboard.press("Control+Enter")
    page.wait_for_function("() => globalThis.seen > 0", timeout=120_000)
    took = page.evaluate("() => (globalThis.seen - globalThis.began) / 1000")
    return Row(
        name="scrub.first", value=took, unit="s", against="same raise, new widget",
        goal=1.5, bound=AT_MOST,
    )  # fmt: skip
