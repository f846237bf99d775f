"""From a plan to a verdict on the whole raise, without a screen."""

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from towerlift.checks import ALL_CHECKS, ALL_LIMITS
from towerlift.checks.case import Case
from towerlift.checks.clearance import RUNNING
from towerlift.checks.wind import HAULING
from towerlift.errors import PlanError, ShapeError, UnitError
from towerlift.findings import Finding, Limit, Verdict, worst_first
from towerlift.motion import follow_stages
from towerlift.motion.raises import Raise
from towerlift.nesting import Nesting, reckon_nesting
from towerlift.nesting.curves import GapCurve
from towerlift.plan.file_marks import FileMark, file_marks
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.model import Plan
from towerlift.rig import hang_curves
from towerlift.rig.curves import HangCurve
from towerlift.rig.out_of_true import free_hang_curves
from towerlift.shapes import build_shapes
from towerlift.shapes.solids import Shapes

GUST = HAULING


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """All that is reckoned from a plan: what pictures, panels and documents show.

    Attributes
    ----------
    plan : Plan
        As written.
    shapes : Shapes
        What it draws.
    raise_ : Raise
        What it does.
    nesting : Nesting
        Gaps of every kind.
    hangs : tuple of HangCurve
        Loads of every hauled passage.
    findings : tuple of Finding
        Worst first.
    files : tuple of FileMark
        Content of the files that were read beside the plan.
    """

    plan: Plan
    shapes: Shapes
    raise_: Raise
    nesting: Nesting
    hangs: tuple[HangCurve, ...]
    findings: tuple[Finding, ...]
    files: tuple[FileMark, ...]

    @property
    def gaps(self) -> tuple[GapCurve, ...]:
        """Gap curves by passage."""
        return self.nesting.curves

    @property
    def passes(self) -> bool:
        """Whether something was checked and every finding passes; not evaluated does not."""
        return bool(self.findings) and all(
            finding.verdict is Verdict.PASS for finding in self.findings
        )


def check_plan(plan: Plan, folder: Path) -> Outcome:
    """Reckon and check the whole raise.

    Parameters
    ----------
    plan : Plan
        As read.
    folder : Path
        Folder of the plan, where its meshes are.

    Returns
    -------
    outcome : Outcome
        Shapes, raise, curves and findings, worst first.

    Raises
    ------
    PlanError
        If the plan sets or overrules a limit that no check uses, or in a wrong unit, or
        a file that it names is not there.
    ShapeError
        If a mesh cannot be used, or was written to while it was read.
    """
    _refuse_unknown_limits(plan, folder)
    shapes, files = _shapes_and_files(plan, folder)
    raise_ = follow_stages(plan)
    hangs = hang_curves(plan, shapes, raise_)
    gust = limit_in_plan(plan, GUST).value
    free = free_hang_curves(plan, shapes, raise_.passages, hangs, gust)
    running = limit_in_plan(plan, RUNNING).value / 1000.0
    nesting = reckon_nesting(plan, shapes, raise_, running=running, free=free)
    case = Case(
        plan=plan,
        shapes=shapes,
        raise_=raise_,
        gaps=nesting.curves,
        hangs=hangs,
        margins=nesting.margins,
        rests=nesting.rests,
        contacts=nesting.contacts,
        free=free,
        shop=nesting.workshop,
    )
    findings = [finding for check in ALL_CHECKS for finding in check(case)]
    findings += _idle_overrules(plan, findings)
    return Outcome(
        plan=plan,
        shapes=shapes,
        raise_=raise_,
        nesting=nesting,
        hangs=hangs,
        findings=worst_first(findings),
        files=files,
    )


def _shapes_and_files(plan: Plan, folder: Path) -> tuple[Shapes, tuple[FileMark, ...]]:
    """What the plan draws, and the marks of the very files it was built from."""
    files = file_marks(plan, folder)
    shapes = build_shapes(plan, folder)
    # A mark must never be that of another mesh than the one that was checked.
    if changed := set(files) ^ set(file_marks(plan, folder)):
        names = sorted({each.file for each in changed})
        raise ShapeError(
            plan.name, [f"{name}: changed while it was read; check again" for name in names]
        )
    return shapes, files


def _idle_overrules(plan: Plan, findings: Sequence[Finding]) -> list[Finding]:
    """An overrule that nothing took up: a stricter one must not be lost to a slip in a name."""
    usual = {limit.name: limit for limit in ALL_LIMITS}
    idle = []
    for chosen in plan.overrules:
        taken = any(
            finding.overrule is not None
            and finding.overrule.note == chosen.note
            and finding.subject == chosen.subject
            and chosen.stage in ("", finding.stage)
            for finding in findings
        )
        if not taken and chosen.limit in usual:
            limit = usual[chosen.limit]
            idle.append(
                Finding(
                    check="overrule",
                    subject=chosen.subject,
                    stage=chosen.stage,
                    heel=None,
                    where=None,
                    limit=Limit(
                        value=limit.read(chosen.value),
                        unit=limit.unit,
                        bound=limit.bound,
                        source=f'overrule of "{chosen.limit}" by {chosen.by}',
                    ),
                    value=None,
                    why=f'no finding that "{chosen.limit}" limits has this subject and stage, '
                    "so the overrule changed nothing",
                    remedy=(
                        "write subject and stage as the findings print them",
                        "take the overrule out",
                    ),
                )
            )
    return idle


def _refuse_unknown_limits(plan: Plan, folder: Path) -> None:
    usual = {limit.name: limit for limit in (*ALL_LIMITS, GUST)}
    problems = _set_twice(plan)
    entries = [("limits", k, c.limit, c.value) for k, c in enumerate(plan.limits)]
    entries += [("overrules", k, c.limit, c.value) for k, c in enumerate(plan.overrules)]
    for where, row, name, value in entries:
        if name not in usual:
            near = get_close_matches(name, usual, n=1)
            hint = (
                f'; did you mean "{near[0]}"?'
                if near
                else f"; known: {', '.join(sorted(usual))}"
            )
            problems.append(f'{where}[{row}].limit: no check uses a limit named "{name}"{hint}')
            continue
        try:
            usual[name].read(value)
        except UnitError as error:
            problems.append(f"{where}[{row}].value: {error}")
    if problems:
        raise PlanError(folder / "plan.toml", problems)


def _set_twice(plan: Plan) -> list[str]:
    """Rows that set or overrule what a row before them does: the first would win unseen."""
    problems = []
    rows: list[tuple[str, int, tuple[str, ...]]] = [
        ("limits", k, (row.limit,)) for k, row in enumerate(plan.limits)
    ]
    rows += [
        ("overrules", k, (row.limit, row.subject, row.stage))
        for k, row in enumerate(plan.overrules)
    ]
    first: dict[tuple[str, tuple[str, ...]], int] = {}
    for where, k, key in rows:
        before = first.setdefault((where, key), k)
        if before != k:
            problems.append(
                f'{where}[{k}]: "{key[0]}" is set already by {where}[{before}]; keep one'
            )
    return problems
