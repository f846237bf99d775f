"""The command line: check a plan, begin a new one, open the notebooks."""

import argparse
import json
import os
import subprocess
import sys
import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path

import towerlift
from towerlift.checks import ALL_LIMITS
from towerlift.documents.binder import write_documents
from towerlift.documents.changes import write_changes
from towerlift.documents.day_call import TITLE as CALL_TITLE
from towerlift.documents.day_call import call_record, is_go, told_call
from towerlift.documents.edition import Edition, PageSize
from towerlift.documents.programme_files import (
    ProgrammeEdition,
    turning_table,
    windows_of_plan,
    write_programme,
)
from towerlift.drawings.lengths import Measure
from towerlift.errors import (
    NoProgrammeError,
    NotEvaluatedError,
    PlanError,
    TowerliftError,
    UnitError,
)
from towerlift.findings import COUNT, Bound, Finding, Verdict
from towerlift.gaps import warm_up
from towerlift.gaps.cache import cache_folder
from towerlift.mechanics.wind import TERRAINS
from towerlift.motion import follow_stages
from towerlift.plan import new_plan, plan_schema, read_plan
from towerlift.programme import (
    Change,
    Crossing,
    Wishes,
    crossings,
    nearest_dates,
    schedule,
    telling,
    undated,
)
from towerlift.programme.posing import pose
from towerlift.programme.risk import Draw
from towerlift.programme.risk_report import RiskAsk, risk_of
from towerlift.programme.risk_spread import read_spreads
from towerlift.programme.risk_words import RISK, told_risk
from towerlift.programme.weather_files import read_weather
from towerlift.units import Dimension, parse_quantity
from towerlift.what_if.calling import Asked, CallBench, Sky
from towerlift.what_if.calling_odds import odds_or_why
from towerlift.workflow import Outcome, check_plan

WIDTH = 100
UNITS = ("metric", "feet")
PASSES, FAILS, UNREADABLE = 0, 1, 2
# Passes printed of each check; the first of them leaves least to spare.
SHOWN = 2

CAUTION = (
    "An aid to planning. It does not replace a licensed engineer, a competent rigger or the "
    "codes in force where the tower stands; nobody lifts on its word alone."
)

_HEADINGS = {
    Verdict.FAIL: "FAIL",
    Verdict.NOT_EVALUATED: "NOT EVALUATED (never a pass)",
    Verdict.PASS: "PASS, least to spare first",
}
_LIMIT_NAMES = frozenset(limit.name for limit in ALL_LIMITS)


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

    papers = commands.add_parser("documents", help="check a plan and write its papers")
    papers.add_argument("plan", type=Path, help="plan.toml")
    papers.add_argument("--into", type=Path, required=True, metavar="DIR", help="folder")
    papers.add_argument("--page", choices=PageSize, type=PageSize, default=PageSize.A4)
    papers.add_argument("--units", choices=UNITS, default=UNITS[0])
    papers.add_argument(
        "--since", type=Path, metavar="PLAN", help="an earlier version: also write what changed"
    )
    papers.add_argument("--replace", action="store_true", help="write over papers in DIR")
    papers.set_defaults(run=_documents)

    view = commands.add_parser("view", help="write the browser view as one file")
    view.add_argument("plan", type=Path, help="plan.toml")
    view.add_argument("--html", type=Path, required=True, metavar="FILE", help="file to write")
    view.add_argument("--units", choices=UNITS, default=UNITS[0])
    view.set_defaults(run=_view)

    lab = commands.add_parser("lab", help="open the notebooks in JupyterLab on a plan")
    lab.add_argument("plan", type=Path, nargs="?", help="plan.toml")
    lab.set_defaults(run=_lab)

    programme = commands.add_parser(
        "programme", help="check the dates, find the shortest programme, say why each start"
    )
    programme.add_argument("plan", type=Path, help="plan.toml")
    programme.add_argument(
        "--from",
        dest="since",
        type=_moment,
        metavar="MOMENT",
        help="plan again from here, such as 2027-05-01T11:30-02:00: what began keeps its dates",
    )
    programme.add_argument("--json", type=Path, metavar="FILE", help="also write it here")
    programme.add_argument(
        "--into",
        type=Path,
        metavar="DIR",
        help="also write it there as iCalendar, CSV and XLSX",
    )
    programme.add_argument(
        "--draws",
        type=_count,
        default=0,
        metavar="N",
        help="draw it so many times: chances of light and of the day, and what drives them",
    )
    programme.add_argument(
        "--durations", type=Path, metavar="FILE", help="three-point durations for the draws"
    )
    _add_call(programme)
    programme.set_defaults(run=_programme)

    schema = commands.add_parser("schema", help="print the plan's JSON Schema, for editors")
    schema.set_defaults(run=_schema)

    evidence = commands.add_parser("evidence", help="print what the package was held to")
    evidence.set_defaults(run=_evidence)
    return parser


