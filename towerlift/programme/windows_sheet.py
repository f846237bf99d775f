"""What the roofer asks, and the sheet that answers: bands, windows, laps and parks."""

from dataclasses import dataclass, replace
from datetime import date, datetime

from towerlift.plan.work import Activity
from towerlift.programme.weather import WeatherNeed
from towerlift.programme.windows_bands import Band, Lap
from towerlift.programme.windows_cover import Cover
from towerlift.programme.windows_parks import Opening, Park
from towerlift.programme.windows_reach import LeafBoards

NO_WAY = "NOT GIVEN"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofAsk:
    """What the roofer asks.

    Attributes
    ----------
    day : date
        First day on which work may go on.
    n_roofers : int
        At work together.
    mean : float or None
        Mean wind at which they stop, at the deck; the gust goes with it in proportion.
        None is the plan's limits. [m/s]
    """

    day: date
    n_roofers: int
    mean: float | None = None

    def on(self, day: date) -> "RoofAsk":
        """The same asked of another day."""
        return replace(self, day=day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A time in which one band may be clad.

    Attributes
    ----------
    band : Band
        Which.
    opening : Opening
        Park and hours.
    boards : LeafBoards
        What must be laid out.
    low, high : float
        Heights s of the band that are reached. [m]
    off_by : datetime
        When they must be off, with tags counted.
    hours : float
        That the whole band takes. [s]
    share : float
        Of the band that there is time for: 1 is all of it. It may be broken off at the
        end of a course only.
    need : WeatherNeed
        Wind and dryness asked for, at the deck.
    chance : float
        That the weather holds for the band, or for what there is time for, within the
        window; NaN where nothing is known of the weather at that time.
    way_off, rescue : str
        How they get off, and how somebody hurt is got down.
    rescue_takes : float or None
        [s]
    """

    band: Band
    opening: Opening
    boards: LeafBoards
    low: float
    high: float
    off_by: datetime
    hours: float
    share: float
    need: WeatherNeed
    chance: float
    way_off: str
    rescue: str
    rescue_takes: float | None

    @property
    def whole(self) -> bool:
        """Whether all of the band is reached and there is time for all of it."""
        reached = self.low <= self.band.low + 1e-9 and self.high >= self.band.high - 1e-9
        return reached and self.share >= 1.0

    @property
    def complete(self) -> bool:
        """Whether way off, rescue and its time are given: without them it is no window."""
        return NO_WAY not in (self.way_off, self.rescue) and self.rescue_takes is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class BandSheet:
    """All about one band.

    Attributes
    ----------
    band : Band
        Which.
    planned : Activity or None
        When the plan dates it.
    fault : str
        Why the plan's date will not do; empty where it will, or where there is none.
    windows : tuple of Window
        From the day asked for on, in order of time.
    n_courses : int
        In it.
    hours : float
        By the rates. [s]
    park : Park or None
        The park from which the plan's date clads it, else the first that reaches it all.
    boards : LeafBoards or None
        At that park.
    """

    band: Band
    planned: Activity | None
    fault: str
    windows: tuple[Window, ...]
    n_courses: int
    hours: float
    park: Park | None
    boards: LeafBoards | None

    @property
    def first(self) -> Window | None:
        """First window in which all of it can be done."""
        return next((each for each in self.windows if each.whole and each.complete), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class MassUp:
    """What one band adds, and what is up with it.

    Attributes
    ----------
    band : str
        Name of it.
    when : datetime
        When the plan has it done.
    mass, total : float
        Of the band, and of all bands done by then. [kg]
    next_haul : str
        Stage that next hauls the section, which carries the total; empty if none does.
    """

    band: str
    when: datetime
    mass: float
    total: float
    next_haul: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofSheet:
    """Answer to what was asked.

    Attributes
    ----------
    ask : RoofAsk
        What was asked.
    bands : tuple of BandSheet
        Highest first.
    laps : tuple of Lap
        From the top down.
    unreached : tuple of (float, float)
        Heights s between the lowest and the highest band that no park reaches. [m]
    cover : Cover
        Fewest parks that reach all that can be reached.
    masses : tuple of MassUp
        Of the dated bands, in order of time.
    """

    ask: RoofAsk
    bands: tuple[BandSheet, ...]
    laps: tuple[Lap, ...]
    unreached: tuple[tuple[float, float], ...]
    cover: Cover
    masses: tuple[MassUp, ...]
