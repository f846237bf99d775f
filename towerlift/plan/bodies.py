"""What stands and what moves, as the plan writes it: shaft, sections, fixtures, fit-out.

Section coordinates: x east, y north from the section's own axis, s up from its
heel. Shaft coordinates: x east, y north from the plumb datum at the shaft foot,
z up.
"""

from enum import StrEnum
from typing import Literal

from pydantic import Field

from towerlift.plan.quantities import (
    Allowance,
    Angle,
    AnyShare,
    Area,
    Coordinate,
    Density,
    Energy,
    Flag,
    Force,
    Length,
    Mass,
    Name,
    PlanModel,
    Point,
    Pressure,
    Ratio,
    Share,
    SurfaceDensity,
)


class Face(StrEnum):
    """A side of the shaft or of a section, by the compass."""

    NORTH = "north"
    EAST = "east"
    SOUTH = "south"
    WEST = "west"


class Species(PlanModel):
    """A material by name, with the density it is reckoned at.

    Attributes
    ----------
    density : float
        As it will hang, wet or dry. [kg/m^3]
    source : str
        Who weighed it or where the figures are from.
    timber : str or None
        Its name in the table of timbers, from which its movement is taken.
    shrinkage_radial, shrinkage_tangential : float or None
        From green to oven-dry, share of the green size, where the table has it not.
    moisture, moisture_wettest : float or None
        Moisture content when the pieces were cut to size, and the most that is
        expected, share of the oven-dry mass.
    cut : str
        How its pieces lay in the log where they do not say so themselves.
    strength_class : str or None
        Strength class it was graded to, such as "D30", or a name in the plan's table of
        strengths; without one no stress in it can be judged.
    """

    name: Name
    density: Density
    source: str
    timber: Name | None = None
    shrinkage_radial: Share | None = None
    shrinkage_tangential: Share | None = None
    moisture: AnyShare | None = None
    moisture_wettest: AnyShare | None = None
    cut: Literal["flatsawn", "quartersawn", "boxed heart", "unknown"] = "unknown"
    strength_class: Name | None = None


class MeshFile(PlanModel):
    """A triangle mesh beside the plan.

    Attributes
    ----------
    file : str
        Path below the plan's folder: STL, OBJ, PLY, GLB or 3MF.
    unit : str
        Length unit of the file; never guessed.
    up : str
        Which way is up in the file.
    """

    file: Name
    unit: Literal["m", "mm", "cm", "ft", "in"]
    up: Literal["z", "y"] = "z"


class Station(PlanModel):
    """One height of the survey: where the four wall faces are. [m]"""

    z: Coordinate
    west: Coordinate
    east: Coordinate
    south: Coordinate
    north: Coordinate


class Ledge(PlanModel):
    """A named projection of the masonry that the survey (or mesh) already holds.

    Attributes
    ----------
    foot, head : float
        Heights between which it projects, shaft frame. [m]
    """

    mark: Name
    face: Face
    foot: Coordinate
    head: Coordinate


class WallOpening(PlanModel):
    """A window, door or other opening that a person has seen in the wall.

    A hole of the scan that lies in it hides nothing: clearance need not wait for it.

    Attributes
    ----------
    foot, head : float
        Heights between which it lies, shaft frame. [m]
    by : str
        Who has seen that nothing stands into the room there.
    note : str
        What it is, and how it was seen.
    """

    mark: Name
    face: Face
    foot: Coordinate
    head: Coordinate
    by: Name
    note: Name


class Shaft(PlanModel):
    """The masonry shaft.

    Attributes
    ----------
    survey : tuple of Station
        Four faces by height, lowest first, joined linearly; may be empty if a mesh is given.
    mesh : MeshFile or None
        A scan or model of the inside; may be open.
    uncertainty : float
        Survey uncertainty of a face, plus or minus. [m]
    wall_head : float
        Height of the top of the wall. [m]
    wall_thickness : float or None
        Of the wall at its foot. [m]
    bearing_strength : float or None
        What the masonry bears, design value; whoever says so stands in
        `bearing_source`. [Pa]
    wall_openings : tuple of WallOpening
        Openings that are known; every other hole of the scan counts as not seen.
    """

    survey: tuple[Station, ...] = ()
    mesh: MeshFile | None = None
    uncertainty: Allowance
    wall_head: Length
    wall_thickness: Length | None = None
    bearing_strength: Pressure | None = None
    bearing_source: str = ""
    ledges: tuple[Ledge, ...] = ()
    wall_openings: tuple[WallOpening, ...] = ()


