"""The still picture that is left of a live view in a saved notebook."""

from towerlift.findings import Verdict
from towerlift.motion.travel import Moment, locate
from towerlift.panels.words import CAUTION, VERDICTS, quantity
from towerlift.scene import Scene, Shot, as_png, shoot, whole_tower
from towerlift.scene.lettering import SMALL, captioned, wrapped
from towerlift.scrub.words import position_of
from towerlift.workflow import Outcome

SIZE = (560, 420)


def still_of(outcome: Outcome, scene: Scene) -> bytes:
    """The raise at its worst finding, with the verdict in words.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    scene : Scene
        Of it.

    Returns
    -------
    png : bytes
        Says of itself that it is a still, and what to do for the live view.
    """
    counts = {v: sum(f.verdict is v for f in outcome.findings) for v in Verdict}
    words = (
        f"{counts[Verdict.FAIL]} fail, {counts[Verdict.NOT_EVALUATED]} not evaluated, "
        f"{counts[Verdict.PASS]} pass"
    )
    moment = locate(outcome.raise_, 0.0)
    said = ["A still picture, kept with the notebook: run the cell again for the live view."]
    worst = next(iter(outcome.findings), None)
    if worst is not None:
        at = position_of(outcome.raise_, worst)
        moment = moment if at is None else locate(outcome.raise_, at)
        said += wrapped(f"Worst: {_in_words(outcome)}", SMALL, SIZE[0] - 12, 3)
    said += [_where(moment), *wrapped(CAUTION, SMALL, SIZE[0] - 12, 2)]
    shot = Shot(
        passage=moment.passage,
        share=moment.share,
        standpoint=whole_tower(scene, SIZE),
        size=SIZE,
    )
    title = f"{outcome.plan.name}: {words}"
    return as_png(captioned(shoot(scene, shot), title, said, len(said)))


def _in_words(outcome: Outcome) -> str:
    worst = outcome.findings[0]
    limit = worst.limit_in_force
    found = "not found" if worst.value is None else quantity(worst.value, limit.unit)
    asked = f"asked {limit.bound} {quantity(limit.value, limit.unit)}"
    return f"{worst.check}, {worst.subject}: {VERDICTS[worst.verdict]}, {found}, {asked}"


def _where(moment: Moment) -> str:
    passage = moment.passage
    words = f"Shown at stage {passage.stage}"
    if passage.moving:
        heel = passage.heel(passage.moving[0], moment.share)
        words += f", heel of {passage.moving[0]} at {heel:.2f} m"
    return words + "."
