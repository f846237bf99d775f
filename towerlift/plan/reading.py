"""Reads a plan from its TOML file and the tables beside it."""

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from towerlift.errors import PlanError
from towerlift.plan.crossrefs import unknown_names
from towerlift.plan.fields import Field, Holds, fields_of, is_tabular, steps_by_name
from towerlift.plan.files import FileProblemError, read_text
from towerlift.plan.messages import in_words, plain_place
from towerlift.plan.model import PLAN_VERSION, Plan
from towerlift.plan.places import Loc, Places, shown
from towerlift.plan.sense import without_sense
from towerlift.plan.tables import TableReader, Unread
from towerlift.plan.tree import read_tree

# What turns the tables of one version into those of the next, by the version
# they turn from. There is no older version yet.
MIGRATIONS: dict[int, Callable[[dict[str, object]], dict[str, object]]] = {}

_DEEPEST = 12


def read_plan(path: Path) -> Plan:
    """Read and check a plan.

    Parameters
    ----------
    path : Path
        The plan's TOML file; its tables lie beside it or below its folder.

    Returns
    -------
    plan : Plan
        Complete, frozen, in SI.

    Raises
    ------
    PlanError
        With every problem of the plan and its tables: file, key or row and
        column, the value received and what would be right.
    """
    path = Path(path)
    reading = _Reading(path=path, places=Places(file=path.name))
    written = reading.tables_of_toml()
    plan = reading.validated(written)
    if plan is None or reading.problems:
        raise PlanError(path, tuple(dict.fromkeys(reading.problems)))
    return plan


@dataclass(slots=True, kw_only=True)
class _Reading:
    path: Path
    places: Places
    problems: list[str] = field(default_factory=list)
    # Keys whose table could not be read, and keys that a header lacks: each is
    # reported once, and not again for want of a value.
    lost: set[Loc] = field(default_factory=set)

    def report(self, at: Loc, words: str) -> None:
        self.problems.append(f"{self.places.describe(at)}: {words}")

    def stop(self) -> PlanError:
        return PlanError(self.path, tuple(self.problems))

    def tables_of_toml(self) -> dict[str, object]:
        try:
            text = read_text(self.path)
            written: dict[str, object] = tomllib.loads(text)
        except FileProblemError as error:
            self.report((), str(error))
        except tomllib.TOMLDecodeError as error:
            self.report((), _not_toml(str(error)))
        except (ValueError, RecursionError) as error:
            self.report((), f"not TOML that can be read: {error}")
        else:
            if not written:
                self.report(
                    (), "the file holds no keys; `towerlift new` writes a plan to start from"
                )
                raise self.stop()
            return self.migrated(written)
        raise self.stop()

    def migrated(self, written: dict[str, object]) -> dict[str, object]:
        version = written.get("version")
        if isinstance(version, bool) or not isinstance(version, int):
            return written
        if version > PLAN_VERSION:
            self.report(
                ("version",),
                f"got {shown(version)}; this towerlift reads version {PLAN_VERSION} and older: "
                "use a newer towerlift",
            )
            raise self.stop()
        while version < PLAN_VERSION:
            migrate = MIGRATIONS.get(version)
            if migrate is None:
                self.report(
                    ("version",),
                    f"got {shown(version)}; there is no such version, write {PLAN_VERSION}",
                )
                raise self.stop()
            written = migrate(written)
            version += 1
        return written

    def validated(self, written: dict[str, object]) -> Plan | None:
        tables = TableReader(folder=self.path.parent, report=self.problems.append)
        expansion = _Expansion(reading=self, tables=tables)
        self.places.written = written
        whole = expansion.table(written, Plan, ())
        tables.report_untaken()
        self.places.written = whole
        plan, bad = None, set(self.lost)
        try:
            plan = Plan.model_validate(whole)
        except ValidationError as error:
            bad |= self.report_errors(error)
        tree = read_tree(whole, Plan, frozenset(bad))
        for at, words in (*unknown_names(tree), *without_sense(tree, self.path.parent)):
            self.report(at, words)
        return plan

    def report_errors(self, error: ValidationError) -> set[Loc]:
        bad: set[Loc] = set()
        for detail in error.errors(include_url=False):
            at, known, model = plain_place(Plan, detail["loc"])
            bad.update(at[:length] for length in _value_lengths(at, known))
            lost = any(at[:length] in self.lost for length in range(1, len(at) + 1))
            if lost or isinstance(detail["input"], Unread) or _only_broken_rows(detail):
                continue
            self.report(at, in_words(detail, known, model))
        return bad


