"""The gaps of a stage as lines to choose from."""

from dataclasses import dataclass
from math import ceil, floor

from towerlift.findings import Verdict
from towerlift.nesting.margins import Margin
from towerlift.workflow import Outcome

_COLUMNS = (13, 8, 8, 22, 9, 9, 8)
_HEADS = ("verdict", "stage", "moving", "past", "least", "asked", "heel")


@dataclass(frozen=True, slots=True, kw_only=True)
class GapRow:
    """Least to spare of one moving body past one other.

    Attributes
    ----------
    line : str
        In letters of one width.
    position : float or None
        Where in the raise: passages done, the last one in part.
    spare : float
        To spare; minus infinity where it could not be found. [m]
    """

    line: str
    position: float | None
    spare: float


def gap_rows(outcome: Outcome, stage: str = "") -> tuple[GapRow, ...]:
    """Every moving body past everything it passes, the tightest first.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    stage : str
        Which; empty for the whole raise.

    Returns
    -------
    rows : tuple of GapRow
        The piece that leaves least to spare of each pair.
    """
    worst: dict[tuple[int, str, str], Margin] = {}
    for margin in outcome.nesting.margins:
        key = (margin.passage, margin.moving, margin.against)
        tighter = key not in worst or _spare(margin) < _spare(worst[key])
        if stage in ("", margin.stage) and tighter:
            worst[key] = margin
    rows = [_row(outcome, margin) for margin in worst.values()]
    return tuple(sorted(rows, key=lambda row: row.spare))


def heads() -> str:
    """Heads of the columns."""
    return _columned(_HEADS, "pieces")


def _spare(margin: Margin) -> float:
    return float("-inf") if margin.spare is None else margin.spare


def _row(outcome: Outcome, margin: Margin) -> GapRow:
    passage = outcome.raise_.passages[margin.passage]
    place = passage.standing[margin.moving]
    travel = place.heel_to - place.heel_from
    share = (margin.heel - place.heel_from) / travel if travel else 0.0
    verdict = Verdict.NOT_EVALUATED
    if margin.spare is not None:
        verdict = Verdict.PASS if margin.spare >= 0 else Verdict.FAIL
    budget = margin.budget
    words = {Verdict.PASS: "passes", Verdict.FAIL: "FAILS"}.get(verdict, "NOT EVALUATED")
    cells = (
        words,
        margin.stage,
        margin.moving,
        margin.against,
        "–" if margin.gap is None else f"{floor(1e3 * margin.gap + 1e-6)} mm",
        "–" if budget is None else f"≥ {ceil(1e3 * budget.total - 1e-6)} mm",
        f"{margin.heel:.2f} m",
    )
    pieces = f"{margin.label.within(margin.moving)} to {margin.opposite.within(margin.against)}"
    return GapRow(
        line=_columned(cells, pieces),
        # Short of the end, which is the beginning of what comes next.
        position=passage.index + min(max(share, 0.0), 1.0 - 1e-6),
        spare=_spare(margin),
    )


def _columned(cells: tuple[str, ...], last: str) -> str:
    fitted = [
        cell if len(cell) <= width else cell[: width - 1] + "…"
        for cell, width in zip(cells, _COLUMNS, strict=True)
    ]
    padded = [cell.ljust(width) for cell, width in zip(fitted, _COLUMNS, strict=True)]
    # Blanks that a list box would run together.
    return " ".join([*padded, last]).replace(" ", "\u00a0")
