"""Names in a plan: each used once for one thing, and each that is used is there."""

from collections.abc import Iterable, Iterator, Mapping

from towerlift.plan.places import Loc, nearest
from towerlift.plan.tree import Row

Complaint = tuple[Loc, str]

SHAFT = "shaft"
_RESERVED = (SHAFT, "ground", "not seen")

# Kinds of thing that have a name of their own, and the key it stands at.
_NAMED = {
    "people": ("person", "name"),
    "species": ("species", "name"),
    "coils": ("coil", "tag"),
    "tackles": ("tackle", "name"),
    "capstans": ("capstan", "mark"),
    "lifts": ("lift", "name"),
    "openings": ("opening", "name"),
    "slings": ("sling set", "name"),
    "crews": ("crew", "name"),
    "activities": ("activity", "name"),
    "stages": ("stage", "name"),
    "strengths": ("strength", "name"),
    "anchors": ("anchor", "name"),
}
# These share their names: a lock, a lift or a contact may be on any of them.
_BODIES = {"sections": "section", "fixtures": "fixture", "fit_out": "fit-out item"}
_MARKED = {
    "members": "member",
    "masses": "mass",
    "lift_points": "lift point",
    "fids": "fid",
    "ledges": "ledge",
    "wall_openings": "wall opening",
    "lines": "tackle",
}


def unknown_names(plan: Row) -> Iterator[Complaint]:
    """Names used twice for one kind of thing, and names of nothing in the plan.

    Parameters
    ----------
    plan : Row
        As much of it as could be read.

    Yields
    ------
    at : tuple of str or int
        Where the name stands.
    words : str
        What is wrong and what would be right.
    """
    names = _Names(plan)
    yield from _used_twice(plan)
    yield from _in_bodies(plan, names)
    yield from _in_rig(plan, names)
    yield from _in_people(plan, names)
    yield from _in_stages(plan, names)
    yield from _in_contacts(plan, names)
    yield from _in_holding(plan, names)


class _Names:
    """Names there are, by kind; a kind that could not be read knows every name."""

    def __init__(self, plan: Row) -> None:
        self._known: dict[str, list[str] | None] = {}
        self._told: set[tuple[str, ...]] = set()
        keys = {kind: key for kind, (_, key) in _NAMED.items()} | dict.fromkeys(_BODIES, "name")
        for kind, key in keys.items():
            self._known[kind] = own_names(plan, kind, key)

    def of(self, *kinds: str) -> list[str] | None:
        """Names of some kinds together; None where one could not be read."""
        lists = [self._known[kind] for kind in kinds]
        if any(names is None for names in lists):
            return None
        return [name for names in lists for name in names or ()]

    def ask(self, row: Row, key: str, *kinds: str) -> Iterator[Complaint]:
        """Complain of the name at a key if nothing of these kinds has it."""
        yield from self._ask(row.text(key), row.place(key), kinds)

    def ask_each(self, row: Row, key: str, *kinds: str) -> Iterator[Complaint]:
        """Complain of each name in a list that nothing of these kinds has."""
        for index, name in enumerate(row.names(key)):
            yield from self._ask(name, row.place(key, index), kinds)

    def _ask(self, name: str | None, at: Loc, kinds: tuple[str, ...]) -> Iterator[Complaint]:
        # Where the plan has nothing of a kind, that is said once.
        if name is None or kinds in self._told:
            return
        known = self.of(*kinds)
        if known == []:
            self._told.add(kinds)
        what = " or ".join(_BODIES.get(k) or _NAMED[k][0] for k in kinds)
        yield from _ask(name, at, known, what)


def own_names(owner: Row, kind: str, key: str) -> list[str] | None:
    """Names of the rows at a key, or None where one of them could not be read.

    Parameters
    ----------
    owner : Row
        The table that holds the rows.
    kind, key : str
        Key of the rows, and of the name in each.

    Returns
    -------
    names : list of str or None
        In the order of the rows.
    """
    rows = owner.rows(kind)
    names = [row.text(key) for row in rows]
    if kind in owner.unread or any(name is None for name in names):
        return None
    return [name for name in names if name is not None]


def _ask(name: str | None, at: Loc, known: list[str] | None, what: str) -> Iterator[Complaint]:
    if name is not None and known is not None and name not in known:
        yield at, f'no {what} named "{name}"; {nearest(name, known)}'


def _used_twice(plan: Row) -> Iterator[Complaint]:
    for kind, (what, key) in _NAMED.items():
        yield from _twice(plan.rows(kind), what, key)
    stages = {row.text("name") for row in plan.rows("stages")} - {None}
    for row in plan.rows("activities"):
        if row.text("name") in stages:
            name = row.text("name")
            yield row.place("name"), f'"{name}" is already the name of a stage; choose another'
    bodies = [row for kind in _BODIES for row in plan.rows(kind)]
    yield from _twice(bodies, "section, fixture or fit-out item", "name")
    for body in bodies:
        if body.text("name") in _RESERVED:
            yield (
                body.place("name"),
                f'"{body.text("name")}" is kept for the {body.text("name")} itself; '
                "choose another name",
            )
    shafts = [shaft for shaft in [plan.row("shaft")] if shaft is not None]
    for owner in [*shafts, *bodies, *plan.rows("lifts")]:
        for kind, what in _MARKED.items():
            key = "tackle" if kind == "lines" else "mark"
            yield from _twice(owner.rows(kind), what, key)
    yield from _twice(plan.rows("limits"), "limit", "limit")


