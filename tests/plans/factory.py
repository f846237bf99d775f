"""Small plans built in code, so that a test can break one rule at a time.

The tower is two or three bare sections of four legs each in a straight shaft; its
figures are round and stand for no tower.
"""

from collections.abc import Iterable, Sequence
from typing import Any

from towerlift.plan.model import Plan

CORNERS = ((-1, -1), (1, -1), (1, 1), (-1, 1))
DAY = "2027-04-24"
ZONE = "-02:00"


def at(clock: str, day: str = DAY) -> str:
    """A moment as the plan writes it, from a clock time."""
    return f"{day}T{clock}:00{ZONE}"


def legs(half: float, length: float, size: float = 0.2) -> list[dict[str, Any]]:
    """Four upright corner legs whose outer faces are `half` from the axis. [m]"""
    out = half - size / 2
    return [
        {
            "mark": f"leg {number}",
            "part": "corner leg",
            "species": "oak",
            "breadth": f"{size} m",
            "depth": f"{size} m",
            "start": [f"{x * out} m", f"{y * out} m", "0 m"],
            "end": [f"{x * out} m", f"{y * out} m", f"{length} m"],
        }
        for number, (x, y) in enumerate(CORNERS, start=1)
    ]


def section(name: str, half: float, length: float, **changes: Any) -> dict[str, Any]:
    """A section of four legs, lifted at its heel."""
    body: dict[str, Any] = {
        "name": name,
        "length": f"{length} m",
        "members": legs(half, length),
        "lift_points": [
            {"mark": f"P{number}", "at": [f"{x * half} m", f"{y * half} m", "0.1 m"]}
            for number, (x, y) in enumerate(CORNERS, start=1)
        ],
        "swelling": "3 mm",
        "fabrication": "6 mm",
    }
    return body | changes


def fixture(name: str, kind: str, z: float) -> dict[str, Any]:
    """A fixture of one beam from east to west at a height. [m]"""
    beam = {
        "mark": f"{name} 1",
        "part": kind,
        "species": "oak",
        "breadth": "0.2 m",
        "depth": "0.2 m",
        "start": ["-3.1 m", "0 m", f"{z} m"],
        "end": ["3.1 m", "0 m", f"{z} m"],
    }
    return {"name": name, "kind": kind, "members": [beam]}


def lift(
    name: str, of: str, hung_from: str, capstans: Sequence[int], **changes: Any
) -> dict[str, Any]:
    """A lift of four tackles, one a corner."""
    lines = [
        {
            "tackle": f"{name}.{number}",
            "lift_point": f"P{number}",
            "upper": [f"{x} m", f"{y} m", "30 m"],
            "coil": f"coil {number}",
            "capstan": f"C{capstan}",
        }
        for number, ((x, y), capstan) in enumerate(zip(CORNERS, capstans, strict=True), start=1)
    ]
    body: dict[str, Any] = {
        "name": name,
        "section": of,
        "hung_from": hung_from,
        "pattern": "four parts",
        "lines": lines,
        "guided": False,
        "friction": "3 %",
        "step": "0.5 m",
        "check_time": "2 min",
        "level_tolerance": "10 mm",
        "worst_corner": 1.15,
    }
    return body | changes


def hoist(name: str, by: str, to: float, picks_up: Iterable[str] = ()) -> list[dict[str, Any]]:
    """The steps that raise a section and leave it parked."""
    return [
        {"do": "sling", "section": name, "lift": by},
        {"do": "clear the column"},
        {"do": "float", "section": name, "height": "50 mm"},
        {"do": "lift", "section": name, "to": f"{to} m", "picks_up": list(picks_up)},
    ]


def land(name: str, on: str) -> list[dict[str, Any]]:
    """The steps that lock a parked section and take its tackles off."""
    return [
        {"do": "lock", "section": name, "on": on},
        {"do": "transfer", "section": name},
    ]


def stage(name: str, steps: Iterable[dict[str, Any]], **changes: Any) -> dict[str, Any]:
    """A stage, undated unless `starts` is given."""
    body: dict[str, Any] = {
        "name": name,
        "title": f"Stage {name}",
        "in_charge": "Ansa Morrow",
        "steps": list(steps),
    }
    return body | changes


def install(*names: str) -> list[dict[str, Any]]:
    """Steps that put fixtures in."""
    return [{"do": "install", "fixture": name} for name in names]


def strike(*names: str) -> list[dict[str, Any]]:
    """Steps that take fixtures out."""
    return [{"do": "strike", "fixture": name} for name in names]


def assemble(name: str) -> dict[str, Any]:
    """The step that builds a section on the shaft floor."""
    return {"do": "assemble", "section": name}