def _add_call(programme: argparse.ArgumentParser) -> None:
    call = programme.add_argument_group(
        "the call on raising day",
        "Go, wait or come back, instead of the programme; 0 is to go, 1 is anything else.",
    )
    call.add_argument("--call", metavar="HAUL", help="stage of the haul, such as L2")
    call.add_argument("--at", type=_moment, metavar="MOMENT", help="moment of the call")
    call.add_argument(
        "--heel", type=_length, metavar="HEIGHT", help='such as "7.6 m", if it hangs'
    )
    call.add_argument("--wind", type=_speed, metavar="SPEED", help="mean measured, wall head")
    call.add_argument("--gust", type=_speed, metavar="SPEED", help="gust measured, wall head")
    call.add_argument("--forecast", type=Path, metavar="FILE", help="hours of the day itself")
    call.add_argument("--record", type=Path, metavar="FILE", help="hours of past years")
    call.add_argument(
        "--station", choices=tuple(TERRAINS), help="land about the place of the forecast"
    )


def _check(options: argparse.Namespace) -> int:
    plan = read_plan(options.plan)
    _compile_engine_once()
    outcome = check_plan(plan, options.plan.parent)
    print(as_text(outcome, in_full=options.all))
    if options.json is not None:
        _write_json(outcome, options.json)
    return PASSES if outcome.passes else FAILS


def _documents(options: argparse.Namespace) -> int:
    plan = read_plan(options.plan)
    _compile_engine_once()
    earlier = None if options.since is None else read_plan(options.since)
    outcome = check_plan(plan, options.plan.parent)
    measure = Measure.METRIC if options.units == UNITS[0] else Measure.FEET
    edition = Edition(outcome=outcome, page=options.page, measure=measure)
    paths = write_documents(edition, options.into, replace=options.replace)
    if earlier is not None:
        before = check_plan(earlier, options.since.parent)
        paths += write_changes(before, outcome, options.into, replace=options.replace)
    print(_last_word(outcome))
    print(f"{len(paths)} papers in {options.into}, content {edition.content}:")
    for path in paths:
        print(f"  {path.name}")
    return PASSES


def _view(options: argparse.Namespace) -> int:
    # Late, since only this command draws: the others start without it.
    from towerlift.scrub import standalone_html

    plan = read_plan(options.plan)
    _compile_engine_once()
    outcome = check_plan(plan, options.plan.parent)
    page = standalone_html(outcome, unit="m" if options.units == UNITS[0] else "ft")
    options.html.write_text(page, encoding="utf-8")
    print(_last_word(outcome))
    print(f"{options.html}: {len(page) / 1e6:.1f} MB, opens in any browser without a network.")
    return PASSES


def _compile_engine_once() -> None:
    """Compile the clearance engine, with a line of progress, where that was not yet done."""
    folder = cache_folder()
    if folder is None or not any(folder.rglob("*.nbi")):
        _tell("Compiling the clearance engine for this processor: a minute or two, once.")
        warm_up(_tell)


