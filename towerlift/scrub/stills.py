"""Pictures for where a browser cannot draw, and for notebooks that no kernel runs."""

from functools import lru_cache

from towerlift.motion.travel import locate
from towerlift.scene import Scene, as_png, build_scene, picture
from towerlift.workflow import Outcome

LEAST, MOST = 64, 2000  # sides of a picture [px]


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
