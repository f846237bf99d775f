"""The plan: everything a person writes down before the raise, frozen, in SI."""

from typing import Literal

from pydantic import Field

from towerlift.plan.bodies import FitOut, Fixture, PlumbLine, Section, Shaft, Species
from towerlift.plan.holding import Anchor, GivenStrength, Hold, Pad
from towerlift.plan.paperwork import Arrangement, Signed, WayIn
from towerlift.plan.quantities import Name, PlanModel
from towerlift.plan.rigging import Capstan, Coil, Lift, Opening, SlingSet, Tackle
from towerlift.plan.work import (
    Activity,
    ChosenLimit,
    ChosenOverrule,
    Contact,
    Crew,
    Person,
    Site,
    SiteWind,
    Stage,
)

PLAN_VERSION = 1


class Plan(PlanModel):
    """A telescoping raise as planned.

    Attributes
    ----------
    version : int
        Version of the plan file's form.
    wind : SiteWind or None
        Wind at the site; without it no state can be said to survive a gust.
    sections : tuple of Section
        Outermost first: each nests inside the one before it.
    stages : tuple of Stage
        In the order in which they are carried out.
    revision : str
        As the plan's people count its revisions.
    signatures : tuple of Signed
        Hold points that have been signed.
    arrangements : tuple of Arrangement
        What is arranged on site.
    ways_in : tuple of WayIn
        How members come into the shaft.
    """

    version: Literal[1]
    name: Name
    note: str = ""
    revision: str = ""
    site: Site
    wind: SiteWind | None = None
    people: tuple[Person, ...]
    species: tuple[Species, ...]
    shaft: Shaft
    plumb_line: PlumbLine
    sections: tuple[Section, ...] = Field(min_length=1)
    fixtures: tuple[Fixture, ...] = ()
    fit_out: tuple[FitOut, ...] = ()
    coils: tuple[Coil, ...] = ()
    tackles: tuple[Tackle, ...] = ()
    capstans: tuple[Capstan, ...] = ()
    lifts: tuple[Lift, ...] = ()
    openings: tuple[Opening, ...] = ()
    slings: tuple[SlingSet, ...] = ()
    crews: tuple[Crew, ...] = ()
    activities: tuple[Activity, ...] = ()
    contacts: tuple[Contact, ...] = ()
    strengths: tuple[GivenStrength, ...] = ()
    locks: tuple[Hold, ...] = ()
    pads: tuple[Pad, ...] = ()
    anchors: tuple[Anchor, ...] = ()
    limits: tuple[ChosenLimit, ...] = ()
    overrules: tuple[ChosenOverrule, ...] = ()
    stages: tuple[Stage, ...] = Field(min_length=1)
    signatures: tuple[Signed, ...] = ()
    arrangements: tuple[Arrangement, ...] = ()
    ways_in: tuple[WayIn, ...] = ()