class PlumbLine(PlanModel):
    """Where the axis of every section hangs, shaft frame.

    Attributes
    ----------
    x, y : float
        Offset of the axis from the plumb datum. [m]
    turn : float
        Rotation of the sections about the axis, anticlockwise from above. [rad]
    """

    x: Coordinate
    y: Coordinate
    turn: Angle = 0.0


class Member(PlanModel):
    """One placed piece of square-cut timber.

    Attributes
    ----------
    mark : str
        Unique in its section or fixture.
    part : str
        What kind of piece it is, such as "corner leg" or "brace foot".
    breadth, depth : float
        Section of the piece. With no roll, depth is measured upward and breadth
        level; for an upright piece depth is along y and breadth along x. [m]
    start, end : tuple of float
        Ends of its centre line (x, y, s), or (x, y, z) for a fixture. [m]
    roll : float
        Turn about the centre line, right-handed from start to end. [rad]
    cut : str
        How it lay in the log: flatsawn has its rings along the breadth, quartersawn
        along the depth; of an unknown piece every side moves as the rings do.
    """

    mark: Name
    part: Name
    species: Name
    breadth: Length
    depth: Length
    start: Point
    end: Point
    roll: Angle = 0.0
    cut: Literal["flatsawn", "quartersawn", "boxed heart", "unknown"] = "unknown"


class LumpedMass(PlanModel):
    """A mass that is not drawn: ironwork, pegs, an allowance.

    Attributes
    ----------
    centre : tuple of float
        Its centre of gravity, frame of the section it belongs to. [m]
    """

    mark: Name
    mass: Mass
    centre: Point
    note: str = ""


class Shell(PlanModel):
    """Boards or cladding on four sloping faces, centred on the section's axis.

    Attributes
    ----------
    foot, head : float
        Heights s between which it lies. [m]
    half_foot, half_head : float
        Half width of the surface it is laid on, at foot and head. [m]
    thickness : float
        How far it stands out from that surface, level. [m]
    surface_density : float
        Mass per sloping area. [kg/m^2]
    """

    foot: Coordinate
    head: Coordinate
    half_foot: Length
    half_head: Allowance
    thickness: Length
    surface_density: SurfaceDensity


class MarkedPoint(PlanModel):
    """A named place on a section: a lift point or a fid hole, (x, y, s). [m]"""

    mark: Name
    at: Point


class Shoe(PlanModel):
    """A greased pad that runs on a runner or rail; drawn as a member of the same mark.

    Attributes
    ----------
    member : str
        Mark of the member that is the pad.
    face : Face
        Face it bears on.
    running : float
        Gap left between pad and runner when the section hangs true. [m]
    """

    member: Name
    face: Face
    running: Length


class AsBuilt(PlanModel):
    """How far a section stands from its drawing at one height, by the trial assembly.

    Attributes
    ----------
    s : float
        Height above its heel. [m]
    north, east, south, west : float
        How much farther out each face stands than it is drawn, negative inward. [m]
    diagonals : float
        Length of the diagonal from north-east to south-west less that of the other. [m]
    twist : float
        Turn against the heel, anticlockwise from above. [rad]
    """

    s: Coordinate
    north: Coordinate = 0.0
    east: Coordinate = 0.0
    south: Coordinate = 0.0
    west: Coordinate = 0.0
    diagonals: Coordinate = 0.0
    twist: Angle = 0.0


class Weighed(PlanModel):
    """A mass read from a scale or load cell, which replaces the computed one."""

    mass: Mass
    tolerance: AnyShare
    by: Name
    note: str = ""


