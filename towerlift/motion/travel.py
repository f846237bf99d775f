"""Where one is in the raise, as a single number, and how a passage is told in words."""

from dataclasses import dataclass
from math import floor

from towerlift.motion.passages import Passage
from towerlift.motion.raises import Raise
from towerlift.motion.walk import names


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """One moment of the raise.

    Attributes
    ----------
    passage : Passage
        The passage it lies in.
    share : float
        Share of the passage that is done, 0 to 1.
    """

    passage: Passage
    share: float

    @property
    def position(self) -> float:
        """Number of passages done, the last one in part."""
        return self.passage.index + self.share

    def heel(self, section: str) -> float | None:
        """Heel height of a section, None if it is not in the shaft.

        Parameters
        ----------
        section : str
            Name of a section.

        Returns
        -------
        heel : float or None
            Shaft frame. [m]
        """
        if section not in self.passage.standing:
            return None
        return self.passage.heel(section, self.share)


@dataclass(frozen=True, slots=True, kw_only=True)
class StageSpan:
    """Where a stage begins and ends in the raise.

    Attributes
    ----------
    stage : str
        Name of the stage.
    first, last : float
        Positions at which it begins and ends, from 0 to the number of passages.
    """

    stage: str
    first: float
    last: float


def locate(raise_: Raise, position: float) -> Moment:
    """The moment at a position along the raise.

    Parameters
    ----------
    raise_ : Raise
        The whole raise.
    position : float
        From 0 to the number of passages; the whole part is the passage, the rest the
        share of it that is done. The far end belongs to the last passage.

    Returns
    -------
    moment : Moment
        Passage and share.

    Raises
    ------
    ValueError
        If the position lies outside the raise.
    """
    count = len(raise_.passages)
    if not 0 <= position <= count:
        raise ValueError(f"position must be from 0 to {count}, got {position}")
    index = min(floor(position), count - 1)
    return Moment(passage=raise_.passages[index], share=position - index)


def position_at(passage: Passage, heel: float) -> float:
    """Position along the raise at which the hauled section's heel is at a height.

    Parameters
    ----------
    passage : Passage
        One in which something moves.
    heel : float
        Heel height of the hauled section, shaft frame. [m]

    Returns
    -------
    position : float
        As `locate` takes it.

    Raises
    ------
    ValueError
        If nothing moves, or the passage does not reach that height.
    """
    if not passage.moving:
        raise ValueError(f"nothing moves in passage {passage.index} ({passage.step})")
    place = passage.standing[passage.moving[0]]
    share = (heel - place.heel_from) / (place.heel_to - place.heel_from)
    if not 0 <= share <= 1:
        raise ValueError(
            f"heel {heel} m lies outside passage {passage.index}, "
            f"{place.heel_from} to {place.heel_to} m"
        )
    return passage.index + share


def stage_spans(raise_: Raise) -> tuple[StageSpan, ...]:
    """First and last position of every stage that has steps.

    Parameters
    ----------
    raise_ : Raise
        The whole raise.

    Returns
    -------
    spans : tuple of StageSpan
        In order, each beginning where the one before it ends.
    """
    spans: list[StageSpan] = []
    for passage in raise_.passages:
        first = float(passage.index)
        if spans and spans[-1].stage == passage.stage:
            first = spans.pop().first
        spans.append(StageSpan(stage=passage.stage, first=first, last=passage.index + 1.0))
    return tuple(spans)


def total_travel(raise_: Raise) -> float:
    """Height hauled in the whole raise, up and down both counted. [m]

    Parameters
    ----------
    raise_ : Raise
        The whole raise.

    Returns
    -------
    travel : float
        Never negative. [m]
    """
    return sum(abs(passage.travel) for passage in raise_.passages)


_TOLD = {
    "assemble": "the {0} is assembled",
    "sling": "the tackles are made fast to the {0}",
    "float": "the {0} is floated",
    "lift": "the {0} is held",
    "lower": "the {0} is held",
    "secure": "the {0} is secured",
    "lock": "the {0} is locked",
    "transfer": "the tackles come off the {0}",
    "fit": "{0} goes in",
    "install": "{0} is put in place",
    "strike": "{0} is taken out",
    "clear the column": "the column is cleared",
}


def describe(passage: Passage) -> str:
    """A passage in words.

    Parameters
    ----------
    passage : Passage
        Any passage.

    Returns
    -------
    text : str
        Such as "L2: belfry and spire rise, heel 13.90 to 15.00 m".
    """
    if not passage.moving:
        return f"{passage.stage}: {_TOLD[passage.step].format(passage.subject)}"
    place = passage.standing[passage.moving[0]]
    one = len(passage.moving) == 1
    verb = ("rises" if one else "rise") if passage.travel > 0 else ("sinks" if one else "sink")
    return (
        f"{passage.stage}: {names(passage.moving)} {verb}, heel {place.heel_from:.2f} to "
        f"{place.heel_to:.2f} m"
    )
