"""Findings and places of the raise in words, as plain text and as HTML."""

from html import escape

from towerlift.findings import Bound, Finding, Verdict

CAUTION = (
    "A planning aid: does not replace a licensed engineer and a competent rigger; "
    "local codes govern."
)
VERDICTS = {
    Verdict.FAIL: "FAILS",
    Verdict.NOT_EVALUATED: "NOT EVALUATED",
    Verdict.PASS: "passes",
}
_SIGNS = {Bound.AT_LEAST: "≥", Bound.AT_MOST: "≤"}
# Verdict, check, stage, heel, value and limit, subject: characters in a line of the list.
_COLUMNS = (13, 17, 5, 7, 19)


def quantity(value: float, unit: str) -> str:
    """A finding's number with its unit.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        As findings write it; "1" and "count" are plain numbers.

    Returns
    -------
    words : str
        Such as "11 mm".
    """
    number = f"{value:.4g}" if abs(value) < 1e4 else f"{value:.0f}"
    return number if unit in ("1", "count") else f"{number} {unit}"


def list_head() -> str:
    """Heads of the columns of the list of findings."""
    heads = ("verdict", "check", "stage", "heel", "found (asked)", "what")
    return _columns(heads)


def list_line(finding: Finding) -> str:
    """One finding as one line of the list.

    Parameters
    ----------
    finding : Finding
        Any.

    Returns
    -------
    line : str
        For letters of one width.
    """
    limit = finding.limit_in_force
    found = "–" if finding.value is None else quantity(finding.value, limit.unit)
    return _columns(
        (
            VERDICTS[finding.verdict],
            finding.check,
            finding.stage or "all",
            "–" if finding.heel is None else f"{finding.heel:.2f} m",
            f"{found} ({_SIGNS[limit.bound]} {limit.value:.4g})",
            finding.subject,
        )
    )


def _columns(cells: tuple[str, ...]) -> str:
    fitted = [
        cell if len(cell) <= width else cell[: width - 1] + "…"
        for cell, width in zip(cells, _COLUMNS, strict=False)
    ]
    padded = [cell.ljust(width) for cell, width in zip(fitted, _COLUMNS, strict=True)]
    # Blanks that a list box would run together.
    return " ".join([*padded, cells[-1]]).replace(" ", "\u00a0")


def finding_html(finding: Finding | None) -> str:
    """All that a finding says.

    Parameters
    ----------
    finding : Finding or None
        None asks for one to be chosen.

    Returns
    -------
    html : str
        Verdict, value, limit, place, reason, remedies and source.
    """
    if finding is None:
        return "<p>Choose a finding in the list to go to its place in the raise.</p>"
    limit = finding.limit_in_force
    head = f"{VERDICTS[finding.verdict]}: {finding.check}"
    parts = [f"<h4>{escape(head)}</h4>", f"<p>{escape(finding.subject)}</p>"]
    asked = f"{limit.bound} {quantity(limit.value, limit.unit)}"
    if finding.value is None:
        parts.append(f"<p>Not evaluated; asked: {escape(asked)}.</p>")
    else:
        found = quantity(finding.value, limit.unit)
        margin = finding.margin or 0.0
        off = quantity(abs(margin), limit.unit)
        lacking = "short" if limit.bound is Bound.AT_LEAST else "too much"
        words = f"{off} {lacking}" if margin < 0 else f"{off} to spare"
        parts.append(f"<p><b>{escape(found)}</b>, asked {escape(asked)}: {escape(words)}.</p>")
    parts += [f"<p>{escape(line)}</p>" for line in (_place(finding), finding.why) if line]
    if finding.remedy:
        cures = "".join(f"<li>{escape(cure)}</li>" for cure in finding.remedy)
        parts.append(f"<p>What would cure it, best first:</p><ol>{cures}</ol>")
    parts.append(f"<p>Limit by: {escape(limit.source)}.</p>")
    if finding.overrule is not None:
        by, note = finding.overrule.by, finding.overrule.note
        usual = f"{finding.limit.bound} {quantity(finding.limit.value, finding.limit.unit)}"
        words = f"Overruled by {by}, in place of {usual} ({finding.limit.source}): {note}."
        parts.append(f"<p>{escape(words)}</p>")
    return "".join(parts)


def _place(finding: Finding) -> str:
    words = f"Stage {finding.stage}" if finding.stage else "The whole raise"
    if finding.heel is not None:
        words += f", heel at {finding.heel:.2f} m"
    if finding.where is not None:
        x, y, z = finding.where
        words += f", at x {x:.2f}, y {y:.2f}, z {z:.2f} m"
    return words + "."
