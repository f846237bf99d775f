"""A small made-up outcome: two nesting frames in a shaft, curves and findings by hand."""

from dataclasses import fields
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any

import numpy as np

from towerlift.findings import Bound, Finding, Limit, Overrule, worst_first
from towerlift.motion.passages import Passage, Standing, State
from towerlift.motion.raises import Raise
from towerlift.nesting import Nesting
from towerlift.nesting.curves import GapCurve
from towerlift.nesting.pairs import Workshop
from towerlift.plan.bodies import PlumbLine
from towerlift.plan.model import Plan
from towerlift.rig.curves import HangCurve
from towerlift.shapes.solids import MassProperties, Piece, Shapes, Solid
from towerlift.workflow import Outcome

HALF_SHAFT = 3.0
SHAFT_HEAD = 16.0
LEG = 0.4
OUTER_HALF, INNER_HALF = 2.3, 1.4
OUTER_LENGTH, INNER_LENGTH = 8.0, 9.0
PLUMB = (0.05, -0.02)

_BOX = np.array(
    [
        [0, 3, 2], [0, 2, 1], [4, 5, 6], [4, 6, 7], [0, 1, 5], [0, 5, 4],
        [1, 2, 6], [1, 6, 5], [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7],
    ]
)  # fmt: skip


def box(low, high):
    """Eight corners of an upright box."""
    (a, b, c), (d, e, f) = low, high
    return np.array(
        [
            [a, b, c],
            [d, b, c],
            [d, e, c],
            [a, e, c],
            [a, b, f],
            [d, b, f],
            [d, e, f],
            [a, e, f],
        ],
        dtype=float,
    )


def solid(name, boxes):
    """A solid of upright boxes, given as (mark, part, low, high)."""
    vertices = np.concatenate([box(low, high) for _, _, low, high in boxes])
    faces = np.concatenate([_BOX + 8 * n for n in range(len(boxes))])
    return Solid(
        name=name,
        vertices=vertices,
        faces=faces,
        members=np.repeat(np.arange(len(boxes)), 12),
        marks=tuple(mark for mark, _, _, _ in boxes),
        parts=tuple(part for _, part, _, _ in boxes),
        closed=True,
    )


def _frame_boxes(half, length, levels):
    boxes = []
    for name, x, y in (("NE", 1, 1), ("SE", 1, -1), ("SW", -1, -1), ("NW", -1, 1)):
        at = np.array([x, y]) * (half - LEG / 2)
        low, high = at - LEG / 2, at + LEG / 2
        boxes.append((f"leg {name}", "corner leg", (*low, 0.0), (*high, length)))
    for n, s in enumerate(levels):
        a, b = half - 0.3, half - 0.05
        boxes += [
            (f"girt N{n}", "girt", (-a, a, s), (a, b, s + 0.25)),
            (f"girt S{n}", "girt", (-a, -b, s), (a, -a, s + 0.25)),
            (f"girt E{n}", "girt", (a, -a, s), (b, a, s + 0.25)),
            (f"girt W{n}", "girt", (-b, -a, s), (-a, a, s + 0.25)),
        ]
    return boxes


def _shaft():
    h, top = HALF_SHAFT, SHAFT_HEAD
    corners = box((-h, -h, 0.0), (h, h, top))
    walls = _BOX[4:][:, ::-1]  # four sides, seen from inside
    marks = ("south wall", "east wall", "north wall", "west wall")
    return Solid(
        name="shaft",
        vertices=corners,
        faces=walls,
        members=np.repeat(np.arange(4), 2),
        marks=marks,
        parts=marks,
        closed=False,
    )


def _mass(kg, height):
    return MassProperties(
        mass=kg, centre=np.array([0.0, 0.0, height]), inertia=np.eye(3) * kg, tolerance=0.08
    )


