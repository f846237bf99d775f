"""One picture a stage, side by side."""

from collections.abc import Sequence

from towerlift.motion.travel import Moment, locate, stage_spans
from towerlift.plan.model import Plan
from towerlift.scene.bodies import Scene
from towerlift.scene.lettering import SMALL, captioned, in_rows, on_sheet, wrapped
from towerlift.scene.marks import Picture
from towerlift.scene.pictures import Shot, shoot

TITLE_LINES = 2


def stage_strip(
    scene: Scene,
    plan: Plan,
    *,
    stages: Sequence[str] = (),
    size: tuple[int, int] = (150, 380),
    across: int = 8,
) -> Picture:
    """One picture a stage, side by side, each as the stage leaves the tower.

    Parameters
    ----------
    scene : Scene
        What is drawn.
    plan : Plan
        Gives the stages' titles.
    stages : sequence of str
        Which, in this order; empty for all that have steps.
    size : tuple of int
        Width and height of each picture. [pixels]
    across : int
        Most pictures in a row.

    Returns
    -------
    strip : (h, w, 3) uint8
        With a caption below each picture, and the plan's name and the caution.

    Raises
    ------
    ValueError
        If a stage has no steps or is not there, or `across` is less than 1.
    """
    spans = {span.stage: span for span in stage_spans(scene.raise_)}
    chosen = list(stages) or list(spans)
    missing = [name for name in chosen if name not in spans]
    if missing:
        raise ValueError(f"no steps belong to stage {', '.join(missing)}")
    if not across >= 1:
        raise ValueError(f"across must be 1 or more, got {across}")
    titles = {stage.name: stage.title for stage in plan.stages}
    frames = []
    for name in chosen:
        moment = _end_of(scene, spans[name].last)
        shot = Shot(passage=moment.passage, share=moment.share, size=size)
        lines = wrapped(titles.get(name, ""), SMALL, size[0] - 8, TITLE_LINES)
        lines += [""] * (TITLE_LINES - len(lines)) + _heels(moment)
        n_lines = TITLE_LINES + len(scene.lengths)
        frames.append(captioned(shoot(scene, shot), name, lines, n_lines))
    return on_sheet(in_rows(frames, across), f"{plan.name}: every stage as it ends")


def _end_of(scene: Scene, last: float) -> Moment:
    """The end of the passage that ends there, not the beginning of the next."""
    begins = locate(scene.raise_, last - 1.0)
    return Moment(passage=begins.passage, share=1.0)


def _heels(moment: Moment) -> list[str]:
    return [
        f"{name} {moment.passage.heel(name, moment.share):.2f} m, {place.state}"
        for name, place in moment.passage.standing.items()
    ]
