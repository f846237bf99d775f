"""The command line: check a plan, begin a new one, open the notebooks."""

import argparse
import json
import os
import subprocess
import sys
import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

import towerlift
from towerlift.errors import PlanError, TowerliftError
from towerlift.findings import Bound, Finding, Verdict
from towerlift.plan import new_plan, plan_schema, read_plan
from towerlift.workflow import Outcome, check_plan

WIDTH = 100
PASSES, FAILS, UNREADABLE = 0, 1, 2

CAUTION = (
    "An aid to planning. It does not replace a licensed engineer, a competent rigger or the "
    "codes in force where the tower stands; nobody lifts on its word alone."
)

_HEADINGS = {
    Verdict.FAIL: "FAIL",
    Verdict.NOT_EVALUATED: "NOT EVALUATED (never a pass)",
    Verdict.PASS: "PASS",
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : sequence of str or None
        Words after the program's name; None takes them from the system.

    Returns
    -------
    status : int
        0 all pass, 1 a finding fails or was not evaluated, 2 the plan cannot be read.
    """
    options = _parser().parse_args(arguments)
    for stream in (sys.stdout, sys.stderr):
        # A mark or a name in any script must print, whatever the terminal's encoding.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        status = options.run(options)
    except TowerliftError as error:
        print(error, file=sys.stderr)
        return UNREADABLE
    except OSError as error:
        print(f"{error.filename or 'file'}: {error.strerror or error}", file=sys.stderr)
        return UNREADABLE
    return int(status)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="towerlift",
        description="Checks the plan of a telescoping timber tower's raise. " + CAUTION,
    )
    parser.add_argument("--version", action="version", version=towerlift.__version__)
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    check = commands.add_parser("check", help="run every check and print the findings")
    check.add_argument("plan", type=Path, help="plan.toml")
    check.add_argument("--json", type=Path, metavar="FILE", help="also write the findings here")
    check.add_argument("--all", action="store_true", help="print passes in full as well")
    check.set_defaults(run=_check)

    new = commands.add_parser("new", help="write a small plan that passes, to start from")
    new.add_argument("folder", type=Path, help="folder to make")
    new.set_defaults(run=_new)

    lab = commands.add_parser("lab", help="open the notebooks in JupyterLab on a plan")
    lab.add_argument("plan", type=Path, nargs="?", help="plan.toml")
    lab.set_defaults(run=_lab)

    schema = commands.add_parser("schema", help="print the plan's JSON Schema, for editors")
    schema.set_defaults(run=_schema)
    return parser


def _check(options: argparse.Namespace) -> int:
    plan = read_plan(options.plan)
    outcome = check_plan(plan, options.plan.parent)
    if options.json is not None:
        _write_json(outcome, options.json)
    print(as_text(outcome, in_full=options.all))
    return PASSES if outcome.passes else FAILS


def _new(options: argparse.Namespace) -> int:
    path = new_plan(options.folder)
    print(f"Wrote {path}. Check it with:\n\n    towerlift check {path}\n\nthen make it yours.")
    return PASSES


def _lab(options: argparse.Namespace) -> int:
    environment = dict(os.environ)
    if options.plan is not None:
        read_plan(options.plan)
        environment["TOWERLIFT_PLAN"] = str(options.plan.resolve())
    notebooks = Path(__file__).resolve().parents[1] / "notebooks"
    command = [sys.executable, "-m", "jupyterlab", "--notebook-dir", str(notebooks)]
    return subprocess.run(command, env=environment, check=False).returncode


def _schema(_: argparse.Namespace) -> int:
    print(json.dumps(plan_schema(), indent=2, ensure_ascii=False))
    return PASSES


def _write_json(outcome: Outcome, path: Path) -> None:
    record = {
        "plan": outcome.plan.name,
        "towerlift": towerlift.__version__,
        "findings": [finding.as_record() for finding in outcome.findings],
    }
    text = json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")


def as_text(outcome: Outcome, *, in_full: bool = False) -> str:
    """The findings as a page to read, worst first.

    Parameters
    ----------
    outcome : Outcome
        Of one plan.
    in_full : bool
        Whether passes are printed as fully as failures.

    Returns
    -------
    page : str
        Lines of at most 100 characters.
    """
    counts = Counter(finding.verdict for finding in outcome.findings)
    tally = (
        f"{counts[Verdict.FAIL]} fail, {counts[Verdict.NOT_EVALUATED]} not evaluated, "
        f"{counts[Verdict.PASS]} pass"
    )
    lines = [outcome.plan.name, *textwrap.wrap(CAUTION, WIDTH), "", f"{tally}."]
    for verdict in (Verdict.FAIL, Verdict.NOT_EVALUATED):
        group = [finding for finding in outcome.findings if finding.verdict is verdict]
        lines += _section(_HEADINGS[verdict], (_in_full(finding) for finding in group))
    passes = [finding for finding in outcome.findings if finding.verdict is Verdict.PASS]
    describe = _in_full if in_full else _in_brief
    lines += _section(_HEADINGS[Verdict.PASS], (describe(finding) for finding in passes))
    lines += ["", _last_word(outcome)]
    return "\n".join(lines)


def _last_word(outcome: Outcome) -> str:
    if not outcome.findings:
        return "VERDICT: NOTHING WAS CHECKED."
    if outcome.passes:
        return "VERDICT: every finding passes, with the margins shown."
    return "VERDICT: DO NOT LIFT on this plan."


def _section(heading: str, blocks: Iterable[list[str]]) -> list[str]:
    printed = [line for block in blocks for line in block]
    return ["", heading, "-" * len(heading), *printed] if printed else []


def _in_full(finding: Finding) -> list[str]:
    place = f", stage {finding.stage}" if finding.stage else ""
    lines = [f"* {finding.check}{place}: {finding.subject}", f"    {_measure(finding)}"]
    lines += _wrapped("why: ", finding.why)
    if finding.verdict is not Verdict.PASS:
        for number, cure in enumerate(finding.remedy, start=1):
            lines += _wrapped(f"remedy {number}: ", cure)
    lines += _wrapped("limit by: ", finding.limit.source)
    lines += _overruled(finding)
    return lines


def _in_brief(finding: Finding) -> list[str]:
    place = f"{finding.stage}: " if finding.stage else ""
    lines = _wrapped(
        "", f"{finding.check}, {place}{finding.subject}: {_measure(finding)}", "* "
    )
    return lines + _overruled(finding)


def _overruled(finding: Finding) -> list[str]:
    if finding.overrule is None:
        return []
    usual = f"usual limit {finding.limit.value:g} {finding.limit.unit}"
    return _wrapped(
        "OVERRULED by ", f"{finding.overrule.by} ({usual}): {finding.overrule.note}"
    )


def _measure(finding: Finding) -> str:
    limit = finding.limit_in_force
    bound = f"{limit.bound} {_number(limit.value)} {_unit(limit.unit)}"
    heel = "" if finding.heel is None else f" at heel {finding.heel:.2f} m"
    if finding.value is None or finding.margin is None:
        return f"not evaluated; the limit is {bound}{heel}"
    word = "to spare" if finding.margin >= 0 else "short" if _low(limit.bound) else "over"
    value = f"{_number(finding.value)} {_unit(limit.unit)}"
    return f"{value}, {bound} ({_number(abs(finding.margin))} {word}){heel}"


def _low(bound: Bound) -> bool:
    return bound is Bound.AT_LEAST


def _unit(unit: str) -> str:
    return "" if unit == "1" else unit


def _number(value: float) -> str:
    return f"{value:.4g}" if abs(value) < 1000 else f"{value:.0f}"


def _wrapped(head: str, text: str, start: str = "    ") -> list[str]:
    if not text:
        return []
    return textwrap.wrap(
        head + text, WIDTH, initial_indent=start, subsequent_indent=" " * (len(start) + 2)
    )


__all__ = ["PlanError", "as_text", "main"]


if __name__ == "__main__":
    sys.exit(main())
