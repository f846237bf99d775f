"""What a plan says that cannot be: heights, sizes, orders and times that contradict."""

import math
import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from towerlift.errors import UnitError
from towerlift.plan.crossrefs import Complaint, cycle_in
from towerlift.plan.files import FileProblemError, file_below
from towerlift.plan.tree import Row
from towerlift.timber import UnknownSpeciesError, find_species, find_strengths
from towerlift.units import Dimension, parse_quantity

_OVERHANG = 1.0  # how far past heel or head a member may end [m]
_OFFSET = re.compile(r"UTC[+-](0\d|1[0-4]):[0-5]\d")
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")


def without_sense(plan: Row, folder: Path) -> Iterator[Complaint]:
    """Values that can be read, but not together or not in any real tower.

    Parameters
    ----------
    plan : Row
        As much of it as could be read.
    folder : Path
        Where its mesh files are.

    Yields
    ------
    at : tuple of str or int
        Where the value stands.
    words : str
        What is wrong and what would be right.
    """
    yield from _site(plan)
    shaft = plan.row("shaft")
    if shaft is not None:
        yield from _survey(shaft)
        yield from _within_survey(shaft)
        yield from _mesh(shaft, folder)
    for section in plan.rows("sections"):
        yield from _section(section)
        yield from _as_built(section)
        yield from _mesh(section, folder)
    for species in plan.rows("species"):
        yield from _timber(species)
        yield from _strength(species, plan)
    yield from _holding(plan)
    yield from _openings(plan)
    yield from _nesting(plan)
    for body in (*plan.rows("sections"), *plan.rows("fixtures"), *plan.rows("fit_out")):
        yield from _no_length(body)
    yield from _fit_out(plan)
    yield from _stage_order(plan)
    yield from _activities(plan)
    yield from _hours(plan)
    yield from _limits(plan)


def _site(plan: Row) -> Iterator[Complaint]:
    site = plan.row("site")
    if site is None:
        return
    for key, most in (("latitude", 90), ("longitude", 180)):
        value = site.number(key)
        if value is not None and not abs(math.degrees(value)) <= most:
            yield (
                site.place(key),
                f"got {math.degrees(value):g} deg; write between -{most} and {most} deg",
            )
    zone = site.text("time_zone")
    if zone is not None and not _is_zone(zone):
        yield (
            site.place("time_zone"),
            f'got "{zone}"; write an IANA name such as "Etc/GMT+2" or an offset such as '
            '"UTC-02:00"',
        )


def _is_zone(name: str) -> bool:
    if _OFFSET.fullmatch(name):
        return True
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def _survey(shaft: Row) -> Iterator[Complaint]:
    stations = shaft.rows("survey")
    if not shaft.has("survey") and not shaft.has("mesh"):
        yield shaft.place("survey"), "missing, and there is no mesh; give one or both"
    if len(stations) == 1:
        yield shaft.place("survey"), "has one station; give two or more, lowest first"
    for station in stations:
        for low, high in (("west", "east"), ("south", "north")):
            near, far = station.number(low), station.number(high)
            if near is not None and far is not None and not far > near:
                yield (
                    station.place(high),
                    f"{high} {far:g} m is not beyond {low} {near:g} m, so the shaft has no "
                    "clear width; check the signs (east and north positive)",
                )
    for below, above in pairwise(stations):
        low_z, high_z = below.number("z"), above.number("z")
        if low_z is not None and high_z is not None and not high_z > low_z:
            yield (
                above.place("z"),
                f"{high_z:g} m is not above the station before it ({low_z:g} m); "
                "write the stations lowest first",
            )


def _within_survey(shaft: Row) -> Iterator[Complaint]:
    heights = [z for row in shaft.rows("survey") if (z := row.number("z")) is not None]
    foot, top = (min(heights), max(heights)) if heights else (-math.inf, math.inf)
    span = f"the survey, {foot:g} m to {top:g} m"
    head = shaft.number("wall_head")
    if head is not None and not foot < head <= top:
        yield shaft.place("wall_head"), f"{head:g} m is outside {span}"
    for row in (*shaft.rows("ledges"), *shaft.rows("wall_openings")):
        low, high = row.number("foot"), row.number("head")
        for key, z in (("foot", low), ("head", high)):
            if z is not None and not foot <= z <= top:
                yield row.place(key), f"{z:g} m is outside {span}"
        if low is not None and high is not None and not high > low:
            yield row.place("head"), f"{high:g} m is not above its foot, {low:g} m"


def _mesh(body: Row, folder: Path) -> Iterator[Complaint]:
    mesh = body.row("mesh")
    name = mesh.text("file") if mesh is not None else None
    if mesh is not None and name is not None:
        try:
            file_below(folder, name)
        except FileProblemError as error:
            yield mesh.place("file"), str(error)