def _twice(rows: Iterable[Row], what: str, key: str) -> Iterator[Complaint]:
    first: dict[str, Row] = {}
    for row in rows:
        name = row.text(key)
        if name is None:
            continue
        if name in first:
            order = _ordinal(first[name].at)
            yield (
                row.place(key),
                f'"{name}" is already the {key} of another {what}{order}; give each its own',
            )
        else:
            first[name] = row


def _ordinal(at: Loc) -> str:
    return f" (number {at[-1] + 1})" if at and isinstance(at[-1], int) else ""


def _in_bodies(plan: Row, names: _Names) -> Iterator[Complaint]:
    for body in (row for kind in _BODIES for row in plan.rows(kind)):
        for member in body.rows("members"):
            yield from names.ask(member, "species", "species")
        members = own_names(body, "members", "mark")
        if not body.has("mesh"):
            for shoe in body.rows("shoes"):
                what = f'member of "{body.text("name")}"'
                yield from _ask(shoe.text("member"), shoe.place("member"), members, what)
    for item in plan.rows("fit_out"):
        yield from names.ask(item, "on", "sections")


def _in_rig(plan: Row, names: _Names) -> Iterator[Complaint]:
    points = {
        section.text("name"): own_names(section, "lift_points", "mark")
        for section in plan.rows("sections")
    }
    for lift in plan.rows("lifts"):
        yield from names.ask(lift, "section", "sections")
        yield from names.ask(lift, "hung_from", "fixtures", "sections")
        yield from names.ask(lift, "pattern", "tackles")
        yield from names.ask(lift, "crew", "crews")
        section = lift.text("section")
        if section is not None and section == lift.text("hung_from"):
            yield lift.place("hung_from"), f'"{section}" cannot be hung from itself'
        for line in lift.rows("lines"):
            yield from names.ask(line, "coil", "coils")
            yield from names.ask(line, "capstan", "capstans")
            what = f'lift point of "{section}"'
            at = line.place("lift_point")
            yield from _ask(line.text("lift_point"), at, points.get(section), what)
    yield from _in_openings(plan, names)
    for sling in plan.rows("slings"):
        yield from names.ask(sling, "carries", "sections", "fit_out")
        yield from names.ask(sling, "stage", "stages")


def _in_openings(plan: Row, names: _Names) -> Iterator[Complaint]:
    bodies = {row.text("name"): row for kind in _BODIES for row in plan.rows(kind)}
    lines = {
        lift.text("name"): own_names(lift, "lines", "tackle") for lift in plan.rows("lifts")
    }
    for opening in plan.rows("openings"):
        yield from names.ask(opening, "of", *_BODIES)
        yield from names.ask(opening, "passed_by", "people")
        yield from names.ask_each(opening, "lifts", "lifts")
        body = bodies.get(opening.text("of"))
        if body is not None and not body.has("mesh") and not body.has("shell"):
            what = f'member of "{body.text("name")}"'
            marks = own_names(body, "members", "mark")
            yield from _ask(opening.text("member"), opening.place("member"), marks, what)
        asked = [
            lines.get(name) for name in opening.names("lifts") or tuple(filter(None, lines))
        ]
        if any(each is None for each in asked):
            continue
        known = sorted({name for each in asked for name in each or ()})
        for index, name in enumerate(opening.names("tackles")):
            at = opening.place("tackles", index)
            yield from _ask(name, at, known, "tackle of these lifts")


def _in_people(plan: Row, names: _Names) -> Iterator[Complaint]:
    for activity in plan.rows("activities"):
        yield from names.ask(activity, "crew", "crews")
        yield from names.ask(activity, "section", "sections")
        yield from names.ask(activity, "fits", "fit_out")
        yield from names.ask(activity, "sheltered_by", "fixtures")
        yield from names.ask(activity, "during", "stages")
        yield from names.ask_each(activity, "after", "activities", "stages")
        yield from names.ask_each(activity, "before", "activities", "stages")
    for overrule in plan.rows("overrules"):
        yield from names.ask(overrule, "by", "people")
        if overrule.text("stage"):
            yield from names.ask(overrule, "stage", "stages")
    for signed in plan.rows("signatures"):
        yield from names.ask(signed, "by", "people")
        yield from names.ask(signed, "stage", "stages")
        yield from _hold_point(plan, signed)
    for arrangement in plan.rows("arrangements"):
        yield from names.ask(arrangement, "by", "people")


def _hold_point(plan: Row, signed: Row) -> Iterator[Complaint]:
    mark, stage = signed.text("hold_point"), signed.text("stage")
    for row in plan.rows("stages"):
        if row.text("name") == stage:
            known = row.names("hold_points")
            what = f'hold point of stage "{stage}"'
            yield from _ask(mark, signed.place("hold_point"), list(known), what)


