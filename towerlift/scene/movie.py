"""The raise as a film, in MP4 or GIF."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import imageio.v2 as imageio
import numpy as np
from PIL import Image, ImageDraw

from towerlift.motion.travel import Moment, describe
from towerlift.plan.model import Plan
from towerlift.scene.bodies import Scene
from towerlift.scene.colours import FAINT, INK, MARK, PAPER
from towerlift.scene.lettering import (
    CAUTION,
    LINE,
    MARGIN,
    SMALL,
    TEXT,
    font,
    paper,
    wrapped,
)
from towerlift.scene.marks import Picture
from towerlift.scene.nearest import Nearest, nearest_gap
from towerlift.scene.painter import LARGEST
from towerlift.scene.pictures import Shot, shoot
from towerlift.scene.reel import Reel, reel_of
from towerlift.scene.standpoints import Standpoint, on_section

BLOCK = 16  # pixels: films are packed in squares of this side
LEAST_TALL = 160
GIF_COLOURS = 64
NEARER = 0.4  # share of the width for what moves, from nearer by


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """How a film is made.

    Attributes
    ----------
    length : float
        [s]
    rate : float
        Pictures a second.
    size : tuple of int
        Width and height, whole multiples of 16. [pixels]
    standpoint : Standpoint or None
        None shows the whole site.
    site : bool
        Whether capstans, people and the ground round about are drawn.
    """

    length: float = 40.0
    rate: float = 12.0
    size: tuple[int, int] = (960, 544)
    standpoint: Standpoint | None = None
    site: bool = True

    def __post_init__(self) -> None:
        if not (self.length > 0 and self.rate > 0):
            raise ValueError(
                f"length and rate must be positive, got {self.length} s, {self.rate} a second"
            )
        if any(side % BLOCK or side > LARGEST for side in self.size) or (
            self.size[1] < LEAST_TALL or self.size[0] < LEAST_TALL
        ):
            raise ValueError(
                f"sides must be multiples of {BLOCK} pixels, {LEAST_TALL} at least and "
                f"{LARGEST} at most, got {self.size}"
            )


_FILM = Film()


def write_movie(
    scene: Scene,
    plan: Plan,
    path: Path,
    *,
    film: Film = _FILM,
    tell: Callable[[int, int], None] | None = None,
) -> Path:
    """Film the raise.

    Parameters
    ----------
    scene : Scene
        What is drawn.
    plan : Plan
        Gives its name.
    path : Path
        Where to; its ending, ".mp4" or ".gif", says which.
    film : Film
        How.
    tell : callable or None
        Takes the number of pictures done and of all, after each one.

    Returns
    -------
    path : Path
        As given.

    Raises
    ------
    ValueError
        If the ending is another.
    """
    if path.suffix not in (".mp4", ".gif"):
        raise ValueError(f'the file must end in ".mp4" or ".gif", got "{path.name}"')
    pictures = raise_frames(scene, plan, film)
    write = _as_mp4 if path.suffix == ".mp4" else _as_gif
    write(_told(pictures, film, reel_of(scene.raise_, film.length), tell), path, film)
    return path


def raise_frames(scene: Scene, plan: Plan, film: Film) -> Iterator[Picture]:
    """The pictures of a film, one after another.

    Parameters
    ----------
    scene : Scene
        What is drawn.
    plan : Plan
        Gives its name.
    film : Film
        How.

    Yields
    ------
    picture : (h, w, 3) uint8
        The site, what moves from nearer by, the moment in words and the way done.
    """
    reel = reel_of(scene.raise_, film.length)
    moments = reel.frames(film.rate)
    tall = film.size[1] - _band_height(plan, film.size[0])
    near = round(film.size[0] * NEARER)
    for n, moment in enumerate(moments):
        passage, share = moment.passage, moment.share
        wide = Shot(
            passage=passage,
            share=share,
            standpoint=film.standpoint,
            size=(film.size[0] - near, tall),
            site=film.site,
            gap=False,
        )
        view = on_section(scene, passage, share)
        close = Shot(passage=passage, share=share, standpoint=view, size=(near, tall))
        panes = np.hstack([shoot(scene, wide), shoot(scene, close)])
        panes[:, film.size[0] - near] = FAINT
        done = n / (len(moments) - 1)
        band = _band(scene, plan, moment, film.size[0])
        _way(band, reel, done)
        yield np.vstack([panes, np.asarray(band)])


def _told(
    pictures: Iterator[Picture],
    film: Film,
    reel: Reel,
    tell: Callable[[int, int], None] | None,
) -> Iterator[Picture]:
    n = len(reel.frames(film.rate))
    for k, picture in enumerate(pictures):
        yield picture
        if tell is not None:
            tell(k + 1, n)


def _cautioned(plan: Plan, width: int) -> list[str]:
    """The plan's name and the caution, in as many lines as they take."""
    return wrapped(f"{plan.name}. {CAUTION}", SMALL, width - 2 * MARGIN, 4)