def _section(section: Row) -> Iterator[Complaint]:
    members, mesh = section.has("members"), section.has("mesh")
    if not members and not mesh:
        yield section.at, "has neither members nor mesh; give one of them"
    if members and mesh:
        yield section.place("mesh"), "stands beside members; keep one of them"
    if mesh and not section.has("density") and not section.has("weighed"):
        yield section.place("mesh"), "has no mass; add density or weighed"
    length = section.number("length")
    if length is None:
        return
    nest = section.number("nest_height")
    if nest is not None and not 0 <= nest < length:
        yield (
            section.place("nest_height"),
            f"{nest:g} m is outside the section; write from 0 m to below {length:g} m",
        )
    outside = f"m is outside the section, 0 m to {length:g} m"
    for member in section.rows("members"):
        for key in ("start", "end"):
            point = member.point(key)
            if point is not None and not -_OVERHANG <= point[2] <= length + _OVERHANG:
                yield (
                    member.place(key, 2),
                    f"s {point[2]:g} {outside}, by more than {_OVERHANG:g} m",
                )
    for kind, key, slack in (
        ("masses", "centre", _OVERHANG),
        ("lift_points", "at", 0.0),
        ("fids", "at", 0.0),
    ):
        for row in section.rows(kind):
            point = row.point(key)
            if point is not None and not -slack <= point[2] <= length + slack:
                yield row.place(key, 2), f"s {point[2]:g} {outside}"


def _timber(species: Row) -> Iterator[Complaint]:
    name = species.text("timber")
    if name is not None:
        try:
            find_species(name)
        except UnknownSpeciesError as error:
            yield species.place("timber"), str(error)
    now, wettest = species.number("moisture"), species.number("moisture_wettest")
    if (now is None) != (wettest is None):
        yield (
            species.place("moisture" if now is None else "moisture_wettest"),
            "missing; give both moisture contents, that at cutting and the most expected",
        )


def _strength(species: Row, plan: Row) -> Iterator[Complaint]:
    name = species.text("strength_class")
    given = [row.text("name") for row in plan.rows("strengths")]
    if name is None or name in given or "strengths" in plan.unread:
        return
    try:
        find_strengths(name)
    except UnknownSpeciesError as error:
        yield species.place("strength_class"), str(error)


def _holding(plan: Row) -> Iterator[Complaint]:
    shaft = plan.row("shaft")
    if shaft is not None and shaft.has("bearing_strength") and not shaft.text("bearing_source"):
        yield shaft.place("bearing_source"), "missing; say who sets what the masonry bears"
    seen: set[tuple[str | None, ...]] = set()
    for lock in plan.rows("locks"):
        key = (lock.text("of"), lock.text("on"), lock.text("by"))
        if key in seen and None not in key:
            yield (
                lock.at,
                f'"{key[0]}" on "{key[1]}" by {key[2]} is there already; keep one row',
            )
        seen.add(key)
        for ledge in lock.rows("ledges"):
            drawn, told = ledge.has("member"), ledge.has("species") and ledge.has("grain")
            if drawn == told:
                yield (
                    ledge.place("member"),
                    "write either the drawn member that the ledge is cut in, or species and "
                    "grain of one that is not drawn",
                )
            if drawn and ledge.has("let_into"):
                yield (
                    ledge.place("let_into"),
                    "only a ledge that is not drawn is let into a piece",
                )
    for pad in plan.rows("pads"):
        length, back, bears = (pad.number(k) for k in ("length", "set_back", "bearing"))
        if length is not None and bears is not None and not (back or 0.0) + bears <= length:
            yield (
                pad.place("bearing"),
                f"{bears:g} m from a set-back of {back or 0.0:g} m ends beyond the pad of "
                f"{length:g} m",
            )
    for anchor in plan.rows("anchors"):
        yield from _anchor(anchor)


def _anchor(anchor: Row) -> Iterator[Complaint]:
    needs = {
        "deadman": ("length", "depth", "soil_density", "friction_angle"),
        "pickets": ("pickets",),
    }
    for key in needs.get(anchor.text("kind") or "", ()):
        if not anchor.has(key):
            yield anchor.place(key), f"missing; {anchor.text('kind')} needs it"
    if anchor.text("holds") == "lead block" and not anchor.has("block"):
        yield anchor.place("block"), "missing; say which lead block, 1 next to the tackle"
    angle = anchor.number("friction_angle")
    if angle is not None and not 0 < angle < math.pi / 4:
        yield (
            anchor.place("friction_angle"),
            f"got {math.degrees(angle):g} deg; write above 0 and below 45 deg",
        )


def _openings(plan: Row) -> Iterator[Complaint]:
    keys = ("clear_east", "clear_north", "clear_up")
    for opening in plan.rows("openings"):
        given = [key for key in keys if opening.has(key)]
        if not given:
            yield (
                opening.place(keys[0]),
                "missing; give the clear width across the lines, along one axis or two",
            )
        if len(given) == len(keys):
            yield (
                opening.place(keys[2]),
                "leaves no way through the piece; give no width along the lines",
            )


