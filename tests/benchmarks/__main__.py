"""Run every ``bench_*.py`` beside this file: ``python -m tests.benchmarks``.

To add rows, put a module ``bench_SUBJECT.py`` here with a function ``rows()``
that yields `Row`. Nothing here asserts a time.
"""

import argparse
import importlib
import json
import os
import pkgutil
import platform
import sys
from pathlib import Path

import tests.benchmarks
from tests.benchmarks.rows import Row

PREFIX = "bench_"
OUTPUT = Path("bench.json")


def subjects() -> list[str]:
    """Names of all subjects there are modules for."""
    found = pkgutil.iter_modules(tests.benchmarks.__path__)
    return sorted(m.name.removeprefix(PREFIX) for m in found if m.name.startswith(PREFIX))


def line(row: Row) -> str:
    """The row as printed."""
    met = {True: "met", False: "NOT MET", None: ""}[row.met]
    goal = "" if row.goal is None else f"{row.bound} {row.goal:g}"
    return f"{row.name:28s} {row.value:12.4g} {row.unit:10s} {goal:16s} {met:8s} {row.against}"


def main() -> int:
    """Run the subjects asked for, print the table, write bench.json."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks")
    parser.add_argument("--only", choices=subjects(), help="run one subject")
    asked = parser.parse_args()
    load = ", ".join(f"{part:.1f}" for part in os.getloadavg())
    print(f"{platform.machine()}, {os.cpu_count()} processors, load {load}", flush=True)
    rows: list[Row] = []
    for subject in [asked.only] if asked.only else subjects():
        module = importlib.import_module(f"tests.benchmarks.{PREFIX}{subject}")
        for row in module.rows():
            rows.append(row)
            print(line(row), flush=True)
    OUTPUT.write_text(json.dumps([row.as_record() for row in rows], indent=1) + "\n")
    missed = [row.name for row in rows if row.met is False]
    print(f"{len(rows)} rows in {OUTPUT}, {len(missed)} not met: {', '.join(missed) or 'none'}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