def _shapes():
    outer = solid("outer", _frame_boxes(OUTER_HALF, OUTER_LENGTH, (0.2, 3.7, 7.4)))
    inner = solid("inner", _frame_boxes(INNER_HALF, INNER_LENGTH, (0.2, 4.2, 8.4)))
    skin = solid("skin", [("skin", "boarding", (-1.45, -1.45, 5.0), (1.45, 1.45, 8.0))])
    needles = solid(
        "needles",
        [
            ("needle N", "needle", (-3.0, 0.9, 5.7), (3.0, 1.2, 6.0)),
            ("needle S", "needle", (-3.0, -1.2, 5.7), (3.0, -0.9, 6.0)),
        ],
    )
    return Shapes(
        shaft=_shaft(),
        unseen=(),
        sections={
            "outer": Piece(solid=outer, mass=_mass(9000.0, 4.0)),
            "inner": Piece(solid=inner, mass=_mass(4000.0, 4.5)),
        },
        fit_out={
            "skin": Piece(solid=skin, mass=_mass(300.0, 6.5)),
            "bell": Piece(solid=None, mass=_mass(200.0, 5.0)),
        },
        fixtures={"needles": needles},
        fitted_on={"skin": "inner", "bell": "inner"},
    )


def _member(mark, part, species, start, end):
    def point(at):
        return [f"{x} m" for x in at]

    return {
        "mark": mark, "part": part, "species": species, "breadth": "0.4 m", "depth": "0.4 m",
        "start": point(start), "end": point(end),
    }  # fmt: skip


def _section(name, half, length, species):
    members = [
        _member(f"leg {corner}", "corner leg", species, (x, y, 0), (x, y, length))
        for corner, x, y in (
            ("NE", half, half),
            ("SE", half, -half),
            ("SW", -half, -half),
            ("NW", -half, half),
        )
    ]
    return {
        "name": name,
        "length": f"{length} m",
        "members": members,
        "lift_points": [
            {"mark": corner, "at": [f"{x} m", f"{y} m", "0.5 m"]}
            for corner, x, y in (("NE", half, half), ("SW", -half, -half))
        ],
        "nest_height": "2 m",
        "swelling": "4 mm",
        "fabrication": "5 mm",
    }


def _plan():
    def survey(z):
        return {"z": z, "west": "-3 m", "east": "3 m", "south": "-3 m", "north": "3 m"}

    stage = {"in_charge": "Wenna Holt"}
    return Plan.model_validate(
        {
            "version": 1,
            "name": "Made-up pair",
            "site": {
                "place": "Quillhaven", "latitude": "40 deg", "longitude": "-30 deg",
                "height": "12 m", "time_zone": "UTC-02:00", "day_1": "2027-04-01",
            },
            "people": [{"name": "Wenna Holt", "role": "engineer"}],
            "species": [
                {"name": "oak", "density": "760 kg/m^3", "source": "weighed"},
                {"name": "Douglas fir", "density": "550 kg/m^3", "source": "weighed"},
            ],
            "shaft": {
                "survey": [survey("0 m"), survey("16 m")],
                "uncertainty": "5 mm",
                "wall_head": "16 m",
            },
            "plumb_line": {"x": f"{PLUMB[0]} m", "y": f"{PLUMB[1]} m"},
            "sections": [
                _section("outer", OUTER_HALF, OUTER_LENGTH, "oak"),
                _section("inner", INNER_HALF, INNER_LENGTH, "Douglas fir"),
            ],
            "stages": [
                {"name": "A0", "title": "build both frames", **stage},
                {"name": "A1", "title": "raise the inner frame", **stage},
                {"name": "A2", "title": "raise the outer frame", **stage},
                {"name": "A3", "title": "lower the outer frame on its needles", **stage},
            ],
        }
    )  # fmt: skip


