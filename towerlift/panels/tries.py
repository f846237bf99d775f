"""What-ifs between the browser's sliders and the bench that answers them."""

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from math import degrees, floor, isfinite, pi, radians
from typing import Any

import numpy as np

from towerlift.findings import Bound, Finding
from towerlift.motion.raises import Raise
from towerlift.motion.travel import locate
from towerlift.panels.words import VERDICTS, quantity
from towerlift.what_if import Answer, WhatIf

_OUTWARD = {
    "north": (0.0, 1.0, 0.0),
    "south": (0.0, -1.0, 0.0),
    "east": (1.0, 0.0, 0.0),
    "west": (-1.0, 0.0, 0.0),
}
MOST_LINES = 4  # told by name in the short answer


@dataclass(frozen=True, slots=True, kw_only=True)
class Slider:
    """One slider, and what it means.

    Attributes
    ----------
    key, label, unit : str
        Name of it, words beside it, unit of its values.
    low, high, step : float
        Ends and step, in its unit.
    field : str
        Field of `WhatIf` that it sets.
    scale : float
        SI value of one unit.
    """

    key: str
    label: str
    unit: str
    low: float
    high: float
    step: float
    field: str
    scale: float


SLIDERS = (
    Slider(
        key="lean_east", label="lean east", unit="mm/m", low=-10, high=10, step=0.5,
        field="lean_east", scale=1e-3,
    ),
    Slider(
        key="lean_north", label="lean north", unit="mm/m", low=-10, high=10, step=0.5,
        field="lean_north", scale=1e-3,
    ),
    Slider(
        key="drift_east", label="drift east", unit="mm", low=-120, high=120, step=1,
        field="drift_east", scale=1e-3,
    ),
    Slider(
        key="drift_north", label="drift north", unit="mm", low=-120, high=120, step=1,
        field="drift_north", scale=1e-3,
    ),
    Slider(
        key="yaw", label="turn left", unit="mm/m", low=-15, high=15, step=0.5,
        field="yaw", scale=1e-3,
    ),
    Slider(
        key="by", label="crew behind by", unit="mm", low=-60, high=60, step=1,
        field="by", scale=1e-3,
    ),
    Slider(
        key="gust", label="gust", unit="m/s", low=0, high=20, step=0.5,
        field="gust", scale=1.0,
    ),
    Slider(
        key="from_north", label="wind to", unit="° of N", low=0, high=345,
        step=15, field="towards", scale=1.0,
    ),
)  # fmt: skip


def offered(asked: WhatIf | None = None) -> list[dict[str, Any]]:
    """The sliders as the view takes them.

    Parameters
    ----------
    asked : WhatIf or None
        Where they stand; None stands them all at nothing.

    Returns
    -------
    sliders : list of dict
        Plain values.
    """
    return [
        {
            "key": each.key,
            "label": each.label,
            "unit": each.unit,
            "min": each.low,
            "max": each.high,
            "step": each.step,
            "value": 0 if asked is None else _shown(each, asked),
        }
        for each in SLIDERS
    ]


def _shown(slider: Slider, asked: WhatIf) -> float:
    value = float(getattr(asked, slider.field))
    if slider.field == "towards":
        return round(degrees(pi / 2 - value) % 360, 6) % 360
    return round(value / slider.scale, 6)


