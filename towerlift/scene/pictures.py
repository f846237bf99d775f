"""A picture of any state of the raise, from anywhere."""

from collections.abc import Mapping
from dataclasses import dataclass

from towerlift.motion.passages import Floats, Passage
from towerlift.scene.bodies import Scene
from towerlift.scene.marks import Picture, Said, draw_marks
from towerlift.scene.nearest import Nearest, nearest_gap
from towerlift.scene.painter import LARGEST, Posed, painter_of
from towerlift.scene.standpoints import Standpoint, whole_site, whole_tower
from towerlift.scene.studio import STUDIO

LEAST_SIDE = 16  # [pixels]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One picture: what is shown, from where, how large.

    Attributes
    ----------
    passage : Passage
        Where the raise is.
    share : float
        Share of its travel that is done, 0 to 1.
    standpoint : Standpoint or None
        None shows the whole tower, or the whole site where `site` is True.
    size : tuple of int
        Width and height. [pixels]
    moved : mapping of str to (4, 4) float
        ``shaft_from_section`` of sections that stand elsewhere, such as in a what-if.
    nearest : Nearest or None
        Gap to be marked where something stands elsewhere; else the raise's own is.
    site : bool
        Whether capstans, people and the ground round about are drawn.
    gap : bool
        Whether the least gap is marked.
    """

    passage: Passage
    share: float
    standpoint: Standpoint | None = None
    size: tuple[int, int] = (300, 460)
    moved: Mapping[str, Floats] | None = None
    nearest: Nearest | None = None
    site: bool = False
    gap: bool = True

    def __post_init__(self) -> None:
        if not 0 <= self.share <= 1:
            raise ValueError(f"share must be within 0 and 1, got {self.share}")
        if not all(LEAST_SIDE <= side <= LARGEST for side in self.size):
            raise ValueError(
                f"size must be within {LEAST_SIDE} and {LARGEST} pixels, got {self.size}"
            )


def shoot(scene: Scene, shot: Shot) -> Picture:
    """Take a picture, with height scale, north mark and the least gap.

    Parameters
    ----------
    scene : Scene
        What is drawn.
    shot : Shot
        Which picture.

    Returns
    -------
    picture : (h, w, 3) uint8
        Red, green, blue, upper row first.
    """
    view = shot.standpoint
    if view is None:
        view = (whole_site if shot.site else whole_tower)(scene, shot.size)
    posed = Posed(
        passage=shot.passage, share=shot.share, moved=shot.moved or {}, site=shot.site
    )
    bare = STUDIO.do(lambda: painter_of(scene).paint_posed(posed, view, shot.size))
    near = shot.nearest
    if shot.moved is None and near is None:
        near = nearest_gap(scene.gaps, shot.passage, shot.share)
    return draw_marks(bare, view, Said(nearest=near if shot.gap else None))
