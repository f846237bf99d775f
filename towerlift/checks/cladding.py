"""Cladding: every dated band is within reach of the roofers and within an open window."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from towerlift.checks.case import Case, UsualLimit, limit_for, overrule_for
from towerlift.findings import Bound, Finding, Limit
from towerlift.plan.work import Activity
from towerlift.programme import windows_limits
from towerlift.programme.windows import RoofBench
from towerlift.programme.windows_bands import Band, bands_of
from towerlift.programme.windows_parks import Park
from towerlift.programme.windows_reach import HIGHEST, LEAN, LOWEST, leaf_boards
from towerlift.programme.windows_sheet import RoofAsk

CHECK = "cladding"

OPEN = UsualLimit(
    name="cladding outside its window",
    value=0.0,
    unit="count",
    bound=Bound.AT_MOST,
    dimension=None,
    source="the section locked or secured, light, a net with debris mesh in, nothing moving or "
    "working above, way off and rescue given: common practice, no source",
)
LIMITS = (OPEN, *windows_limits.LIMITS)


def check_cladding(case: Case) -> Iterable[Finding]:
    """Reach and window of every dated band of cladding.

    Parameters
    ----------
    case : Case
        Plan and raise.

    Yields
    ------
    finding : Finding
        For each dated band: foot and head above the deck, lean from the leaf board, and
        whether its date lies in a window. None where a plan has no bands.

    Notes
    -----
    The weather is not judged here: it is looked at on the day.
    """
    for bench in roof_benches(case):
        for band in bench.bands:
            work = bench.planned.get(band.name)
            if work is None:
                why = f"no activity fits {band.name}, so nobody is told when to clad it"
                yield _finding(case, band.name, None, _Told(usual=OPEN, value=None, why=why))
                continue
            yield from _band(case, bench, band, work)


def roof_benches(case: Case) -> tuple[RoofBench, ...]:
    """Every clad section, made ready once for all that ask.

    Parameters
    ----------
    case : Case
        Plan and raise.

    Returns
    -------
    benches : tuple of RoofBench
        In the order of their bands; without weather.
    """

    def make() -> tuple[RoofBench, ...]:
        sections = dict.fromkeys(band.section for band in bands_of(case.plan))
        return tuple(RoofBench(case.plan, case.raise_, section=name) for name in sections)

    return case.workshop.kept(("roof benches",), make)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    # What is found of one limit.
    usual: UsualLimit
    value: float | None
    why: str


def _band(case: Case, bench: RoofBench, band: Band, work: Activity) -> Iterator[Finding]:
    park = bench.park_at(work)
    ask = RoofAsk(day=work.starts.date(), n_roofers=work.count)
    fault = bench.fault(band, work, ask)
    why = fault or f"{work.name} lies in a window"
    yield _finding(case, work.name, park, _Told(usual=OPEN, value=float(bool(fault)), why=why))
    if park is None or park.deck is None:
        why = f"no deck goes round the {band.section} when {work.name} starts"
        for usual in (LOWEST, HIGHEST, LEAN):
            yield _finding(case, work.name, park, _Told(usual=usual, value=None, why=why))
        return
    boards = leaf_boards(park.deck, band, park.heel)
    foot, head = (park.heel + s - park.deck.top for s in (band.low, band.high))
    where = f"from the {park.deck.name} at {park.deck.top:.2f} m, heel at {park.heel:.2f} m"
    for usual, value, what in (
        (LOWEST, foot, "the foot of the band above the deck"),
        (HIGHEST, head, "the head of the band above the deck"),
        (LEAN, boards.lean, f"face at its head from a leaf board {boards.width:.2f} m wide"),
    ):
        why = f"{band.name} {where}: {what}"
        # To a tenth of a millimetre: sums of heights end in no more than noise beyond it.
        told = _Told(usual=usual, value=round(value, 4), why=why)
        yield _finding(case, work.name, park, told)


def _finding(case: Case, subject: str, park: Park | None, told: _Told) -> Finding:
    line = case.plan.plumb_line
    deck = None if park is None else park.deck
    stage = "" if park is None else park.stage
    limit = limit_for(case, told.usual)
    return Finding(
        check=CHECK,
        subject=subject,
        stage=stage,
        heel=None if park is None else park.heel,
        where=None if deck is None else (line.x, line.y, deck.top),
        limit=limit,
        overrule=overrule_for(case, told.usual, subject, stage),
        value=told.value,
        why=told.why,
        remedy=_remedies(told, limit, park),
    )


def _remedies(told: _Told, limit: Limit, park: Park | None) -> tuple[str, ...]:
    if told.value is None or park is None:
        return ()
    off = told.value - limit.value
    if told.usual is LEAN and off > 0:
        return ("lay wider leaf boards where the face below leaves room", "clad from staging")
    if (told.usual is LOWEST and off < 0) or (told.usual is HIGHEST and off > 0):
        way = "higher" if off < 0 else "lower"
        return (
            f"park {abs(off):.2f} m {way}",
            "lay the rest from the next park",
            "let the master roofer set another reach, by name",
        )
    return ()
