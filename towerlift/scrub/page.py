"""The view as one HTML file that opens from disk and asks nobody for anything."""

import base64
import gzip
import json
from html import escape

from towerlift.scrub.cargo import raise_parcel
from towerlift.scrub.stills import stage_stills
from towerlift.scrub.view import bundle
from towerlift.scrub.words import CAUTION, summary
from towerlift.workflow import Outcome

PACKED = 9

_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none';
 script-src 'unsafe-inline' blob:; style-src 'unsafe-inline'; img-src data: blob:">
<title>{title}</title>
<style>html, body {{margin: 0; background: #faf9f6}} noscript {{display: block; margin: 2em}}
</style>
</head>
<body>
<main id="view"></main>
<noscript>{title}: {summary}. {caution} The view needs JavaScript.</noscript>
<script id="bundle" type="text/plain">{bundle}</script>
<script id="parcel" type="text/plain">{parcel}</script>
<script id="stills" type="application/json">{stills}</script>
<script type="module">
const bytes = (id) => Uint8Array.from(atob(document.getElementById(id).textContent),
  (letter) => letter.charCodeAt(0));
const plain = async (id) => new Uint8Array(await new Response(
  new Blob([bytes(id)]).stream().pipeThrough(new DecompressionStream("gzip"))).arrayBuffer());
const url = URL.createObjectURL(new Blob([await plain("bundle")], {{type: "text/javascript"}}));
const view = await import(url);
URL.revokeObjectURL(url);
view.mountPage(document.getElementById("view"), await plain("parcel"), {settings},
  () => JSON.parse(document.getElementById("stills").textContent));
</script>
</body>
</html>
"""


def standalone_html(outcome: Outcome, *, position: float | None = None, unit: str = "m") -> str:
    """The view of a raise as one file.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    position : float or None
        Where it opens: number of passages done, the last one in part. None opens at
        the worst finding.
    unit : str
        "m" or "ft", for what is written.

    Returns
    -------
    html : str
        A page that needs no network and no other file. Where its browser cannot draw in
        3D the same slider chooses among still pictures of the stages.

    Raises
    ------
    ValueError
        If `unit` is neither, or there is no such position.
    """
    if unit not in ("m", "ft"):
        raise ValueError(f'unit must be "m" or "ft", got "{unit}"')
    most = len(outcome.raise_.passages)
    if position is not None and not 0 <= position <= most:
        raise ValueError(f"position must be within 0 and {most}, got {position}")
    return _PAGE.format(
        title=escape(outcome.plan.name),
        summary=summary(outcome.findings),
        caution=CAUTION,
        bundle=_packed(bundle()),
        parcel=_packed(raise_parcel(outcome)),
        stills=json.dumps(stage_stills(outcome)).replace("<", "\\u003c"),
        settings=json.dumps({"position": position, "unit": unit}),
    )


def _packed(plain: bytes) -> str:
    return base64.b64encode(gzip.compress(plain, PACKED, mtime=0)).decode()
