"""What a section stands on and what holds the ropes down, as the plan writes it."""

from typing import Literal

from pydantic import Field

from towerlift.plan.quantities import (
    Allowance,
    Angle,
    Coordinate,
    Density,
    Flag,
    Force,
    Length,
    Name,
    PlanModel,
    Pressure,
    Stiffness,
    Whole,
)


class GivenStrength(PlanModel):
    """Strengths of a material that is in no table, or that somebody sets otherwise.

    Attributes
    ----------
    kind : str
        A metal has no grain: its yield strength stands as `bending`.
    bending, tension, compression : float
        Characteristic strength along the grain; the last two may be left out of a
        metal. [Pa]
    across, shear : float or None
        Compression across the grain, and shear. [Pa]
    modulus, shear_modulus : float
        Mean. [Pa]
    modulus_low : float or None
        Characteristic modulus of elasticity, for slender pieces. [Pa]
    source : str
        Certificate, standard with its edition, or the engineer who answers for it.
    """

    name: Name
    kind: Literal["softwood", "hardwood", "metal"]
    bending: Pressure
    tension: Pressure | None = None
    compression: Pressure | None = None
    across: Pressure | None = None
    shear: Pressure | None = None
    modulus: Pressure
    modulus_low: Pressure | None = None
    shear_modulus: Pressure
    source: Name


class BearingLedge(PlanModel):
    """One of the two ledges that a locking bar lies on, one on each side of the leg.

    Attributes
    ----------
    side : str
        Which side of the leg, for the reader.
    member : str or None
        Mark of the piece of the carrying section that it is cut in, where it is drawn:
        species and grain are then those of the drawing.
    species : str or None
        Where it is not drawn.
    grain : str or None
        "end" where the bar lies on end grain, "across" where it lies across the grain;
        where it is not drawn.
    let_into : str or None
        Mark of the piece of the carrying section that a ledge which is not drawn is let
        into: a block as broad as its narrower side and as deep as the bearing, which bears
        on it.
    bearing : float
        Length of the bar that lies on it. [m]
    """

    side: Name
    member: Name | None = None
    species: Name | None = None
    grain: Literal["end", "across"] | None = None
    let_into: Name | None = None
    bearing: Length


class Hold(PlanModel):
    """What holds one section on another, on a fixture or in its pendants.

    Attributes
    ----------
    of, on : str
        Section, and the section or fixture that carries it.
    by : str
        "heel" where its legs stand on what carries it, "fid" where a bar through each
        leg lies on ledges, "pendant" where chains carry it.
    lasts : str
        How long the load is meant to lie on it, by the classes of EN 1995-1-1; the
        lock that is the last is permanent whatever is written here.
    species, breadth, depth
        Of a fid: what the bar is of, its breadth and its depth (upward). [m]
    side_gap : float or None
        Gap between leg and ledge that the bar bridges on each side. [m]
    way : str or None
        Which way the fids lie; None where a ledge that is drawn shows it.
    ledges : tuple of BearingLedge
        Both ledges of each fid.
    strapped : bool
        Whether the leg is strapped against splitting below its hole.
    plate_length, plate_breadth, plate_thickness : float or None
        Of a metal plate between heel and needle, along the needle and across it. [m]
    rated : float or None
        Rated load of each pendant with its shackles. [N]
    release : float or None
        How far the section may come down when its tackles are slacked: gap left at the
        ledges, and bedding. [m]
    heights : tuple of float
        Measured heights of the ledges, in the order of the section's fids, or of its
        legs as they are listed; empty until they are measured. With them goes
        `stiffness`. [m]
    packed_to : float or None
        How unequal the ledges may be left, proved by feeler gauge before the tackles come
        off; without it two legs may carry the whole frame. [m]
    stiffness : float or None
        Of one leg on its ledge, with its bar. [N/m]
    signed_by : str or None
        Who proves the contact and signs the certificate.
    source : str
        Of the rating, the bar or the stiffness.
    """

    of: Name
    on: Name
    by: Literal["heel", "fid", "pendant"]
    lasts: Literal["permanent", "long", "medium", "short"] = "permanent"
    species: Name | None = None
    breadth: Length | None = None
    depth: Length | None = None
    side_gap: Allowance | None = None
    way: Literal["east-west", "north-south"] | None = None
    ledges: tuple[BearingLedge, ...] = ()
    strapped: Flag = False
    plate_length: Length | None = None
    plate_breadth: Length | None = None
    plate_thickness: Length | None = None
    rated: Force | None = None
    release: Allowance | None = None
    heights: tuple[Coordinate, ...] = ()
    packed_to: Allowance | None = None
    stiffness: Stiffness | None = None
    signed_by: Name | None = None
    source: str = ""


class Pad(PlanModel):
    """What the ends of a fixture's pieces lie on in the masonry.

    Attributes
    ----------
    under : str
        Fixture.
    members : tuple of str
        Marks of its pieces; a trailing ``*`` takes every mark that begins so. Both ends
        of each lie on such a pad.
    length, breadth, thickness : float
        Of the pad: along the piece, across it, and deep. [m]
    bearing : float
        Length of the piece that lies on the pad. [m]
    set_back : float
        From the edge of the pad that faces the shaft to where the piece begins to
        bear. [m]
    tied : float or None
        Pull that the tie holding the piece down is rated for. [N]
    """

    under: Name
    members: tuple[Name, ...] = Field(min_length=1)
    length: Length
    breadth: Length
    thickness: Length
    bearing: Length
    set_back: Allowance = 0.0
    tied: Force | None = None
    note: str = ""


class Anchor(PlanModel):
    """What holds capstans or lead blocks, in the ground or in the masonry.

    Attributes
    ----------
    holds : str
        "capstan", or "lead block" of the falls to these capstans.
    capstans : tuple of str
        Which; one such anchor each.
    block : int or None
        Which lead block, 1 next to the tackle.
    kind : str
        What it is.
    length, depth : float or None
        Of a deadman: its length across the pull, and how deep its foot is buried. [m]
    soil_density : float or None
        Of the ground as it lies. [kg/m^3]
    friction_angle : float or None
        Of the ground. [rad]
    pickets : str or None
        Combination of pickets in undisturbed loam.
    tested : float or None
        Pull to which it has been tested. [N]
    source : str
        Who looked at the ground, and who tested.
    """

    name: Name
    holds: Literal["capstan", "lead block"]
    capstans: tuple[Name, ...] = Field(min_length=1)
    block: Whole | None = Field(default=None, ge=1, le=8)
    kind: Literal["deadman", "pickets", "masonry"]
    length: Length | None = None
    depth: Length | None = None
    soil_density: Density | None = None
    friction_angle: Angle | None = None
    pickets: Literal["1", "1-1-1", "3-2-1"] | None = None
    tested: Force | None = None
    source: Name
