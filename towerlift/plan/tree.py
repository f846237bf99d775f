"""As much of a plan as can be read, for the checks that compare its parts."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from pydantic import BaseModel

from towerlift.errors import UnitError
from towerlift.plan.fields import Field, Holds, fields_of, steps_by_name
from towerlift.plan.places import Loc
from towerlift.units import Dimension, parse_quantity

Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One table of the plan; what cannot be read in it is None.

    Attributes
    ----------
    at : tuple of str or int
        Its place in the plan.
    values : mapping of str to object
        What could be read, by key.
    unread : frozenset of str
        Keys that are there, or should be, and cannot be read.
    """

    at: Loc
    values: Mapping[str, object]
    unread: frozenset[str]

    def place(self, *keys: str | int) -> Loc:
        """Place of a key of this table."""
        return (*self.at, *keys)

    def has(self, key: str) -> bool:
        """Whether a key is written, readable or not."""
        return key in self.unread or self.values.get(key) not in (None, ())

    def text(self, key: str) -> str | None:
        """Text at a key."""
        value = self.values.get(key)
        return value if isinstance(value, str) else None

    def number(self, key: str) -> float | None:
        """Quantity at a key, in SI."""
        value = self.values.get(key)
        return value if isinstance(value, float) else None

    def moment(self, key: str) -> datetime | None:
        """Time at a key, with its offset."""
        value = self.values.get(key)
        aware = isinstance(value, datetime) and value.tzinfo is not None
        return value if isinstance(value, datetime) and aware else None

    def point(self, key: str) -> Triple | None:
        """Point at a key. [m]"""
        value = self.values.get(key)
        return value if isinstance(value, tuple) and len(value) == 3 else None

    def names(self, key: str) -> tuple[str, ...]:
        """List of text at a key."""
        value = self.values.get(key)
        return value if isinstance(value, tuple) else ()

    def row(self, key: str) -> "Row | None":
        """Table at a key."""
        value = self.values.get(key)
        return value if isinstance(value, Row) else None

    def rows(self, key: str) -> "tuple[Row, ...]":
        """List of tables at a key."""
        value = self.values.get(key)
        return value if isinstance(value, tuple) else ()


def read_tree(written: object, model: type[BaseModel], bad: frozenset[Loc]) -> Row:
    """As much of a plan as can be read.

    Parameters
    ----------
    written : object
        Tables as read from TOML and CSV.
    model : type
        What they should make.
    bad : frozenset of tuple
        Places already found wrong.

    Returns
    -------
    row : Row
        The plan's top table.
    """
    return _row(written, model, (), bad)


def _row(written: object, model: type[BaseModel], at: Loc, bad: frozenset[Loc]) -> Row:
    table = written if isinstance(written, dict) else {}
    values: dict[str, object] = {}
    unread = set()
    for key, field in fields_of(model).items():
        here = (*at, key)
        if key not in table:
            if field.required or here in bad:
                unread.add(key)
            continue
        value = None if here in bad else _value(table[key], field, here, bad)
        if value is None:
            unread.add(key)
        else:
            values[key] = value
        if isinstance(value, tuple) and len(value) < len(table[key]):
            unread.add(key)  # some of it cannot be read
    return Row(at=at, values=values, unread=frozenset(unread))


def _value(written: object, field: Field, at: Loc, bad: frozenset[Loc]) -> object:
    if field.holds is Holds.TABLE:
        return _row(written, field.models[0], at, bad) if isinstance(written, dict) else None
    if field.holds in (Holds.ROWS, Holds.STEPS):
        return tuple(_rows(written, field, at, bad)) if isinstance(written, list) else None
    if field.holds is Holds.QUANTITY and field.dimension is not None:
        return _quantity(written, field.dimension)
    reader = _READERS.get(field.holds)
    if reader is not None:
        return reader(written)
    return written if isinstance(written, str | int | float) else None


def _rows(written: list[object], field: Field, at: Loc, bad: frozenset[Loc]) -> Iterator[Row]:
    for index, item in enumerate(written):
        if not isinstance(item, dict):
            continue
        model = field.models[0]
        if field.holds is Holds.STEPS:
            known = steps_by_name(field).get(str(item.get("do")))
            if known is None:
                continue
            model = known
        yield _row(item, model, (*at, index), bad)


def _quantity(written: object, dimension: Dimension) -> float | None:
    try:
        return parse_quantity(written, dimension)
    except UnitError:
        return None
    except ValueError:  # a whole number too long to be shown
        return None


def _point(written: object) -> Triple | None:
    if not isinstance(written, list) or len(written) != 3:
        return None
    x, y, z = (_quantity(part, Dimension.LENGTH) for part in written)
    return None if x is None or y is None or z is None else (x, y, z)


def _texts(written: object) -> tuple[str, ...] | None:
    if not isinstance(written, list):
        return None
    return tuple(item for item in written if isinstance(item, str))


def _moment(written: object) -> datetime | None:
    if isinstance(written, datetime):
        return written
    try:
        return datetime.fromisoformat(str(written))
    except ValueError:
        return None


_READERS: dict[Holds, Callable[[object], object]] = {
    Holds.POINT: _point,
    Holds.LIST: _texts,
    Holds.INSTANT: _moment,
}