def _in_stages(plan: Row, names: _Names) -> Iterator[Complaint]:
    lifted = {lift.text("name"): lift.text("section") for lift in plan.rows("lifts")}
    for stage in plan.rows("stages"):
        yield from names.ask(stage, "in_charge", "people")
        yield from names.ask_each(stage, "after", "stages")
        yield from names.ask_each(stage, "crews", "crews")
        for step in stage.rows("steps"):
            yield from names.ask(step, "section", "sections")
            yield from names.ask(step, "lift", "lifts")
            yield from names.ask(step, "item", "fit_out")
            yield from names.ask(step, "fixture", "fixtures")
            yield from names.ask(step, "on", "fixtures", "sections")
            yield from names.ask_each(step, "picks_up", "sections")
            section, hauled = step.text("section"), lifted.get(step.text("lift"))
            if step.has("lift") and section and hauled and section != hauled:
                yield (
                    step.place("lift"),
                    f'"{step.text("lift")}" lifts "{hauled}", not "{section}"; name a lift of '
                    f'"{section}"',
                )
            if section is not None and section in (step.text("on"), *step.names("picks_up")):
                yield step.at, f'"{section}" is put on itself; name what carries it'


def _in_contacts(plan: Row, names: _Names) -> Iterator[Complaint]:
    bodies = {row.text("name"): row for kind in _BODIES for row in plan.rows(kind)}
    known = names.of(*_BODIES)
    what = "section, fixture or fit-out item"
    for contact in plan.rows("contacts"):
        yield from names.ask_each(contact, "stages", "stages")
        yield from _ask(contact.text("of"), contact.place("of"), known, what)
        if contact.text("on") != SHAFT:
            yield from _ask(contact.text("on"), contact.place("on"), known, what)
        for side, key in (("of", "marks"), ("on", "on_marks")):
            body = bodies.get(contact.text(side))
            if body is not None:
                yield from _matching_nothing(contact, key, body)


def _matching_nothing(contact: Row, key: str, body: Row) -> Iterator[Complaint]:
    # Marks of a mesh are in its file, a shell has none of its own, and a section without
    # members is complained of elsewhere.
    marks = own_names(body, "members", "mark")
    if not marks or body.has("mesh") or body.has("shell"):
        return
    for index, wanted in enumerate(contact.names(key)):
        stem = wanted.removesuffix("*")
        found = any(m.startswith(stem) for m in marks) if stem != wanted else wanted in marks
        if not found:
            yield (
                contact.place(key, index),
                f'"{wanted}" matches no member of "{body.text("name")}"; '
                f"{nearest(stem, marks)}",
            )


def _piece_of(carrier: Row, ledge: Row) -> Iterator[Complaint]:
    """The piece of its carrier that a ledge is, or is let into."""
    for key in ("member", "let_into"):
        if not carrier.has("mesh"):
            marks = own_names(carrier, "members", "mark")
            yield from _ask(ledge.text(key), ledge.place(key), marks, "member of its carrier")
        elif ledge.has(key):
            told = f'"{carrier.text("name")}" is drawn by a mesh, which names no member'
            yield ledge.place(key), f"{told}; give species and grain of the ledge"


def _in_holding(plan: Row, names: _Names) -> Iterator[Complaint]:
    bodies = {row.text("name"): row for kind in _BODIES for row in plan.rows(kind)}
    for lock in plan.rows("locks"):
        yield from names.ask(lock, "of", "sections")
        yield from names.ask(lock, "on", "sections", "fixtures")
        yield from names.ask(lock, "species", "species")
        yield from names.ask(lock, "signed_by", "people")
        carrier = bodies.get(lock.text("on"))
        for ledge in lock.rows("ledges"):
            yield from names.ask(ledge, "species", "species")
            if carrier is not None:
                yield from _piece_of(carrier, ledge)
    for pad in plan.rows("pads"):
        yield from names.ask(pad, "under", "fixtures")
        under = bodies.get(pad.text("under"))
        if under is not None:
            yield from _matching_nothing(pad, "members", under)
    for anchor in plan.rows("anchors"):
        yield from names.ask_each(anchor, "capstans", "capstans")


def cycle_in(after: Mapping[str, Iterable[str]]) -> list[str]:
    """A ring of stages each of which waits for the next, or nothing.

    Parameters
    ----------
    after : mapping of str to iterable of str
        What each stage waits for.

    Returns
    -------
    ring : list of str
        First and last the same; empty where there is none.
    """
    done: set[str] = set()
    for start in after:
        path: list[str] = []
        stack = [(start, iter(after[start]))]
        while stack:
            name, waits = stack[-1]
            if len(path) < len(stack):
                path.append(name)
            nxt = next((n for n in waits if n in after and n not in done), None)
            if nxt is None:
                done.add(name)
                stack.pop()
                path.pop()
            elif nxt in path:
                return [*path[path.index(nxt) :], nxt]
            else:
                stack.append((nxt, iter(after[nxt])))
    return []