def _tell(line: str) -> None:
    print(line, file=sys.stderr, flush=True)


def _moment(written: str) -> datetime:
    try:
        moment = datetime.fromisoformat(written)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise argparse.ArgumentTypeError(
            f'got "{written}"; write date, time and offset, such as 2027-05-01T11:30-02:00'
        )
    return moment


def _length(written: str) -> float:
    return _quantity(written, Dimension.LENGTH)


def _speed(written: str) -> float:
    return _quantity(written, Dimension.SPEED)


def _quantity(written: str, dimension: Dimension) -> float:
    try:
        return parse_quantity(written, dimension)
    except UnitError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def _call(options: argparse.Namespace) -> int:
    """Go, wait or come back."""
    plan = read_plan(options.plan)
    if options.at is None:
        _tell("--call needs --at: the moment of the call, such as 2027-05-01T11:30-02:00")
        return UNREADABLE
    forecast = None if options.forecast is None else read_weather(options.forecast)
    record = None if options.record is None else read_weather(options.record)
    sky = Sky(forecast=forecast, station=options.station)
    bench = CallBench(plan, follow_stages(plan), sky)
    asked = Asked(
        haul=options.call,
        at=options.at,
        heel=options.heel,
        mean=options.wind,
        gust=options.gust,
    )
    _print([("", plan.name), ("", CAUTION), ("", ""), *_headed(CALL_TITLE)])
    try:
        made = bench.ask(asked)
    except NotEvaluatedError as error:
        _print([("", f"NOT EVALUATED: {error}")])
        return FAILS
    odds = odds_or_why(bench, made, record)
    _print(told_call(bench, made, odds))
    if options.json is not None:
        head: dict[str, object] = {"plan": plan.name, "towerlift": towerlift.__version__}
        text = json.dumps(head | call_record(made, odds), indent=2, ensure_ascii=False)
        options.json.write_text(text + "\n", encoding="utf-8")
    return PASSES if is_go(made) else FAILS


# Options of `programme` that only the call reads, and those that it does not read.
_OF_THE_CALL = ("at", "heel", "wind", "gust", "forecast", "record", "station")
_NOT_OF_THE_CALL = {"since": "--from", "into": "--into", "draws": "--draws",
                    "durations": "--durations"}  # fmt: skip


def _programme(options: argparse.Namespace) -> int:
    if complaint := _unread(options):
        _tell(complaint)
        return UNREADABLE
    return _booked(options) if options.call is None else _call(options)


def _unread(options: argparse.Namespace) -> str:
    """What was asked for that nothing would read; empty for nothing."""
    if options.call is not None:
        idle = [flag for name, flag in _NOT_OF_THE_CALL.items() if getattr(options, name)]
        return f"--call makes no programme: leave out {', '.join(idle)}" if idle else ""
    idle = [f"--{name}" for name in _OF_THE_CALL if getattr(options, name) is not None]
    return f"{', '.join(idle)}: read only with --call, which says for what haul" if idle else ""