def _not_toml(message: str) -> str:
    place = message[message.rfind("(") :].strip("()") if "(at " in message else "at its end"
    if message.startswith(("Cannot overwrite", "Cannot declare", "Cannot mutate")):
        return f"a key or table is written twice, {place}; keep one of them"
    return f"not TOML {place} ({message.partition(' (at')[0]}); correct it there"


def _only_broken_rows(detail: ErrorDetails) -> bool:
    # A list is also called too short when its rows are there but wrong.
    got = detail["input"]
    least = detail.get("ctx", {}).get("min_length", 0)
    return detail["type"] == "too_short" and isinstance(got, list) and len(got) >= least


def _value_lengths(at: Loc, known: Field | None) -> range:
    # A bad coordinate makes its whole point unreadable, but a bad row only itself.
    if known is None or known.key not in at or known.holds in (Holds.ROWS, Holds.STEPS):
        return range(len(at), len(at) + 1)
    start = len(at) - 1 - at[::-1].index(known.key)
    return range(start + 1, len(at) + 1)


@dataclass(slots=True, kw_only=True)
class _Expansion:
    # Puts the rows of CSV files where the plan names the file.
    reading: _Reading
    tables: TableReader

    def table(
        self, written: dict[str, object], model: type[BaseModel], at: Loc
    ) -> dict[str, object]:
        known = fields_of(model)
        whole: dict[str, object] = {}
        owner = written.get("name")
        for key, value in written.items():
            here, field_ = (*at, key), known.get(key)
            whole[key] = value
            if field_ is None or len(here) > _DEEPEST:
                continue
            if field_.holds is Holds.ROWS and isinstance(value, str):
                whole[key] = self.from_file(value, field_, here, owner)
            elif field_.holds is Holds.TABLE and isinstance(value, dict):
                whole[key] = self.table(value, field_.models[0], here)
            elif field_.holds in (Holds.ROWS, Holds.STEPS) and isinstance(value, list):
                whole[key] = [
                    self.item(item, field_, (*here, i)) for i, item in enumerate(value)
                ]
        return whole

    def item(self, item: object, field_: Field, at: Loc) -> object:
        if not isinstance(item, dict):
            return item
        if field_.holds is Holds.STEPS:
            model = steps_by_name(field_).get(str(item.get("do")))
            return item if model is None else self.table(item, model, at)
        return self.table(item, field_.models[0], at)

    def from_file(self, name: str, field_: Field, at: Loc, owner: object) -> list[object]:
        model = field_.models[0]
        if not is_tabular(model):
            self.reading.report(
                at, f'got "{name}"; {field_.key} cannot be a CSV file, write tables'
            )
            self.reading.lost.add(at)
            return []
        try:
            table = self.tables.table(name, model)
        except FileProblemError as error:
            self.reading.report(at, str(error))
            self.reading.lost.add(at)
            return []
        if table.unreadable:
            self.reading.lost.add(at)
        rows: list[object] = []
        owner_name = owner if isinstance(owner, str) and len(at) > 1 else None
        for place, values in self.tables.rows_for(table, owner_name):
            here = (*at, len(rows))
            self.reading.places.rows[here] = place
            self.reading.lost.update((*here, key) for key in table.absent)
            rows.append(self.table(values, model, here))
        if table.has_owners and not rows and not table.unreadable:
            self.reading.report(at, f'no row of "{name}" is of "{owner_name}"; add its rows')
            self.reading.lost.add(at)
        return rows
