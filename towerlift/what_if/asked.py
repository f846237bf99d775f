"""What a planner asks: where in the raise, and what is not as it should be there."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from math import isfinite


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """A place in the raise, and what is out of true there.

    Attributes
    ----------
    passage : int
        Index of the passage in the raise.
    share : float
        Share of its travel that is done, 0 to 1.
    lean_east, lean_north : float
        Turn by hand about the middle of the lift points that takes the head east or
        north, on top of where lines, shoes and wind leave the section. [rad]
    yaw : float
        The same, anticlockwise seen from above. [rad]
    drift_east, drift_north : float
        The same, a shift of the whole. [m]
    behind : str
        Mark of the capstan that lags; empty for none.
    by : float
        How far its tackles lag, at the section; less than nothing is ahead. [m]
    gust : float
        Wind on what stands above the wall head. [m/s]
    towards : float
        Way the wind blows, anticlockwise from east. [rad]
    """

    passage: int
    share: float
    lean_east: float = 0.0
    lean_north: float = 0.0
    yaw: float = 0.0
    drift_east: float = 0.0
    drift_north: float = 0.0
    behind: str = ""
    by: float = 0.0
    gust: float = 0.0
    towards: float = 0.0

    def __post_init__(self) -> None:
        wrong = [
            f"{field.name} must be a finite number, got {getattr(self, field.name)!r}"
            for field in fields(self)
            if field.name != "behind" and not _finite(getattr(self, field.name))
        ]
        if not wrong and not 0 <= self.share <= 1:
            wrong.append(f"share must be within 0 and 1, got {self.share}")
        if not wrong and not self.gust >= 0:
            wrong.append(f"gust must not be below nothing, got {self.gust} m/s")
        if wrong:
            raise ValueError("; ".join(wrong))

    @property
    def by_hand(self) -> bool:
        """Whether anything is turned or shifted by hand."""
        return any(
            (self.lean_east, self.lean_north, self.yaw, self.drift_east, self.drift_north)
        )

    def in_words(self) -> str:
        """What is asked, as a caption says it; empty where all is as it should be."""
        said = []
        for value, ways in (
            (self.lean_east, ("east", "west")),
            (self.lean_north, ("north", "south")),
        ):
            if value:
                said.append(f"leans {abs(value) * 1e3:.1f} mm/m {ways[value < 0]}")
        for value, ways in (
            (self.drift_east, ("east", "west")),
            (self.drift_north, ("north", "south")),
        ):
            if value:
                said.append(f"drifts {abs(value) * 1e3:.0f} mm {ways[value < 0]}")
        if self.yaw:
            way = "clockwise" if self.yaw < 0 else "anticlockwise"
            said.append(f"turned {abs(self.yaw) * 1e3:.1f} mm/m {way}")
        if self.behind and self.by:
            word = "behind" if self.by > 0 else "ahead"
            said.append(f"{self.behind} {abs(self.by) * 1e3:.0f} mm {word}")
        if self.gust:
            said.append(f"gust {self.gust:.1f} m/s")
        return ", ".join(said)

    def as_record(self) -> dict[str, float | int | str]:
        """As plain values, by name."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    @classmethod
    def from_record(cls, record: Mapping[str, object]) -> "WhatIf":
        """Read plain values, such as a browser sends.

        Parameters
        ----------
        record : mapping
            By name, SI units; passage and share at least.

        Returns
        -------
        asked : WhatIf
            Checked.

        Raises
        ------
        ValueError
            If a name is not known or missing, or a value is not a number; all at once.
        """
        known = {field.name for field in fields(cls)}
        wrong = [f'no slider is called "{name}"' for name in sorted(set(record) - known)]
        wrong += [f'"{name}" is missing' for name in ("passage", "share") if name not in record]
        values = {name: value for name, value in record.items() if name in known}
        for name, value in values.items():
            if name == "behind":
                wrong += [] if isinstance(value, str) else [f"behind must be a mark: {value!r}"]
            elif not _finite(value):
                wrong.append(f"{name} must be a finite number, got {value!r}")
        if not wrong and values["passage"] != int(values["passage"]):  # type: ignore[call-overload]
            wrong.append(f"passage must be a whole number, got {values['passage']!r}")
        if wrong:
            raise ValueError("what-if: " + "; ".join(wrong))
        values["passage"] = int(values["passage"])  # type: ignore[call-overload]
        return cls(**values)  # type: ignore[arg-type]


def _finite(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