def _booked(options: argparse.Namespace) -> int:
    """Dates held to their rules, and the shortest programme."""
    plan = read_plan(options.plan)
    raise_ = follow_stages(plan)
    wishes = Wishes(since=options.since)
    _print([("", plan.name), ("", CAUTION), ("", ""), *_headed(telling.ON_DATES)])
    missing = undated(plan)
    broken: tuple[Crossing, ...] = ()
    changes: tuple[Change, ...] = ()
    if missing:
        _print([("", f"Not checked: no date for {', '.join(missing)}.")])
    else:
        broken = crossings(plan, raise_)
        try:
            changes = nearest_dates(plan, raise_, wishes) if broken else ()
        except NoProgrammeError as error:
            _print([("", f"No change of dates is enough: {error}")])
        _print(telling.told_dates(broken, changes))
    _print([("", ""), *_headed(telling.SHORTEST)])
    try:
        programme = schedule(plan, raise_, wishes)
    except NoProgrammeError as error:
        _print([("", line) for line in str(error).splitlines()])
        return FAILS
    _print(telling.told_programme(programme))
    if options.json is not None:
        head: dict[str, object] = {"plan": plan.name, "towerlift": towerlift.__version__}
        record = head | telling.as_record(programme, broken, changes)
        text = json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False)
        options.json.write_text(text + "\n", encoding="utf-8")
    if options.draws:
        spreads = {} if options.durations is None else read_spreads(options.durations)
        ask = RiskAsk(spreads=spreads, draw=Draw(n=options.draws))
        report = risk_of(pose(plan, raise_, wishes), programme, ask)
        _print([("", ""), *_headed(RISK), *told_risk(report, weather=False)])
    if options.into is not None:
        options.into.mkdir(parents=True, exist_ok=True)
        edition = ProgrammeEdition(name=plan.name, made=datetime.now(UTC))
        tables = (turning_table(plan, raise_), *windows_of_plan(plan, raise_))
        for path in write_programme(programme, options.into, edition, also=tables):
            print(f"wrote {path.name}")
    return FAILS if broken or missing else PASSES


def _count(written: str) -> int:
    if not (written.isdecimal() and 0 < int(written) <= 1_000_000):
        raise argparse.ArgumentTypeError(f'got "{written}"; write a number from 1 to 1000000')
    return int(written)


def _headed(title: str) -> list[tuple[str, str]]:
    return [("", title), ("", "-" * len(title))]


def _print(paragraphs: Iterable[tuple[str, str]]) -> None:
    for head, text in paragraphs:
        print("\n".join(_wrapped("", text, head)))


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


def _evidence(_: argparse.Namespace) -> int:
    # Gathered from the tests when the package is made, so that it ships with it.
    print((files("towerlift") / "evidence.txt").read_text(encoding="utf-8"), end="")
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
    lines = [*_wrapped("", outcome.plan.name, ""), *textwrap.wrap(CAUTION, WIDTH)]
    lines += ["", _last_word(outcome), *_at_a_glance(outcome)]
    for verdict in (Verdict.FAIL, Verdict.NOT_EVALUATED):
        group = [finding for finding in outcome.findings if finding.verdict is verdict]
        lines += _section(_HEADINGS[verdict], (_in_full(finding) for finding in group))
    passes = [finding for finding in outcome.findings if finding.verdict is Verdict.PASS]
    lines += _section(
        _HEADINGS[Verdict.PASS],
        (_in_full(finding) for finding in passes) if in_full else _passes_in_brief(passes),
    )
    lines += ["", _last_word(outcome)]
    return "\n".join(lines)


def _at_a_glance(outcome: Outcome) -> list[str]:
    """Of each check that does not pass, how often and the worst of it, in a line or two."""
    unhappy = [f for f in outcome.findings if f.verdict is not Verdict.PASS]
    counts = Counter((finding.check, finding.verdict) for finding in unhappy)
    blocks = []
    for (check, verdict), count in counts.items():
        worst = next(f for f in unhappy if (f.check, f.verdict) == (check, verdict))
        place = f"{worst.stage}: " if worst.stage else ""
        said = f"{check}, {count} {verdict}: {place}{worst.subject}: {_measure(worst)}"
        blocks.append(_wrapped("", said, "* "))
    return _section("AT A GLANCE: the worst of each check", blocks)


def _last_word(outcome: Outcome) -> str:
    if not outcome.findings:
        return "VERDICT: NOTHING WAS CHECKED."
    counts = Counter(finding.verdict for finding in outcome.findings)
    if outcome.passes:
        passed = counts[Verdict.PASS]
        which = "the one finding passes" if passed == 1 else f"all {passed} findings pass"
        return f"VERDICT: {which}, with the margins shown."
    return (
        f"VERDICT: DO NOT LIFT on this plan: {counts[Verdict.FAIL]} fail, "
        f"{counts[Verdict.NOT_EVALUATED]} not evaluated, {counts[Verdict.PASS]} pass."
    )


