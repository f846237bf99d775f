"""Pictures, films and files of a raise, each made by its name."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from towerlift.motion.travel import Moment
from towerlift.scene import (
    Film,
    Scene,
    Shot,
    as_png,
    exploded_nest,
    on_section,
    shoot,
    stage_strip,
    write_gltf,
    write_movie,
)
from towerlift.scrub import standalone_html
from towerlift.workflow import Outcome

Tell = Callable[[int, int], None]
LARGE = (1200, 1500)


@dataclass(frozen=True, slots=True, kw_only=True)
class Taking:
    """What is to be made, and of what.

    Attributes
    ----------
    outcome : Outcome
        Of a checked plan.
    scene : Scene
        Of it.
    moment : Moment
        Where the raise is.
    folder : Path
        Where files go; made where it is not there.
    tell : callable
        Takes the number of pictures done and of all.
    """

    outcome: Outcome
    scene: Scene
    moment: Moment
    folder: Path
    tell: Tell


def _this_moment(taking: Taking, path: Path) -> None:
    shot = Shot(passage=taking.moment.passage, share=taking.moment.share, size=LARGE)
    path.write_bytes(as_png(shoot(taking.scene, shot)))


def _site(taking: Taking, path: Path) -> None:
    passage, share = taking.moment.passage, taking.moment.share
    shot = Shot(passage=passage, share=share, size=(1600, 1000), site=True)
    path.write_bytes(as_png(shoot(taking.scene, shot)))


def _what_moves(taking: Taking, path: Path) -> None:
    passage, share = taking.moment.passage, taking.moment.share
    view = on_section(taking.scene, passage, share)
    shot = Shot(passage=passage, share=share, standpoint=view, size=LARGE)
    path.write_bytes(as_png(shoot(taking.scene, shot)))


def _stages(taking: Taking, path: Path) -> None:
    path.write_bytes(as_png(stage_strip(taking.scene, taking.outcome.plan)))


def _nest(taking: Taking, path: Path) -> None:
    path.write_bytes(as_png(exploded_nest(taking.scene, taking.outcome.plan)))


def _film(taking: Taking, path: Path) -> None:
    write_movie(taking.scene, taking.outcome.plan, path, tell=taking.tell)


def _small_film(taking: Taking, path: Path) -> None:
    film = Film(length=30.0, rate=6.0, size=(640, 400))
    write_movie(taking.scene, taking.outcome.plan, path, film=film, tell=taking.tell)


def _model(taking: Taking, path: Path) -> None:
    write_gltf(taking.scene, path)


def _page(taking: Taking, path: Path) -> None:
    path.write_text(
        standalone_html(taking.outcome, position=taking.moment.position), encoding="utf-8"
    )


KINDS: dict[str, tuple[str, Callable[[Taking, Path], None]]] = {
    "this moment, the tower": ("tower at {at}.png", _this_moment),
    "this moment, the site": ("site at {at}.png", _site),
    "this moment, what moves": ("section at {at}.png", _what_moves),
    "every stage, side by side": ("stages.png", _stages),
    "the nest, taken apart": ("nest.png", _nest),
    "film of the raise (MP4)": ("raise.mp4", _film),
    "small film (GIF)": ("raise.gif", _small_film),
    "moving model (GLB)": ("raise.glb", _model),
    "this view as one page (HTML)": ("raise.html", _page),
}


def take(kind: str, taking: Taking) -> Path:
    """Make one of them.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    taking : Taking
        What of, and where to.

    Returns
    -------
    path : Path
        The file; one of that name is written over.

    Raises
    ------
    ValueError
        If there is no such kind.
    """
    if kind not in KINDS:
        raise ValueError(f'nothing is called "{kind}"; there are {", ".join(KINDS)}')
    name, make = KINDS[kind]
    passage = taking.moment.passage
    at = f"{passage.stage} step {passage.index + 1}"
    if passage.moving:
        at += f" heel {passage.heel(passage.moving[0], taking.moment.share):.2f} m"
    path = taking.folder / re.sub(r"[^\w. -]", "_", name.format(at=at))
    taking.folder.mkdir(parents=True, exist_ok=True)
    make(taking, path)
    return path