def _as_built(section: Row) -> Iterator[Complaint]:
    for below, above in pairwise(section.rows("as_built")):
        low, high = below.number("s"), above.number("s")
        if low is not None and high is not None and not high > low:
            yield (
                above.place("s"),
                f"{high:g} m is not above the row before it ({low:g} m); write the measured "
                "heights lowest first",
            )


def _no_length(body: Row) -> Iterator[Complaint]:
    for member in body.rows("members"):
        start, end = member.point("start"), member.point("end")
        if start is not None and end is not None and not math.dist(start, end) > 0:
            yield member.place("end"), "is where the member starts; a member needs a length"


def _half_width(section: Row) -> float | None:
    reach = []
    for member in section.rows("members"):
        breadth, depth = member.number("breadth"), member.number("depth")
        for point in (member.point("start"), member.point("end")):
            if point is None or breadth is None or depth is None:
                return None
            reach.append(max(abs(point[0]), abs(point[1])) + min(breadth, depth) / 2)
    return max(reach, default=None)


def _nesting(plan: Row) -> Iterator[Complaint]:
    for outer, inner in pairwise(plan.rows("sections")):
        around, within = _half_width(outer), _half_width(inner)
        if around is not None and within is not None and not within < around:
            yield (
                inner.at,
                f"reaches {within:.4g} m from the axis and cannot nest in "
                f'"{outer.text("name")}", which reaches {around:.4g} m; write the sections '
                "outermost first, each smaller than the one before",
            )


def _fit_out(plan: Row) -> Iterator[Complaint]:
    for item in plan.rows("fit_out"):
        if not any(item.has(key) for key in ("members", "shell", "masses")):
            yield item.at, "has no geometry and no mass; give members, shell or masses"
        shell = item.row("shell")
        if shell is None:
            continue
        foot, head = shell.number("foot"), shell.number("head")
        if foot is not None and head is not None and not head > foot:
            yield shell.place("head"), f"{head:g} m is not above its foot, {foot:g} m"


def _stage_order(plan: Row) -> Iterator[Complaint]:
    stages = plan.rows("stages")
    after = {name: stage.names("after") for stage in stages if (name := stage.text("name"))}
    place = {name: i for i, stage in enumerate(stages) if (name := stage.text("name"))}
    ring = cycle_in(after)
    if ring:
        yield (
            ("stages", place[ring[0]], "after"),
            f"the stages wait for each other: {' after '.join(ring)}; break the ring",
        )
    for stage in stages:
        name = stage.text("name")
        for index, earlier in enumerate(stage.names("after")):
            if name is None or earlier not in place or (earlier in ring and name in ring):
                continue
            if place[earlier] >= place[name]:
                yield (
                    stage.place("after", index),
                    f'"{earlier}" comes later in the plan than "{name}"; write the stages in '
                    "the order in which they are carried out",
                )


def _activities(plan: Row) -> Iterator[Complaint]:
    for activity in plan.rows("activities"):
        starts, ends = activity.moment("starts"), activity.moment("ends")
        if starts is not None and ends is not None and not ends > starts:
            yield (
                activity.place("ends"),
                f"{ends.isoformat()} is not after it starts, {starts.isoformat()}",
            )
        low, high = activity.number("lowest"), activity.number("highest")
        if low is not None and high is not None and not high > low:
            yield activity.place("highest"), f"{high:g} m is not above lowest, {low:g} m"
        if activity.text("place") == "on" and not activity.has("section"):
            yield activity.place("section"), 'missing; place is "on", so write on which section'
        if activity.has("within") and not activity.names("after"):
            yield activity.place("within"), "counts from the end of what is in `after`; name it"


def _hours(plan: Row) -> Iterator[Complaint]:
    site = plan.row("site")
    for row in [*([] if site is None else [site]), *plan.rows("crews")]:
        first, last = row.text("works_from"), row.text("works_to")
        if first is not None and last is not None and not first < last:
            yield row.place("works_to"), f'"{last}" is not after works_from, "{first}"'


def _limits(plan: Row) -> Iterator[Complaint]:
    for row in (*plan.rows("limits"), *plan.rows("overrules")):
        value = row.text("value")
        if value is not None and not _is_limit(value):
            yield (
                row.place("value"),
                f'got "{value}"; write a number, with its unit where the limit has one, such '
                'as "6.75 m" or "2"',
            )


def _is_limit(text: str) -> bool:
    if _NUMBER.fullmatch(text):
        return math.isfinite(float(text))
    for dimension in Dimension:
        try:
            parse_quantity(text, dimension)
        except UnitError:
            continue
        return True
    return False