def _section(heading: str, blocks: Iterable[list[str]]) -> list[str]:
    printed = [line for block in blocks for line in block]
    return ["", heading, "-" * len(heading), *printed] if printed else []


def _passes_in_brief(passes: Sequence[Finding]) -> Iterator[list[str]]:
    """What was overruled, in full; of each check, how many pass and which leave least."""
    for finding in passes:
        if finding.overrule is not None:
            yield _in_brief(finding)
    counts = Counter(_title(finding) for finding in passes)
    for title, count in counts.items():
        group = [finding for finding in passes if _title(finding) == title]
        if all(finding.merely_kept for finding in group):
            rules = "one rule kept" if count == 1 else f"{count} rules kept"
            yield _wrapped("", f"{title}: {rules}", "* ")
            continue
        told = "one passes" if count == 1 else f"{count} pass, least to spare"
        yield _wrapped("", f"{title}: {told}", "* ")
        for finding in [f for f in group if not f.merely_kept][:SHOWN]:
            place = f"{finding.stage}: " if finding.stage else ""
            yield _wrapped("", f"{place}{finding.subject}: {_measure(finding)}", "    ")
    if len(passes) > len(counts):
        yield ["", "  (--all prints every pass in full)"]


def _in_full(finding: Finding) -> list[str]:
    place = f", stage {finding.stage}" if finding.stage else ""
    lines = _wrapped("", f"{_title(finding)}{place}: {finding.subject}", "* ")
    lines += _wrapped("", _measure(finding))
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
        "", f"{_title(finding)}, {place}{finding.subject}: {_measure(finding)}", "* "
    )
    return lines + _overruled(finding)


def _title(finding: Finding) -> str:
    """The check, with the limit it is about where its reason begins with the name of one."""
    name = finding.why.partition(":")[0]
    return f"{finding.check} ({name})" if name in _LIMIT_NAMES else finding.check


def _overruled(finding: Finding) -> list[str]:
    if finding.overrule is None:
        return []
    usual = f"usual limit {_number(finding.limit.value)}{_unit(finding.limit.unit)}"
    return _wrapped(
        "OVERRULED by ", f"{finding.overrule.by} ({usual}): {finding.overrule.note}"
    )


def _measure(finding: Finding) -> str:
    limit = finding.limit_in_force
    bound = f"{limit.bound} {_number(limit.value)}{_unit(limit.unit)}"
    heel = "" if finding.heel is None else f" at heel {finding.heel:.2f} m"
    if finding.value is not None and limit.unit == COUNT and not _low(limit.bound):
        return f"{_number(finding.value)} found, at most {_number(limit.value)} allowed{heel}"
    if finding.value is None or finding.margin is None:
        return f"not evaluated; the limit is {bound}{heel}"
    word = "to spare" if finding.margin >= 0 else "short" if _low(limit.bound) else "over"
    value = f"{_number(finding.value)}{_unit(limit.unit)}"
    return f"{value}, {bound} ({_number(abs(finding.margin))} {word}){heel}"


def _low(bound: Bound) -> bool:
    return bound is Bound.AT_LEAST


def _unit(unit: str) -> str:
    return "" if unit in ("1", COUNT) else f" {unit}"


def _number(value: float) -> str:
    return f"{value:.4g}" if abs(value) < 1000 else f"{value:.0f}"


def _wrapped(head: str, text: str, start: str = "    ") -> list[str]:
    if not text:
        return []
    # A name must not steer the terminal: neither colours nor the direction of reading.
    plain = "".join(c if c.isprintable() or c.isspace() else "?" for c in head + text)
    return textwrap.wrap(
        plain, WIDTH, initial_indent=start, subsequent_indent=" " * (len(start) + 2)
    )


__all__ = ["PlanError", "as_text", "main"]


if __name__ == "__main__":
    sys.exit(main())
