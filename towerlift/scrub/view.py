"""The live view: a widget that sends the raise once and is then left alone by the kernel."""

import gzip
from hashlib import sha256
from math import isfinite
from pathlib import Path
from threading import Lock, Thread
from typing import Any
from uuid import uuid4

import anywidget
import traitlets
from IPython import display

from towerlift.nesting.piece_gaps import piece_gaps
from towerlift.scrub.cargo import raise_parcel
from towerlift.scrub.stills import still_html, still_png
from towerlift.scrub.words import opening_position
from towerlift.workflow import Outcome

STATIC = Path(__file__).parent / "static"
BUNDLE = STATIC / "scrub.js"
LOADER = STATIC / "loader.js"
PACKED = 1  # how hard the parcel is packed for the way to the browser: fast


def bundle() -> bytes:
    """The JavaScript of the view, as it ships."""
    return BUNDLE.read_bytes()


class ScrubView(anywidget.AnyWidget):
    """The raise in the browser, beside its gaps, loads and findings.

    What is heavy goes once, as a message that is answered when the browser asks, and
    never into the widget's state: a saved notebook stays small. Moving through the
    raise needs no kernel.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    **settings : Any
        Any of the attributes below that are said to be settings.

    Attributes
    ----------
    position : float
        Setting. Number of passages done, the last one in part. The browser follows
        it; it follows the browser only where `follow` is True.
    finding : int or None
        Setting. Number of the chosen finding in ``outcome.findings``.
    follow : bool
        Setting. Whether the browser tells its position and finding once it rests.
    unit : str
        Setting. "m" or "ft", for what is written.
    height : int
        Setting. Of the view. [px]
    what_if_sliders : list of dict
        What may be tried: dicts of ``key``, ``label``, ``unit``, ``min``, ``max``,
        ``step``; ``value`` where it does not begin at 0. Empty hides the sliders.
    what_if_request : dict
        Set by the browser: ``number`` (rising), ``position``, ``values`` by key. Only
        the newest is kept.
    what_if_answer : dict
        Set by the kernel: ``number`` of the request; ``position`` that it was about,
        without which it is taken to be about wherever the view is; ``rows`` of dicts of
        ``name``, ``value``, ``verdict``; ``poses`` by section, each ``[tilt_x, tilt_y, yaw,
        drift_x, drift_y]`` in rad and m; ``lines``, dicts of ``at`` [m] and ``tension``
        [N]; ``arrows``, dicts of ``at`` [m], ``force`` (3 numbers) [N] and ``name``;
        ``gap`` or None, a dict of ``least`` [m],
        ``where`` and ``opposite`` [m], ``moving``, ``against``, ``mark`` and
        ``opposite_mark``. Every key but ``number`` may be left out.
    """

    _esm = LOADER
    key = traitlets.Unicode().tag(sync=True)
    bundle_mark = traitlets.Unicode().tag(sync=True)
    position = traitlets.Float(0.0).tag(sync=True)
    finding = traitlets.Int(None, allow_none=True).tag(sync=True)
    follow = traitlets.Bool(False).tag(sync=True)
    unit = traitlets.Enum(["m", "ft"], "m").tag(sync=True)
    height = traitlets.Int(620).tag(sync=True)
    what_if_sliders: Any = traitlets.List().tag(sync=True)
    what_if_request = traitlets.Dict().tag(sync=True)
    what_if_answer = traitlets.Dict().tag(sync=True)

    def __init__(self, outcome: Outcome, **settings: Any) -> None:
        self.outcome = outcome
        self.messages = 0
        self._left: Any = None
        self._packing = Lock()
        self._parcel: bytes | None = None
        super().__init__(
            key=uuid4().hex, bundle_mark=sha256(bundle()).hexdigest()[:16], **settings
        )
        self.on_msg(self._heard)

    @traitlets.validate("position")
    def _within(self, proposal: dict[str, Any]) -> float:
        most = len(self.outcome.raise_.passages)
        value = float(proposal["value"])
        if not 0 <= value <= most:
            raise traitlets.TraitError(f"position must be within 0 and {most}, got {value}")
        return value

    @property
    def parcel(self) -> bytes:
        """The raise for the browser, packed, made once."""
        with self._packing:
            if self._parcel is None:
                self._parcel = gzip.compress(raise_parcel(self.outcome), PACKED, mtime=0)
            return self._parcel

    def make_ready(self) -> None:
        """Begin to pack the raise, for whoever is about to show the view."""
        Thread(target=lambda: self.parcel, daemon=True).start()

    def _ipython_display_(self, **_: object) -> None:
        """Show the view, and make room for what a notebook without it will show."""
        # Packed while the page makes ready to ask for it.
        self.make_ready()
        bundle_ = self._repr_mimebundle_()
        data = bundle_[0] if isinstance(bundle_, tuple) else bundle_
        shown: Any = display
        shown.display(data, raw=True)
        self._left = shown.display(shown.HTML(""), display_id=True)

    def _leave_still(self) -> None:
        """Put a picture under the view; the live view hides it, a saved notebook keeps it."""
        if self._left is not None:
            at = self.position or opening_position(self.outcome)
            shown: Any = display
            self._left.update(shown.HTML(still_html(self.outcome, at, self.key)))
            self._left = None

    def _heard(self, _: object, content: dict[str, Any], buffers: list[bytes]) -> None:
        self.messages += 1
        asked = content.get("ask")
        if asked == "all":
            self.send({"give": "all"}, buffers=[bundle(), self.parcel])
        elif asked == "parcel":
            self.send({"give": "parcel"}, buffers=[self.parcel])
        elif asked == "left":
            # The live picture is there: drawing another now keeps nobody waiting.
            self._leave_still()
        elif asked == "gaps":
            run = frozenset(int(passage) for passage in content["run"])
            gaps = piece_gaps(self.outcome.nesting.workshop, run)
            rows = [
                (gap.body, gap.mark, gap.least if isfinite(gap.least) else None)
                for gap in gaps
                if gap.least is not None
            ]
            self.send({"give": "gaps", "run": sorted(run), "rows": rows})
        elif asked == "still":
            png = still_png(self.outcome, float(content["position"]), tuple(content["size"]))
            self.send({"give": "still", "number": content["number"]}, buffers=[png])
