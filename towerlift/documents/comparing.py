"""Two plans compared: every key that changed, and what became of every finding."""

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum, StrEnum

from pydantic import BaseModel

from towerlift.documents.edition import HASH_LETTERS, content_hash
from towerlift.findings import Bound, Finding, Verdict
from towerlift.plan import bodies, rigging, work
from towerlift.plan.fields import Field, Holds, fields_of
from towerlift.plan.model import Plan
from towerlift.units import Dimension, si_unit, unit_factor
from towerlift.workflow import Outcome

SAME = 1e-6
"""Share of its limit or value below which a margin has not changed: the last figures of a
search are not news."""
# Keys that tell rows of one kind apart, where they have no name, mark or tag.
_TOLD_BY: dict[type[BaseModel], tuple[str, ...]] = {
    bodies.Station: ("z",),
    bodies.AsBuilt: ("s",),
    bodies.Shoe: ("member",),
    rigging.Coil: ("tag",),
    rigging.Line: ("tackle",),
    work.Contact: ("kind", "of", "on"),
    work.ChosenLimit: ("limit",),
    work.ChosenOverrule: ("limit", "subject", "stage"),
}
_READ_IN = {Dimension.ANGLE: "deg", Dimension.SHARE: "%"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """A key that two plans do not have alike.

    Attributes
    ----------
    where : str
        Table and row it is in, such as "sections belfry, members girt W1".
    key : str
        As the plan writes it.
    before, after : float, str or None
        In `unit`; None where the key is not set.
    unit : str
        Empty for words and counts.
    """

    where: str
    key: str
    before: float | str | None
    after: float | str | None
    unit: str = ""

    @property
    def difference(self) -> float | None:
        """After less before, where both are numbers."""
        if isinstance(self.before, str) or isinstance(self.after, str):
            return None
        if self.before is None or self.after is None:
            return None
        return self.after - self.before


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row that only one of two plans has.

    Attributes
    ----------
    where : str
        Table it is in.
    name : str
        Name, mark or tag.
    added : bool
        Whether the later plan has it.
    """

    where: str
    name: str
    added: bool


class Became(StrEnum):
    """What became of a finding, worst news first."""

    FAILS = "fails now"
    OPEN = "not evaluated now"
    RELAXED = "passes by another limit"
    NEW = "new"
    WORSE = "worse"
    LIMIT = "limit changed"
    BETTER = "better"
    CURED = "cured"
    GONE = "gone"


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingChange:
    """A finding before and after.

    Attributes
    ----------
    became : Became
        What became of it.
    before, after : Finding or None
        None where that plan has no such finding.
    """

    became: Became
    before: Finding | None
    after: Finding | None

    @property
    def finding(self) -> Finding:
        """The later one, or the earlier where there is none."""
        found = self.after if self.after is not None else self.before
        if found is None:
            raise ValueError("a change needs a finding before or after")
        return found

    @property
    def gain(self) -> float | None:
        """How much the margin grew, in the unit of the limit; None without two margins."""
        before = None if self.before is None else self.before.margin
        after = None if self.after is None else self.after.margin
        return None if before is None or after is None else after - before


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One of the two plans.

    Attributes
    ----------
    name, content : str
        Name of the plan, and what tells its content from any other.
    counts : tuple of int
        Findings that fail, were not evaluated and pass.
    """

    name: str
    content: str
    counts: tuple[int, int, int]

    @property
    def verdict(self) -> str:
        """In words."""
        failed, left_open, passed = self.counts
        if failed:
            return "fails"
        if left_open or not passed:
            return "not evaluated"
        return "passes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What changed from one plan to another.

    Attributes
    ----------
    before, after : Side
        The earlier plan and the later.
    keys : tuple of Changed
        In the order of the plan.
    rows : tuple of Row
        Rows that only one has.
    findings : tuple of FindingChange
        Worst news first; findings that stayed as they were are left out.
    n_same : int
        How many stayed as they were.
    """

    before: Side
    after: Side
    keys: tuple[Changed, ...]
    rows: tuple[Row, ...]
    findings: tuple[FindingChange, ...]
    n_same: int

    def count(self, became: Became) -> int:
        """How many findings became so."""
        return sum(each.became is became for each in self.findings)


def compare(before: Outcome, after: Outcome) -> Comparison:
    """What changed from one checked plan to another.

    Parameters
    ----------
    before, after : Outcome
        The earlier and the later.

    Returns
    -------
    comparison : Comparison
        In numbers and in findings.
    """
    keys, rows = compare_plans(before.plan, after.plan)
    findings, n_same = compare_findings(before.findings, after.findings)
    return Comparison(
        before=_side(before),
        after=_side(after),
        keys=(*keys, *_files(before, after)),
        rows=rows,
        findings=findings,
        n_same=n_same,
    )


def _files(before: Outcome, after: Outcome) -> Iterator[Changed]:
    """Files of one name whose bytes are not the same: no key of the plan tells of it."""
    earlier = {each.file: each.mark for each in before.files}
    for each in after.files:
        was = earlier.get(each.file, each.mark)
        if was != each.mark:
            yield Changed(
                where=f"file {each.file}",
                key="content",
                before=was[:HASH_LETTERS],
                after=each.mark[:HASH_LETTERS],
            )


def _side(outcome: Outcome) -> Side:
    counts = Counter(finding.verdict for finding in outcome.findings)
    return Side(
        name=outcome.plan.name,
        content=content_hash(outcome.plan, outcome.files),
        counts=(counts[Verdict.FAIL], counts[Verdict.NOT_EVALUATED], counts[Verdict.PASS]),
    )


def compare_plans(before: Plan, after: Plan) -> tuple[tuple[Changed, ...], tuple[Row, ...]]:
    """Every key that two plans do not have alike.

    Parameters
    ----------
    before, after : Plan
        The earlier and the later.

    Returns
    -------
    keys : tuple of Changed
        In the order of the plan's keys.
    rows : tuple of Row
        Rows that only one has: their keys are not listed one by one.
    """
    keys: list[Changed] = []
    rows: list[Row] = []
    for change in _tables(before, after, ""):
        if isinstance(change, Row):
            rows.append(change)
        else:
            keys.append(change)
    return tuple(keys), tuple(rows)


def _tables(before: BaseModel, after: BaseModel, where: str) -> Iterator[Changed | Row]:
    for key, field in fields_of(type(after)).items():
        old, new = getattr(before, key), getattr(after, key)
        if old == new and type(old) is type(new):
            continue
        place = f"{where}, {key}" if where else key
        if field.holds in (Holds.ROWS, Holds.STEPS):
            yield from _row_lists(old, new, place)
        elif isinstance(old, BaseModel) and isinstance(new, BaseModel):
            yield from _tables(old, new, place)
        elif isinstance(old, BaseModel) or isinstance(new, BaseModel):
            yield from _lone_table(old, new, place)
        else:
            yield _changed(where, field, old, new)


def _lone_table(old: object, new: object, where: str) -> Iterator[Changed | Row]:
    """Every key of a table that only one of two plans has."""
    table = new if isinstance(new, BaseModel) else old
    if not isinstance(table, BaseModel):
        return
    added = table is new
    for key, field in fields_of(type(table)).items():
        value = getattr(table, key)
        if field.holds in (Holds.ROWS, Holds.STEPS):
            yield from (
                Row(where=f"{where}, {key}", name=name, added=added) for name in _named(value)
            )
        elif value is not None:
            before, after = (None, value) if added else (value, None)
            if isinstance(value, BaseModel):
                yield from _lone_table(before, after, f"{where}, {key}")
            else:
                yield _changed(where, field, before, after)


def _changed(where: str, field: Field, old: object, new: object) -> Changed:
    unit, factor = "", 1.0
    if field.dimension is not None:
        unit = _READ_IN.get(field.dimension, si_unit(field.dimension))
        factor = unit_factor(unit, field.dimension)
        unit = "" if unit in ("1", "count") else unit
    return Changed(
        where=where,
        key=field.key,
        before=_said(old, factor),
        after=_said(new, factor),
        unit=unit or ("m" if field.holds in (Holds.POINT, Holds.POINTS) else ""),
    )


def _said(value: object, factor: float) -> float | str | None:
    if value is None or value in ("", ()):
        return None
    if isinstance(value, int | float) and not isinstance(value, bool):
        # Twelve figures: what a conversion adds beyond them was never written.
        return float(f"{value / factor:.12g}")
    if isinstance(value, tuple):
        return "; ".join(_item(each) for each in value)
    return _in_words(value)


def _in_words(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, BaseModel):
        return ", ".join(f"{key} {_item(held)}" for key, held in value if held is not None)
    return str(value)


def _item(value: object) -> str:
    if isinstance(value, tuple):
        return "(" + ", ".join(_item(each) for each in value) + ")"
    if isinstance(value, float):
        return f"{value:.12g}"
    return _in_words(value)


def _row_lists(
    old: Sequence[BaseModel], new: Sequence[BaseModel], where: str
) -> Iterator[Changed | Row]:
    before, after = _named(old), _named(new)
    for name in before:
        if name not in after:
            yield Row(where=where, name=name, added=False)
    for name, row in after.items():
        if name not in before:
            yield Row(where=where, name=name, added=True)
        elif type(before[name]) is type(row):
            yield from _tables(before[name], row, f"{where} {name}")
    kept = [[name for name in rows if name in before and name in after]
            for rows in (before, after)]  # fmt: skip
    if kept[0] != kept[1]:
        yield Changed(where=where, key="order", before=", ".join(kept[0]),
                      after=", ".join(kept[1]))  # fmt: skip


def _named(rows: Sequence[BaseModel]) -> dict[str, BaseModel]:
    """Rows by what tells them apart; of several alike, the second is number 2."""
    found: dict[str, BaseModel] = {}
    seen: Counter[str] = Counter()
    for row in rows:
        name = _row_name(row)
        seen[name] += 1
        found[name if seen[name] == 1 else f"{name} ({seen[name]})"] = row
    return found


def _row_name(row: BaseModel) -> str:
    keys = _TOLD_BY.get(type(row))
    if keys is None:
        keys = next(((key,) for key in ("name", "mark") if key in type(row).model_fields), ())
    if not keys:
        # A step: what is done, and to what.
        keys = tuple(
            key for key in ("do", "section", "item", "fixture") if key in type(row).model_fields
        )
    return " ".join(_item(getattr(row, key)) for key in keys if getattr(row, key) != "")


def compare_findings(
    before: Sequence[Finding], after: Sequence[Finding]
) -> tuple[tuple[FindingChange, ...], int]:
    """What became of every finding.

    Parameters
    ----------
    before, after : sequence of Finding
        Of the earlier and the later plan.

    Returns
    -------
    changes : tuple of FindingChange
        Worst news first, least margin first; those that stayed as they were left out.
    n_same : int
        How many did.

    Notes
    -----
    Findings of one check, subject, stage, unit and side of the limit belong together.
    Where there are several, those whose limit and whose reason (but for its numbers)
    agree are taken as one, then those that agree in one of these, then in order.
    """
    changes: list[FindingChange] = []
    n_same = 0
    for old, new in _paired(before, after):
        became = _became(old, new)
        if became is None:
            n_same += 1
        else:
            changes.append(FindingChange(became=became, before=old, after=new))
    order = list(Became)

    def key(change: FindingChange) -> tuple[int, int, float]:
        finding = change.finding
        margin = finding.relative_margin
        passed = finding.verdict is Verdict.PASS
        return order.index(change.became), int(passed), -1e9 if margin is None else margin

    return tuple(sorted(changes, key=key)), n_same


_Key = Callable[[Finding], Hashable]


def _reason(finding: Finding) -> str:
    return re.sub(r"[-+−]?\d[\d.,]*", "#", finding.why)


def _kind(finding: Finding) -> tuple[str, ...]:
    limit = finding.limit
    return finding.check, finding.subject, finding.stage, limit.unit, str(limit.bound)


_ALIKE: tuple[_Key, ...] = (
    lambda f: (_kind(f), f.limit.source, f.limit.value, _reason(f)),
    lambda f: (_kind(f), f.limit.source, _reason(f)),
    lambda f: (_kind(f), f.limit.value, _reason(f)),
    lambda f: (_kind(f), f.limit.source, f.limit.value),
    lambda f: (_kind(f), f.limit.source),
    _kind,
)


def _paired(
    before: Sequence[Finding], after: Sequence[Finding]
) -> Iterator[tuple[Finding | None, Finding | None]]:
    old, new = list(before), list(after)
    for alike in _ALIKE:
        waiting: dict[Hashable, list[Finding]] = defaultdict(list)
        for finding in reversed(old):
            waiting[alike(finding)].append(finding)
        left = []
        for finding in new:
            others = waiting.get(alike(finding))
            if others:
                yield others.pop(), finding
            else:
                left.append(finding)
        unpaired = {id(f) for others in waiting.values() for f in others}
        old, new = [f for f in old if id(f) in unpaired], left
    yield from ((finding, None) for finding in old)
    yield from ((None, finding) for finding in new)


_NOW = {
    Verdict.FAIL: Became.FAILS,
    Verdict.NOT_EVALUATED: Became.OPEN,
    Verdict.PASS: Became.CURED,
}


def _became(old: Finding | None, new: Finding | None) -> Became | None:
    if old is None or new is None:
        return Became.GONE if new is None else Became.NEW
    if old.verdict is not new.verdict:
        cured = new.verdict is Verdict.PASS
        return Became.RELAXED if cured and not _by_itself(old, new) else _NOW[new.verdict]
    relimited = _limits(old) != _limits(new)
    if old.margin is None or new.margin is None:
        return Became.LIMIT if relimited else None
    scale = max(abs(new.limit_in_force.value), abs(new.value or 0.0), abs(old.value or 0.0))
    gain = _step(new.margin - old.margin, scale)
    if relimited:
        # A margin that only its limit has moved is neither better nor worse work.
        moved = _step(_safer(old, new), scale)
        overruled = _limits(old)[1] != _limits(new)[1]
        gain = gain if gain == moved and not overruled else 0
        return {1: Became.BETTER, -1: Became.WORSE}.get(gain, Became.LIMIT)
    return {1: Became.BETTER, -1: Became.WORSE}.get(gain)


def _step(change: float, scale: float) -> int:
    if abs(change) <= SAME * scale:
        return 0
    return 1 if change > 0 else -1


def _safer(old: Finding, new: Finding) -> float:
    """How far the value moved to the safe side; nothing where it has none."""
    if old.value is None or new.value is None:
        return 0.0
    way = 1.0 if new.limit.bound is Bound.AT_LEAST else -1.0
    return way * (new.value - old.value)


def _by_itself(old: Finding, new: Finding) -> bool:
    """Whether the later value would pass by the earlier limit too."""
    if old.value is None:
        # It could not be found before: nothing was failed.
        return new.overrule is None
    limit = old.limit_in_force
    value = new.value if new.value is not None else float("nan")
    return value >= limit.value if limit.bound is Bound.AT_LEAST else value <= limit.value


def _limits(finding: Finding) -> tuple[float, str]:
    """The limit in force, and who overrules where somebody does."""
    overrule = finding.overrule
    by = "" if overrule is None else f"{overrule.by}: {overrule.note}"
    return finding.limit_in_force.value, by