def orderly_stages() -> list[dict[str, Any]]:
    """Stages that raise belfry and spire and break no rule.

    The spire goes up on needles, the belfry is built below it under a deck, the
    spire is hung on pendants, and the rising belfry picks it up as planned.
    """
    return [
        stage("spire up", [
            *install("gantry"),
            assemble("spire"),
            *hoist("spire", "spire lift", 15.3),
            *install("high needles", "deck"),
            *land("spire", "high needles"),
        ]),
        stage("belfry built", [assemble("belfry"), {"do": "fit", "item": "bell frame"}]),
        stage("spire hung", [
            *install("pendants"),
            *hoist("spire", "spire lift", 15.5),
            {"do": "secure", "section": "spire", "on": "pendants"},
            {"do": "transfer", "section": "spire"},
            *strike("deck", "high needles"),
        ]),
        stage("belfry up", [
            *hoist("belfry", "belfry lift", 10.0, picks_up=["spire"]),
            *install("low needles"),
            *land("belfry", "low needles"),
        ]),
    ]  # fmt: skip


def tiny_plan(**changes: Any) -> Plan:
    """A plan that breaks no rule of order, with some of its keys replaced.

    Parameters
    ----------
    **changes : Any
        Keys of the plan file, as the file would hold them.

    Returns
    -------
    plan : Plan
        Base (13 m, ledge at 0.34), belfry (12.5 m, ledge at 6.8) and spire (13.5 m);
        fixtures gantry, high and low needles, pendants and deck; lifts "base lift",
        "belfry lift" and "spire lift", of which the first two share capstans.
    """
    body: dict[str, Any] = {
        "version": 1,
        "name": "tiny",
        "site": {
            "place": "Quillhaven",
            "latitude": "40 deg",
            "longitude": "-30 deg",
            "height": "12 m",
            "time_zone": "UTC-02:00",
            "day_1": DAY,
        },
        "people": [{"name": "Ansa Morrow", "role": "master of the raise"}],
        "species": [{"name": "oak", "density": "760 kg/m^3", "source": "weighed"}],
        "shaft": {
            "survey": [
                {"z": z, "west": "-3.1 m", "east": "3.1 m", "south": "-3.1 m", "north": "3.1 m"}
                for z in ("0 m", "30 m")
            ],
            "uncertainty": "5 mm",
            "wall_head": "30 m",
        },
        "plumb_line": {"x": "0 m", "y": "0 m"},
        "sections": [
            section("base", 2.8, 13.0, nest_height="0.34 m"),
            section("belfry", 2.25, 12.5, nest_height="6.8 m"),
            section("spire", 1.75, 13.5),
        ],
        "fixtures": [
            fixture("gantry", "gantry", 30.0),
            fixture("high needles", "needle", 15.0),
            fixture("low needles", "needle", 9.8),
            fixture("pendants", "pendant", 20.0),
            fixture("deck", "deck", 14.0),
        ],
        "fit_out": [
            {
                "name": "bell frame",
                "kind": "bell frame",
                "on": "belfry",
                "masses": [{"mark": "frame", "mass": "2 t", "centre": ["0 m", "0 m", "4.5 m"]}],
            },
            {
                "name": "cladding",
                "kind": "cladding",
                "on": "spire",
                "masses": [{"mark": "lead", "mass": "300 kg", "centre": ["0 m", "0 m", "9 m"]}],
            },
        ],
        "coils": [
            {
                "tag": f"coil {number}",
                "material": "polyester",
                "diameter": "32 mm",
                "length": "170 m",
                "breaking_force": "150 kN",
                "axial_stiffness": "690 kN",
                "derating": "75 %",
                "examined": "2027-04-01",
                "end": "eye splice",
                "source": "certificate",
            }
            for number in range(1, 5)
        ],
        "tackles": [
            {
                "name": "four parts",
                "parts": 4,
                "sheave_ratio": "93 %",
                "leads": 2,
                "fall_length": "42 m",
                "shortest": "1 m",
                "hardware": [
                    {
                        "name": f"block {place}",
                        "place": place,
                        "rated": "100 kN",
                        "source": "maker's plate",
                    }
                    for place in ("top", "moving")
                ],
            }
        ],
        "capstans": [
            {
                "mark": f"C{number}",
                "x": f"{2 * number} m",
                "y": "-8 m",
                "barrel_diameter": "300 mm",
                "bar_radius": "1.8 m",
                "efficiency": "85 %",
                "hands": 8,
                "reserve": 1,
                "push": "150 N",
                "walk": "0.55 m/s",
                "pawl_stops": 16,
            }
            for number in range(1, 9)
        ],
        "lifts": [
            lift("spire lift", "spire", "gantry", (1, 2, 3, 4)),
            lift("belfry lift", "belfry", "gantry", (5, 6, 7, 8)),
            lift("base lift", "base", "gantry", (5, 6, 7, 8)),
        ],
        "stages": orderly_stages(),
    }
    return Plan.model_validate(body | changes)
