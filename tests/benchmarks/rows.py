"""One line of the benchmark table, and how times are taken."""

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

AT_LEAST = "at least"
AT_MOST = "at most"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One measurement held against its goal.

    Attributes
    ----------
    name : str
        Subject, work and case, joined by points.
    value : float
        What was measured.
    unit : str
        Its unit; ``x`` for a ratio of times taken in the same run.
    against : str
        The reference measured in the same run, or empty.
    goal : float or None
        What is asked for; None for a row that only informs.
    bound : str
        `AT_LEAST` or `AT_MOST`.
    """

    name: str
    value: float
    unit: str
    against: str = ""
    goal: float | None = None
    bound: str = AT_LEAST

    @property
    def met(self) -> bool | None:
        """Whether the goal is met; None without a goal."""
        if self.goal is None:
            return None
        return self.value >= self.goal if self.bound == AT_LEAST else self.value <= self.goal

    def as_record(self) -> dict[str, object]:
        """The row as bench.json holds it."""
        return {
            "name": self.name,
            "value": self.value,
            "unit": self.unit,
            "against": self.against,
            "goal": self.goal,
            "bound": self.bound,
            "met": self.met,
        }


def median_time(work: Callable[[], object], *, repeats: int = 3) -> float:
    """Median wall time of `work` after one run that is not counted. [s]"""
    work()
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return statistics.median(times)
