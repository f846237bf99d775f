"""Quantities as papers print them: metric, or feet and inches, pounds and miles an hour."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, tzinfo
from enum import StrEnum
from math import floor, isfinite

from towerlift.drawings.lengths import FOOT, INCH, Measure, Rounding, level_words, size_words
from towerlift.findings import Bound, Finding, Limit, Verdict
from towerlift.motion.clock import clock, day

POUND = 0.45359237
POUND_FORCE = 4.4482216152605
MILE_AN_HOUR = 0.44704
PSI = 6894.757293168
COUNT = "count"
NOTHING = "–"


class Kind(StrEnum):
    """What a column of a list measures; cells are SI numbers."""

    HEIGHT = "height"
    SIZE = "size"
    MASS = "mass"
    FORCE = "force"
    PUSH = "push"
    SPEED = "speed"
    NUMBER = "number"
    SHARE = "share"
    AREA = "area"
    MINUTES = "minutes"


@dataclass(frozen=True, slots=True)
class _Unit:
    name: str
    size: float
    digits: int


_METRIC = {
    Kind.HEIGHT: _Unit("m", 1.0, 2),
    Kind.SIZE: _Unit("mm", 1e-3, 0),
    Kind.MASS: _Unit("kg", 1.0, 0),
    Kind.FORCE: _Unit("kN", 1e3, 1),
    Kind.PUSH: _Unit("N", 1.0, 0),
    Kind.SPEED: _Unit("m/s", 1.0, 1),
    Kind.AREA: _Unit("m²", 1.0, 1),
}
_FEET = {
    Kind.HEIGHT: _Unit("ft", FOOT, 3),
    Kind.SIZE: _Unit("in", INCH, 2),
    Kind.MASS: _Unit("lb", POUND, 0),
    Kind.FORCE: _Unit("lbf", POUND_FORCE, 0),
    Kind.PUSH: _Unit("lbf", POUND_FORCE, 0),
    Kind.SPEED: _Unit("mph", MILE_AN_HOUR, 1),
    Kind.AREA: _Unit("ft²", FOOT**2, 1),
}
_ANY = {
    Kind.NUMBER: _Unit("", 1.0, 2),
    Kind.SHARE: _Unit("%", 1e-2, 1),
    Kind.MINUTES: _Unit("min", 60.0, 0),
}
# Units of findings, and what each is in feet and pounds.
_OF_FINDINGS: dict[str, tuple[str, float]] = {
    "kg": ("lb", 1.0 / POUND),
    "kN": ("lbf", 1e3 / POUND_FORCE),
    "N": ("lbf", 1.0 / POUND_FORCE),
    "m/s": ("mph", 1.0 / MILE_AN_HOUR),
    "MPa": ("psi", 1e6 / PSI),
    "kPa": ("psi", 1e3 / PSI),
    "m^2": ("ft²", 1.0 / FOOT**2),
}


def plain_number(value: float, digits: int = 4) -> str:
    """A number to so many significant digits, whole where it is large.

    Parameters
    ----------
    value : float
        Any.
    digits : int
        Significant digits below a thousand.

    Returns
    -------
    words : str
        Such as "12.6", "18 858" or "not a number".
    """
    if not isfinite(value):
        return "without limit" if value > 0 else "not a number"
    text = f"{value:.{digits}g}" if abs(value) < 1000 else f"{value:,.0f}".replace(",", " ")
    return text.replace("-", "−") if value else "0"


@dataclass(frozen=True, slots=True, kw_only=True)
class Say:
    """How one edition of the papers writes its quantities.

    Attributes
    ----------
    measure : Measure
        Metric, or feet and inches.
    zone : tzinfo
        Clock of the site.
    """

    measure: Measure
    zone: tzinfo

    @property
    def metric(self) -> bool:
        """Whether it is metric."""
        return self.measure is Measure.METRIC

    def height(self, height: float | None) -> str:
        """A height above the shaft floor, or a haul. [m]"""
        return self._told(height, self._height)

    def _height(self, height: float) -> str:
        if self.metric:
            return f"{round(height, 3) + 0.0:.2f} m".replace("-", "−")
        return level_words(height, self.measure).removeprefix("+")

    def size(self, size: float | None, rounding: Rounding = "near") -> str:
        """A small length; a limit is rounded towards what is safe. [m]"""

        def write(value: float) -> str:
            return size_words(value, self.measure, rounding=rounding) + (
                " mm" if self.metric else ""
            )

        return self._told(size, write)

    def mass(self, mass: float | None) -> str:
        """A mass. [kg]"""
        return self._in(Kind.MASS, mass)

    def force(self, force: float | None) -> str:
        """A load on gear. [N]"""
        return self._in(Kind.FORCE, force)

    def push(self, force: float | None) -> str:
        """A push of hands. [N]"""
        return self._in(Kind.PUSH, force)

    def speed(self, speed: float | None) -> str:
        """Wind. [m/s]"""
        return self._in(Kind.SPEED, speed)

    def area(self, area: float | None) -> str:
        """An area. [m^2]"""
        return self._in(Kind.AREA, area)

    def minutes(self, seconds: float | None) -> str:
        """A duration, to the minute and never shorter than it is. [s]"""

        def write(value: float) -> str:
            whole = -floor(-value / 60.0 + 1e-9)
            return f"{whole} min" if whole < 90 else f"{whole // 60} h {whole % 60:02d} min"

        return self._told(seconds, write)

    def clock(self, moment: datetime | None) -> str:
        """Clock time at the site."""
        return "not dated" if moment is None else clock(moment, self.zone)

    def day(self, moment: datetime | None) -> str:
        """Date at the site, day of the week first."""
        if moment is None:
            return "not dated"
        return f"{moment.astimezone(self.zone):%a} {day(moment, self.zone)}"

    def when(self, moment: datetime | None) -> str:
        """Date and clock time at the site."""
        return "not dated" if moment is None else f"{self.day(moment)} {self.clock(moment)}"

    def cell(self, kind: Kind, value: float | None) -> str:
        """A cell of a list, as paper prints it.

        Parameters
        ----------
        kind : Kind
            Of its column.
        value : float or None
            In SI.

        Returns
        -------
        words : str
            Without its unit where the head of the column has it.
        """
        if kind is Kind.HEIGHT and not self.metric:
            return self.height(value)
        if kind is Kind.SIZE and not self.metric:
            return self.size(value)
        unit = self._unit(kind)
        return self._told(value, lambda v: _fixed(v / unit.size, unit.digits))

    def number(self, kind: Kind, value: float | None) -> float | None:
        """A cell of a list, as a spreadsheet takes it: a number in the head's unit."""
        if value is None or not isfinite(value):
            return None
        unit = self._unit(kind)
        return float(round(value / unit.size, unit.digits + 1))

    def unit(self, kind: Kind, *, spreadsheet: bool = False) -> str:
        """Unit that the head of a column names; none where each cell has its own."""
        if not spreadsheet and not self.metric and kind in (Kind.HEIGHT, Kind.SIZE):
            return ""
        return self._unit(kind).name

    def limited(self, value: float, unit: str) -> str:
        """A value of a finding in its unit, the metric one beside it where it is converted.

        Parameters
        ----------
        value : float
            In `unit`.
        unit : str
            As findings name it.

        Returns
        -------
        words : str
            Such as "70.9 mm" or "2 13/16" (70.9 mm)".
        """
        own = "" if unit in ("1", COUNT) else f" {unit}"
        plain = f"{plain_number(value)}{own}"
        if self.metric or not isfinite(value):
            return plain
        if unit in ("m", "mm"):
            length = value if unit == "m" else value / 1000.0
            return f"{size_words(length, self.measure)} ({plain})"
        if unit in _OF_FINDINGS:
            other, size = _OF_FINDINGS[unit]
            return f"{plain_number(value * size)} {other} ({plain})"
        return plain

    def bound(self, limit: Limit) -> str:
        """A limit with the side of it that is acceptable."""
        return f"{limit.bound} {self.limited(limit.value, limit.unit)}"

    def found(self, finding: Finding) -> str:
        """What a finding found, or loudly that nothing was."""
        if finding.value is None:
            return "NOT EVALUATED"
        return self.limited(finding.value, finding.limit.unit)

    def spare(self, finding: Finding) -> str:
        """How far inside or outside its limit a finding is."""
        if finding.margin is None:
            return "NOT EVALUATED"
        word = (
            "to spare"
            if finding.margin >= 0
            else "short"
            if finding.limit.bound is Bound.AT_LEAST
            else "over"
        )
        return f"{self.limited(abs(finding.margin), finding.limit.unit)} {word}"

    def _unit(self, kind: Kind) -> _Unit:
        return _ANY.get(kind) or (_METRIC if self.metric else _FEET)[kind]

    def _in(self, kind: Kind, value: float | None) -> str:
        unit = self._unit(kind)
        return self._told(value, lambda v: f"{_fixed(v / unit.size, unit.digits)} {unit.name}")

    def _told(self, value: float | None, write: Callable[[float], str]) -> str:
        if value is None:
            return NOTHING
        return write(value) if isfinite(value) else "NOT A NUMBER"


def _fixed(value: float, digits: int) -> str:
    text = f"{round(value, digits) + 0.0:,.{digits}f}".replace(",", " ")
    return text.replace("-", "−")


def verdict_word(verdict: Verdict) -> str:
    """A verdict as papers print it: what is not a pass in capitals."""
    return "pass" if verdict is Verdict.PASS else str(verdict).upper()