def asked_by(raise_: Raise, request: Mapping[str, Any], behind: str) -> WhatIf:
    """What the browser asks.

    Parameters
    ----------
    raise_ : Raise
        Of the outcome.
    request : mapping
        ``position``, and ``values`` by slider.
    behind : str
        Mark of the capstan that the crew slider is about; empty for none.

    Returns
    -------
    asked : WhatIf
        In SI units.

    Raises
    ------
    ValueError
        If there is no such place, no such slider, or a value is not a number.
    """
    moment = locate(raise_, float(request["position"]))
    values = dict(request.get("values", {}))
    known = {each.key: each for each in SLIDERS}
    wrong = [f'no slider is called "{key}"' for key in values if key not in known]
    wrong += [
        f"{key} must be a finite number, got {value!r}"
        for key, value in values.items()
        if key in known and not (isinstance(value, int | float) and isfinite(value))
    ]
    if wrong:
        raise ValueError("; ".join(wrong))
    record: dict[str, Any] = {"passage": moment.passage.index, "share": moment.share}
    for key, value in values.items():
        slider = known[key]
        turned = pi / 2 - radians(value) if slider.field == "towards" else value * slider.scale
        record[slider.field] = turned
    if behind and record.get("by"):
        record["behind"] = behind
    else:
        record["by"] = 0.0
    return WhatIf.from_record(record)


def message(answer: Answer, number: int, raise_: Raise) -> dict[str, Any]:
    """An answer as the view takes it.

    Parameters
    ----------
    answer : Answer
        From the bench.
    number : int
        Of the request.
    raise_ : Raise
        Gives the plumb line.

    Returns
    -------
    message : dict
        ``number``, ``position``, ``rows``, ``poses``, ``lines``, ``arrows`` and ``gap``.
    """
    near = answer.near
    pressed = [shoe for shoe in answer.shoes if shoe.force > 0]
    return {
        "number": number,
        "position": answer.asked.passage + answer.asked.share,
        "rows": rows_of(answer),
        "poses": {name: _change(pose, raise_) for name, pose in answer.poses.items()},
        "lines": [{"at": list(each.lower), "tension": each.tension} for each in answer.lines],
        "arrows": [
            {
                "at": list(shoe.at),
                "force": [-shoe.force * way for way in _OUTWARD[shoe.face]],
                "name": f"shoe {shoe.face}",
            }
            for shoe in pressed
        ],
        "gap": None
        if near is None
        else {
            "least": near.gap,
            "where": list(near.where),
            "opposite": list(near.across),
            "moving": near.moving,
            "against": near.against,
            "mark": near.mark,
            "opposite_mark": near.opposite_mark,
        },
    }


def failed_message(error: Exception, number: int) -> dict[str, Any]:
    """A question that could not be answered, as the view takes it."""
    row = {"name": "what if", "value": str(error), "verdict": "NOT EVALUATED"}
    return {"number": number, "rows": [row], "poses": {}, "gap": None}


def _change(pose: np.ndarray[Any, np.dtype[np.float64]], raise_: Raise) -> list[float]:
    """Turns about east, north and up, and shifts, that give a pose from the true hang."""
    line = raise_.plumb_line
    c, s = np.cos(-line.turn), np.sin(-line.turn)
    turn = pose[:3, :3] @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    # Ry Rx Rz written out: its third column and second row.
    tilt_x = float(np.arcsin(np.clip(-turn[1, 2], -1.0, 1.0)))
    tilt_y = float(np.arctan2(turn[0, 2], turn[2, 2]))
    yaw = float(np.arctan2(turn[1, 0], turn[1, 1]))
    return [tilt_x, tilt_y, yaw, float(pose[0, 3] - line.x), float(pose[1, 3] - line.y)]


