"""What can be done when a haul must stop: nearest locks and the turning point."""

from towerlift.documents.blocks import Block, Column, Facts, Grid
from towerlift.documents.edition import Edition, hauling_stages
from towerlift.plan.work import Stage


def recovery_facts(edition: Edition, stage: Stage) -> list[Block]:
    """Nearest safe states and the turning point of a stage.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : Stage
        Which.

    Returns
    -------
    blocks : list of Block
        Loudly not evaluated where nothing gives them.
    """
    why = "NOT EVALUATED: no recovery has been reckoned for this stage"
    rows = (("nearest lock above, below", why), ("turning point", why))
    return [Facts(rows=rows)]


def recovery_grid(edition: Edition) -> Grid:
    """What can be done in each stage when a haul must stop.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    grid : Grid
        A row for each stage in which something moves.
    """
    rows = tuple(
        (stage.name, "NOT EVALUATED", "no recovery has been reckoned")
        for stage in hauling_stages(edition)
    )
    return Grid(
        name="If a haul must stop",
        columns=(Column(head="stage"), Column(head="nearest lock", width=1),
                 Column(head="what to do", width=2)),
        rows=rows or (("–", "nothing moves", ""),),
    )  # fmt: skip
