"""Problems to schedule that are made or read, and a plain program that proves their least.

The program is a depth-first search over orders of serial placing. For a finish to be
made least with renewable resources and fixed hours, some order of placing each task as
early as it can go gives a shortest schedule: take a shortest one, place in the order of
its starts, and nothing comes later than it was. It shares nothing with the package.
"""

import itertools
import random
from pathlib import Path

from towerlift.programme.problem import Edge, Exclusion, Link, Problem, Stretch, Task

DATA = Path(__file__).parents[2] / "data"


def network(durations, demands, successors, capacities, *, horizon, windows=None):
    """A problem from plain tables, keyed by the activity's name."""
    windows = windows or {}
    return Problem(
        tasks=tuple(
            Task(
                name=name,
                duration=durations[name],
                demands=demands.get(name, {}),
                windows=windows.get(name),
                windows_because="its hours",
            )
            for name in durations
        ),
        links=tuple(
            Link(before=before, after=after, reason=f"{after} waits for {before}")
            for before, afters in successors.items()
            for after in afters
        ),
        capacities=capacities,
        horizon=horizon,
    )


def read_sm(name):
    """A single-mode instance in the form of the project scheduling library."""
    lines = (DATA / name).read_text(encoding="ascii").splitlines()
    first = next(k for k, line in enumerate(lines) if line.startswith("jobnr.  "))
    successors = {}
    for line in itertools.takewhile(lambda text: "*" not in text, lines[first + 1 :]):
        number, _, _, *after = line.split()
        successors[number] = after
    second = next(k for k, line in enumerate(lines) if line.startswith("jobnr. mode"))
    durations, demands = {}, {}
    for line in itertools.takewhile(lambda text: "*" not in text, lines[second + 2 :]):
        number, _, duration, *needs = line.split()
        durations[number] = int(duration)
        demands[number] = {f"R{k}": int(need) for k, need in enumerate(needs, start=1)}
    last = next(k for k, line in enumerate(lines) if line.startswith("RESOURCEAVAIL"))
    capacities = {f"R{k}": int(c) for k, c in enumerate(lines[last + 2].split(), start=1)}
    return network(durations, demands, successors, capacities, horizon=sum(durations.values()))


def made(seed, n=8, *, hours=False):
    """A problem of n activities and three resources, of the usual make of test instances."""
    rng = random.Random(seed)
    names = [f"a{k}" for k in range(n)]
    durations = {name: rng.randint(1, 9) for name in names}
    successors = {
        name: rng.sample(names[k + 1 :], min(rng.randint(0, 2), n - k - 1))
        for k, name in enumerate(names)
    }
    demands = {
        name: {r: rng.randint(0, 6) for r in ("r1", "r2", "r3") if rng.random() < 0.7}
        for name in names
    }
    windows = None
    if hours:
        # Days of 24 steps with 12 to 16 of them open: most starts are held up by a night.
        windows = {
            name: tuple((24 * d + 4, 24 * d + 4 + rng.randint(12, 16)) for d in range(12))
            for name in names
        }
    return network(
        durations,
        demands,
        successors,
        {"r1": rng.randint(6, 9), "r2": rng.randint(6, 9), "r3": 8},
        horizon=sum(durations.values()) + (250 if hours else 0),
        windows=windows,
    )


def made_thirty(seed):
    """Thirty activities and four resources, tight enough to need a search."""
    rng = random.Random(seed)
    names = [f"a{k}" for k in range(30)]
    successors = {
        name: rng.sample(names[k + 1 : k + 12], min(rng.randint(1, 3), 29 - k))
        for k, name in enumerate(names)
    }
    demands = {
        name: {r: rng.randint(1, 10) for r in ("r1", "r2", "r3", "r4") if rng.random() < 0.5}
        for name in names
    }
    durations = {name: rng.randint(1, 10) for name in names}
    capacities = {r: rng.randint(12, 18) for r in ("r1", "r2", "r3", "r4")}
    return network(durations, demands, successors, capacities, horizon=sum(durations.values()))