def _band_height(plan: Plan, width: int) -> int:
    n = 1 + len(_cautioned(plan, width))
    return round(LINE * (TEXT + n * SMALL)) + 3 * MARGIN


def _band(scene: Scene, plan: Plan, moment: Moment, width: int) -> Image.Image:
    image = Image.fromarray(paper(width, _band_height(plan, width)))
    pen, passage, room = ImageDraw.Draw(image), moment.passage, width - 2 * MARGIN
    words = describe(passage)
    if passage.begins is not None:
        words = f"{passage.begins:%d %B %H:%M}   {words}"
    pen.text((MARGIN, MARGIN), wrapped(words, TEXT, room, 1)[0], font=font(TEXT), fill=INK)
    near, y = nearest_gap(scene.gaps, passage, moment.share), MARGIN + LINE * TEXT
    if near is not None:
        line = wrapped(_gap(near), SMALL, room, 1)[0]
        pen.text((MARGIN, y), line, font=font(SMALL), fill=MARK if near.gap < 0 else INK)
    for line in _cautioned(plan, width):
        y += LINE * SMALL
        pen.text((MARGIN, y), line, font=font(SMALL), fill=FAINT)
    return image


def _gap(near: Nearest) -> str:
    kind = "least gap" if near.gap >= 0 else "overlap"
    said = f"{kind} {1e3 * abs(near.gap):.0f} mm"
    if not near.certified:
        said += ", not certified"
    return f"{said}: {near.moving} {near.mark}, {near.against} {near.opposite_mark}"


def _way(band: Image.Image, reel: Reel, done: float) -> None:
    """How much of the film is done, with the stages marked off."""
    pen, (width, tall) = ImageDraw.Draw(band), band.size
    left, right, y = MARGIN, width - MARGIN, tall - MARGIN
    pen.line([(left, y), (right, y)], fill=FAINT, width=2)
    stage = ""
    for passage, begins in zip(reel.passages, reel.cuts, strict=False):
        if passage.stage != stage:
            stage, x = passage.stage, left + (right - left) * begins / reel.length
            pen.line([(x, y - 3), (x, y + 3)], fill=FAINT)
    x = left + (right - left) * done
    pen.line([(left, y), (x, y)], fill=INK, width=4)
    pen.ellipse([x - 4, y - 4, x + 4, y + 4], fill=MARK, outline=PAPER)


def _as_mp4(pictures: Iterator[Picture], path: Path, film: Film) -> None:
    # Typed as less than it is.
    writer: Any = imageio.get_writer(
        path, format="FFMPEG", fps=film.rate, codec="libx264", quality=7, macro_block_size=BLOCK
    )
    with writer:
        for picture in pictures:
            writer.append_data(picture)


def _as_gif(pictures: Iterator[Picture], path: Path, film: Film) -> None:
    # One palette for all, from the first picture and the last: quiet colours are few.
    frames = [Image.fromarray(picture) for picture in pictures]
    both = Image.fromarray(np.vstack([np.asarray(frames[0]), np.asarray(frames[-1])]))
    palette = both.quantize(GIF_COLOURS)
    packed = [each.quantize(palette=palette, dither=Image.Dither.NONE) for each in frames]
    packed[0].save(
        path,
        save_all=True,
        append_images=packed[1:],
        duration=round(1000 / film.rate),
        loop=0,
        optimize=False,
    )