def rows_of(answer: Answer) -> list[dict[str, str]]:
    """The answer in a few lines: each number with its limit and verdict.

    Parameters
    ----------
    answer : Answer
        From the bench.

    Returns
    -------
    rows : list of dict
        ``name``, ``value``, ``verdict``.
    """
    if not answer.findings:
        note = "; ".join(answer.notes)
        return [{"name": "what if", "value": note, "verdict": "NOT EVALUATED"}]
    rows = [
        {"name": each.check, "value": _against(each), "verdict": VERDICTS[each.verdict]}
        for each in answer.findings
    ]
    near = answer.near
    if near is not None:
        # Never rounded up: a gap is not to look wider than it is.
        gap = f"{floor(1e3 * near.gap)} mm"
        said = f"{gap}, {near.mark} to {near.against}: {near.opposite_mark}"
        rows.append({"name": "nearest", "value": said, "verdict": "see clearance"})
    fullest = sorted(answer.lines, key=lambda line: -line.tension)[:MOST_LINES]
    if fullest:
        said = ", ".join(f"{line.tackle} {line.tension / 1e3:.1f} kN" for line in fullest)
        rows.append({"name": "fullest lines", "value": said, "verdict": "see rope strength"})
    pressed = [shoe for shoe in answer.shoes if shoe.force > 0]
    if pressed:
        hardest = max(pressed, key=lambda shoe: shoe.force)
        said = f"{len(pressed)} bear, hardest {hardest.force / 1e3:.1f} kN {hardest.face}"
        rows.append({"name": "shoes", "value": said, "verdict": "see shoe pressed in"})
    if answer.held is not None:
        force, moment = answer.held.force / 1e3, answer.held.moment / 1e3
        said = f"{force:.1f} kN level and {moment:.1f} kN m must hold it so"
        rows.append({"name": "held by hand", "value": said, "verdict": "no limit is set"})
    return rows


def _against(finding: Finding) -> str:
    limit = finding.limit_in_force
    sign = "≥" if limit.bound is Bound.AT_LEAST else "≤"
    asked = f"{sign} {quantity(limit.value, limit.unit)}"
    found = "–" if finding.value is None else quantity(finding.value, limit.unit)
    return f"{found} (asked {asked})"


def answer_html(answer: Answer) -> str:
    """The whole answer: every number with its limit, where the limit comes from, and why.

    Parameters
    ----------
    answer : Answer
        From the bench.

    Returns
    -------
    html : str
        Tables.
    """
    asked = answer.asked.in_words()
    if not asked and answer.findings:
        asked = "as it should be, and levelled"
    heel = "" if answer.heel is None else f", heel at {answer.heel:.2f} m"
    said = f"{VERDICTS[answer.verdict]}{': ' if asked else ''}{asked}"
    head = f"<h4>{escape(said)}</h4>"
    parts = [head, f"<p>Stage {escape(answer.stage)}{heel}.</p>"]
    if answer.findings:
        cells = "".join(_finding_row(finding) for finding in answer.findings)
        heads = "".join(
            f"<th>{word}</th>" for word in ("", "found", "asked", "verdict", "limit by", "why")
        )
        parts.append(f"<table><tr>{heads}</tr>{cells}</table>")
    if answer.lines:
        parts.append(_lines_html(answer))
    parts += [f"<p>{escape(_sentence(note))}</p>" for note in answer.notes]
    return "".join(parts)


def _finding_row(finding: Finding) -> str:
    limit = finding.limit_in_force
    found = "–" if finding.value is None else quantity(finding.value, limit.unit)
    by = limit.source
    if finding.overrule is not None:
        by += f": {finding.overrule.note}, in place of {finding.limit.value:.4g}"
    why = f"{finding.subject}: {finding.why}" if finding.check == "clearance" else finding.why
    cells = (
        finding.check,
        found,
        f"{limit.bound} {quantity(limit.value, limit.unit)}",
        VERDICTS[finding.verdict],
        by,
        why,
    )
    return f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in cells)}</tr>"


def _lines_html(answer: Answer) -> str:
    heads = "".join(
        f"<th>{word}</th>" for word in ("tackle", "capstan", "at", "load", "rope factor")
    )
    rows = []
    for line in answer.lines:
        factor = "slack" if line.slack else f"{line.factor:.1f}"
        cells = (
            line.tackle,
            line.capstan,
            line.lift_point,
            f"{line.tension / 1e3:.1f} kN",
            factor,
        )
        rows.append("".join(f"<td>{escape(cell)}</td>" for cell in cells))
    body = "".join(f"<tr>{row}</tr>" for row in rows)
    return f"<table><tr>{heads}</tr>{body}</table>"


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."
