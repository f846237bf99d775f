"""Pictures for where a browser cannot draw, and for notebooks that no kernel runs."""

import base64
from collections.abc import Iterator, Sequence
from functools import lru_cache
from html import escape
from io import BytesIO

from PIL import Image

from towerlift.motion.passages import Passage
from towerlift.motion.travel import describe, locate
from towerlift.scene import Scene, as_png, build_scene, picture
from towerlift.scrub.words import CAUTION, summary
from towerlift.workflow import Outcome

LEAST, MOST = 64, 2000  # sides of a picture [px]
STILL_SIZE = (480, 560)
MOST_STILLS = 12  # in a page that must do without a kernel


@lru_cache(maxsize=4)
def _scene(key: int, outcome: "_Held") -> Scene:
    return build_scene(outcome.outcome)


class _Held:
    """An outcome as a key: the same only as itself."""

    def __init__(self, outcome: Outcome) -> None:
        self.outcome = outcome

    def __hash__(self) -> int:
        return id(self.outcome)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Held) and other.outcome is self.outcome


def still_html(outcome: Outcome, position: float, key: str) -> str:
    """A picture with what it shows in words, to stand where the live view is not.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    position : float
        Number of passages done, the last one in part.
    key : str
        Of the view, which hides the picture while it lives.

    Returns
    -------
    html : str
        A figure that needs nothing else.
    """
    moment = locate(outcome.raise_, position)
    told = describe(moment.passage)
    moving = moment.passage.moving
    here = f"; here at {moment.passage.heel(moving[0], moment.share):.2f} m" if moving else ""
    verdict = f"{told}{here}. When this was reckoned: {summary(outcome.findings)}."
    words = f"{outcome.plan.name}: {verdict} Run the cell for the live view. {CAUTION}"
    png = base64.b64encode(_small(still_png(outcome, position, STILL_SIZE))).decode()
    return (
        f'<figure class="towerlift-still towerlift-{key}" style="margin:0">'
        f'<img alt="{escape(words)}" src="data:image/png;base64,{png}">'
        f"<figcaption>{escape(words)}</figcaption></figure>"
    )


def stage_stills(outcome: Outcome) -> list[dict[str, object]]:
    """Pictures of the stages, for a page that can neither draw in 3D nor ask a kernel.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.

    Returns
    -------
    stills : list of dict
        ``position``, ``words`` for what is shown, and ``png`` in base 64: each stage in the
        middle of its longest haul, or at its end if nothing is hauled, and the end of the
        raise; of so many stages that all pictures together stay small.
    """
    positions = list(_still_positions(outcome.raise_.passages))
    if len(positions) > MOST_STILLS:
        step = (len(positions) - 1) / (MOST_STILLS - 1)
        positions = [positions[round(k * step)] for k in range(MOST_STILLS)]
    return [
        {
            "position": position,
            "words": _shown_in(outcome, position),
            "png": base64.b64encode(_small(still_png(outcome, position, STILL_SIZE))).decode(),
        }
        for position in positions
    ]


def _still_positions(passages: Sequence[Passage]) -> Iterator[float]:
    for stage in dict.fromkeys(passage.stage for passage in passages):
        own = [passage for passage in passages if passage.stage == stage]
        longest = max(own, key=lambda passage: abs(passage.travel))
        yield longest.index + 0.5 if longest.moving else own[-1].index + 1.0 - 1e-6
    yield float(len(passages))


def _shown_in(outcome: Outcome, position: float) -> str:
    moment = locate(outcome.raise_, position)
    passage, share = moment.passage, moment.share
    heels = ", ".join(
        f"heel of the {name} at {passage.heel(name, share):.2f} m" for name in passage.standing
    )
    return f"stage {passage.stage}, {heels or 'nothing built yet'}"


def _small(png: bytes) -> bytes:
    """The same picture in few colours, which its flat faces bear."""
    file = BytesIO()
    few = Image.open(BytesIO(png)).convert("RGB").quantize(128)
    few.save(file, "PNG", optimize=True)
    return file.getvalue()


def still_png(outcome: Outcome, position: float, size: tuple[int, ...]) -> bytes:
    """Picture of the whole tower at one place of the raise.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    position : float
        Number of passages done, the last one in part.
    size : tuple of int
        Width and height, held within 64 and 2000 pixels. [px]

    Returns
    -------
    png : bytes
        With height scale, north mark and the least gap.
    """
    width, height = (min(max(int(side), LEAST), MOST) for side in size)
    moment = locate(outcome.raise_, position)
    scene = _scene(id(outcome), _Held(outcome))
    return as_png(picture(scene, moment.passage, moment.share, size=(width, height)))