class Section(PlanModel):
    """One telescoping section.

    Attributes
    ----------
    length : float
        Heel to head. [m]
    members : tuple of Member
        Placed pieces; empty when `mesh` is given.
    mesh : MeshFile or None
        A closed solid instead of members; needs `density` or `weighed`.
    density : float or None
        Density of the solid of `mesh`. [kg/m^3]
    masses : tuple of LumpedMass
        Ironwork and allowances.
    weighed : Weighed or None
        Scale reading of members and masses together, without fit-out.
    mass_tolerance : float
        Share by which the computed mass may be out until it is weighed.
    lift_points, fids : tuple of MarkedPoint
        Where it is lifted, and where locking bars pass.
    shoes : tuple of Shoe
        Pads that guide it.
    nest_height : float or None
        Height s of the ledge that carries the heel of the next section in. [m]
    force_coefficient : float or None
        Wind force over pressure times outline, square to a face, from `force_source`;
        None takes that of a sharp-edged clad body.
    shoe_rating : float or None
        Side load that one shoe, the rail before it and what backs the rail are good
        for, from `rating_source`. [N]
    wedge_rating : float or None
        The same for the wedges of one leg on one face, once what is buried is wedged. [N]
    swelling : float
        Growth of one side in the wettest weather expected. [m]
    fabrication : float
        Workshop tolerance of a face, plus or minus. [m]
    lifted_by : str or None
        How its tackles take hold at each lift point: a strop round the piece there, or a
        pin through it.
    lift_bearing : float or None
        Width of the strop on the wood, or diameter of the pin. [m]
    lift_strapped : bool
        Whether pieces are strapped against splitting below a pin.
    as_built : tuple of AsBuilt
        Measured heights, lowest first; empty until the trial assembly.
    """

    name: Name
    length: Length
    members: tuple[Member, ...] = ()
    mesh: MeshFile | None = None
    density: Density | None = None
    masses: tuple[LumpedMass, ...] = ()
    weighed: Weighed | None = None
    mass_tolerance: Share = 0.08
    lift_points: tuple[MarkedPoint, ...]
    shoes: tuple[Shoe, ...] = ()
    fids: tuple[MarkedPoint, ...] = ()
    nest_height: Coordinate | None = None
    force_coefficient: Ratio | None = Field(default=None, gt=0, le=5)
    force_source: str = ""
    shoe_rating: Force | None = None
    wedge_rating: Force | None = None
    rating_source: str = ""
    swelling: Allowance
    fabrication: Allowance
    lifted_by: Literal["strop", "pin"] | None = None
    lift_bearing: Length | None = None
    lift_strapped: Flag = False
    as_built: tuple[AsBuilt, ...] = ()
    note: str = ""


class Fixture(PlanModel):
    """Something fixed in the shaft for a while: needles, gantry, deck, runners.

    Attributes
    ----------
    kind : str
        What it is; a deck or net may catch what falls, a needle may carry a section.
    members : tuple of Member
        Placed pieces in the shaft frame; a net is drawn as its border.
    catches : float or None
        Energy of a falling thing that it is rated to stop; None is not known. [J]
    reach : float or None
        How far a net reaches out beyond the edge that is worked at. [m]
    fine_mesh : bool
        Whether a net stops tools and splinters as well as people.
    """

    name: Name
    kind: Literal[
        "needle", "gantry", "deck", "net", "runner", "cross-bearer", "pendant", "other"
    ]
    members: tuple[Member, ...]
    catches: Energy | None = None
    reach: Length | None = None
    fine_mesh: Flag = False
    note: str = ""


class FitOut(PlanModel):
    """Something added to a section at a stage: bell frame, bells, boarding, cladding, finial.

    Attributes
    ----------
    on : str
        Section it becomes part of.
    members, shell, masses
        Its geometry and mass; at least one is given.
    trade : str
        Who puts it in.
    laid : str
        Whether cladding is of small pieces (shingles, slates, tiles) or of sheets (lead,
        felt), which the wind takes sooner and which must be laid dry.
    """

    name: Name
    kind: Literal["bell frame", "bells", "boarding", "cladding", "finial", "other"]
    on: Name
    members: tuple[Member, ...] = ()
    shell: Shell | None = None
    masses: tuple[LumpedMass, ...] = ()
    area: Area | None = None
    trade: str = ""
    laid: Literal["small pieces", "sheets"] = "small pieces"
    note: str = ""