class _Story:
    """Passages one after another, each beginning where the last one ended."""

    def __init__(self):
        self.passages = []
        self.places = {}
        self.fixtures: frozenset[str] = frozenset()
        self.fitted: frozenset[str] = frozenset()
        self.now = datetime(2027, 4, 28, 9, 0, tzinfo=UTC)

    def add(self, stage, step, subject, *, to=(), lift=None, event="", minutes=30.0):
        standing = {
            name: Standing(
                state=State.MOVING if name in dict(to) else state,
                carrier=carrier,
                heel_from=heel,
                heel_to=dict(to).get(name, heel),
            )
            for name, (state, carrier, heel) in self.places.items()
        }
        self.passages.append(
            Passage(
                index=len(self.passages),
                stage=stage,
                step=step,
                subject=subject,
                lift=lift,
                moving=tuple(name for name, _ in to),
                standing=standing,
                fixtures=self.fixtures,
                fitted=self.fitted,
                begins=self.now,
                duration=60 * minutes,
                event=event,
            )
        )
        self.now += timedelta(minutes=minutes)
        for name, heel in to:
            state, carrier, _ = self.places[name]
            self.places[name] = (state, carrier, heel)


def _raise():
    story = _Story()
    story.places["inner"] = (State.COMPLETE, "ground", 0.0)
    story.add("A0", "assemble", "inner")
    story.fitted = frozenset({"skin"})
    story.add("A0", "fit", "skin")
    story.add("A1", "lift", "inner", to=[("inner", 6.0)], lift="LI")
    story.fixtures = frozenset({"needles"})
    story.places["inner"] = (State.LOCKED, "needles", 6.0)
    story.add("A1", "install", "needles")
    story.places["outer"] = (State.COMPLETE, "ground", 0.0)
    story.add("A2", "assemble", "outer")
    story.fixtures = frozenset()
    story.add("A2", "strike", "needles")
    story.add("A2", "lift", "outer", to=[("outer", 4.0)], lift="LO")
    story.add(
        "A2", "lift", "outer", to=[("outer", 10.0), ("inner", 12.0)], lift="LO",
        event="picks up inner",
    )  # fmt: skip
    story.add("A3", "lower", "outer", to=[("outer", 9.5), ("inner", 11.5)], lift="LO")
    return Raise(
        passages=tuple(story.passages),
        breaches=(),
        plumb_line=PlumbLine.model_validate({"x": f"{PLUMB[0]} m", "y": f"{PLUMB[1]} m"}),
    )


def curve(passage, against, marks, least_mm, where):
    """A gap curve of equal steps along a passage."""
    moving = passage.moving[0]
    place = passage.standing[moving]
    least = np.asarray(least_mm, dtype=float) / 1000
    n = len(least)
    heels = np.linspace(place.heel_from, place.heel_to, n + 1)
    x, y, s = where
    at = (heels[1:] + heels[:-1]) / 2
    on_moving = np.column_stack([np.full(n, x), np.full(n, y), at + s])
    return GapCurve(
        stage=passage.stage,
        passage=passage.index,
        moving=moving,
        against=against,
        heels=heels,
        least=least,
        proven=least - 0.0001,
        certified=np.ones(n, dtype=bool),
        at=at,
        where=on_moving,
        opposite=on_moving + np.column_stack([np.zeros(n), least, np.zeros(n)]),
        marks=(marks[0],) * n,
        opposite_marks=(marks[1],) * n,
    )


def _gaps(passages):
    low = np.where(np.abs(np.arange(80) - 60) < 6, 11.0, 131.0)
    return (
        curve(passages[2], "shaft", ("girt N2", "north wall"), np.full(60, 1500.0), (0, 1, 8)),
        curve(passages[6], "shaft", ("brace N3", "ledge N"), low, (0.5, 2.9, 3.0)),
        curve(
            passages[6], "inner", ("girt E1", "leg NE"), 80 + 3 * np.sin(np.arange(80) / 9),
            (1.9, 0.3, 4.0),
        ),
        curve(
            passages[7], "shaft", ("leg NE", "north wall"), 131 - np.arange(60) / 3,
            (2.3, 2.3, 0.0),
        ),
        curve(passages[8], "shaft", ("leg SW", "south wall"), np.full(20, 118.0), (-2, -2, 1)),
    )  # fmt: skip