def least_finish(problem):
    """The least finish, proved by looking at every order that could do better."""
    tasks = {task.name: task for task in problem.tasks}
    before: dict[str, list[str]] = {name: [] for name in tasks}
    after: dict[str, list[str]] = {name: [] for name in tasks}
    for link in problem.links:
        before[link.after].append(link.before)
        after[link.before].append(link.after)
    tail: dict[str, int] = {}
    for name in reversed(list(tasks)):
        tail[name] = tasks[name].duration + max((tail[a] for a in after[name]), default=0)
    best = [problem.horizon + 1]

    def fits(name, start, placed):
        task = tasks[name]
        end = start + task.duration
        windows = task.windows or ((start, end),)
        if not any(b <= start and end <= e for b, e in windows):
            return False
        for resource, capacity in problem.capacities.items():
            need = task.demands.get(resource, 0)
            for moment in range(start, end) if need else ():
                used = sum(
                    tasks[other].demands.get(resource, 0)
                    for other, begins in placed.items()
                    if begins <= moment < begins + tasks[other].duration
                )
                if used + need > capacity:
                    return False
        return True

    def place(placed):
        if len(placed) == len(tasks):
            best[0] = min(best[0], max(placed[n] + tasks[n].duration for n in tasks))
            return
        for name in tasks:
            if name in placed or any(each not in placed for each in before[name]):
                continue
            start = max((placed[b] + tasks[b].duration for b in before[name]), default=0)
            while not fits(name, start, placed):
                start += 1
                if start + tail[name] >= best[0]:
                    break
            if start + tail[name] < best[0]:
                place(placed | {name: start})

    place({})
    return best[0]


def knotted(seed):
    """Four tasks with every kind of rule, small enough to try every schedule."""
    rng = random.Random(seed)
    names = ["a", "b", "c", "d"]
    tasks = tuple(
        Task(
            name=name,
            duration=rng.randint(0, 3),
            demands={"r": rng.randint(0, 2)},
            windows=((0, 4), (5, 9), (10, 11)) if rng.random() < 0.4 else None,
            windows_because="its hours",
        )
        for name in names
    )
    links: list[Link] = []
    for _ in range(rng.randint(1, 4)):
        one, other = rng.sample(names, 2)
        links.append(
            Link(
                before=one,
                after=other,
                from_edge=rng.choice(list(Edge)),
                to_edge=rng.choice(list(Edge)),
                lag=rng.randint(-4, 3),
                reason=f"link {len(links)}",
            )
        )
    exclusions = []
    for number in range(rng.randint(1, 3)):
        stretches = tuple(_stretch(rng, names) for _ in range(rng.choice((2, 2, 3))))
        named = {m[0] for s in stretches for m in (s.begins, s.ends) if m is not None}
        exclusions.append(
            Exclusion(stretches=stretches, reason=f"apart {number}", tasks=tuple(sorted(named)))
        )
    return Problem(
        tasks=tasks,
        links=tuple(links),
        capacities={"r": 3},
        exclusions=tuple(exclusions),
        horizon=9,
    )


def _stretch(rng, names):
    kind = rng.random()
    one, other = rng.sample(names, 2)
    if kind < 0.5:
        return Stretch(begins=(one, Edge.START, 0), ends=(one, Edge.END, 0))
    if kind < 0.8:
        return Stretch(begins=(one, Edge.END, 0), ends=(other, Edge.START, 0))
    if kind < 0.9:
        return Stretch(begins=None, ends=(one, Edge.START, rng.randint(0, 1)))
    return Stretch(begins=(one, Edge.END, 0), ends=None)


def every_schedule(problem):
    """Every assignment of starts within the horizon."""
    ranges = [range(problem.horizon - task.duration + 1) for task in problem.tasks]
    for starts in itertools.product(*ranges):
        yield dict(zip((task.name for task in problem.tasks), starts, strict=True))