def _hang(passage, kn, ratio):
    place = passage.standing[passage.moving[0]]
    k = len(ratio)
    zeros = np.zeros((k, 2))
    values: dict[str, Any] = {
        "stage": passage.stage,
        "lift": passage.lift,
        "passage": passage.index,
        "hauled": passage.moving,
        "heels": np.linspace(place.heel_from, place.heel_to, k),
        "weight": np.full(k, 1000.0 * kn),
        "centre": np.zeros((k, 3)),
        "height": np.full(k, 4.0),
        "ratio": np.asarray(ratio, dtype=float),
        "tilt": zeros,
        "tensions": zeros + 500.0 * kn,
        "stretch": zeros + 0.2,
        "pull": zeros + 6000.0,
        "lines": ("NE", "SW"),
    }
    # What the views do not read.
    unread: dict[str, Any] = {
        field.name: zeros for field in fields(HangCurve) if field.name not in values
    }
    return HangCurve(**unread, **values)


def _findings():
    gap = Limit(value=31.0, unit="mm", bound=Bound.AT_LEAST, source="nesting budget, this plan")
    ratio = Limit(
        value=2.0, unit="1", bound=Bound.AT_LEAST, source="common practice, no source"
    )
    breach = Limit(value=0.0, unit="count", bound=Bound.AT_MOST, source="stage rules")
    sling = Limit(value=20.0, unit="kN", bound=Bound.AT_MOST, source="certificate 12")
    made = [
        Finding(
            check="clearance", subject="outer: brace N3 (brace) against shaft: ledge N",
            stage="A2", heel=3.0,
            where=(0.5, 2.9, 6.0), limit=gap, value=11.0,
            why="the foot of the brace stands 120 mm out and passes the ledge",
            remedy=("pare 50 mm off the foot", "move the plumb line south"),
        ),
        Finding(
            check="clearance", subject="outer: girt E1 (girt) against inner: leg NE",
            stage="A2", heel=1.2,
            where=(1.9, 0.3, 5.2), limit=gap, value=77.0,
        ),
        Finding(
            check="centre of gravity", subject="outer", stage="A2", heel=4.0, where=None,
            limit=ratio, value=2.35, why="stability ratio unguided: outer with inner",
        ),
        Finding(
            check="stage order", subject="inner", stage="A2", heel=4.0, where=None,
            limit=breach, value=1.0, why="the step does not name what it picks up",
            remedy=("name inner in picks_up",),
        ),
        Finding(
            check="slings", subject="bell", stage="A0", heel=None, where=None, limit=sling,
            value=None, why="no certificate was given",
        ),
        Finding(
            check="bury", subject="inner in outer", stage="", heel=None, where=None,
            limit=Limit(value=5.0, unit="m", bound=Bound.AT_LEAST, source="first guess"),
            value=4.0,
            overrule=Overrule(
                limit=Limit(value=3.5, unit="m", bound=Bound.AT_LEAST, source="overruled"),
                by="Wenna Holt, engineer", note="sum 14",
            ),
        ),
    ]  # fmt: skip
    return worst_first(made)


@cache
def made_outcome():
    """The outcome, made once; frozen, so that tests may share it."""
    raise_ = _raise()
    passages, plan, shapes = raise_.passages, _plan(), _shapes()
    return Outcome(
        plan=plan,
        shapes=shapes,
        raise_=raise_,
        nesting=Nesting(
            workshop=Workshop(plan=plan, shapes=shapes, raise_=raise_),
            curves=_gaps(passages),
            margins=(),
            rests=(),
            contacts=(),
        ),
        hangs=(
            _hang(passages[2], 39.2, np.linspace(3.0, 6.0, 20)),
            _hang(passages[6], 88.3, np.linspace(3.1, 2.7, 20)),
            _hang(passages[7], 127.5, np.linspace(2.35, 2.9, 20)),
            _hang(passages[8], 127.5, np.full(10, np.inf)),
        ),
        findings=_findings(),
        files=(),
    )
