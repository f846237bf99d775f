"""A moving body and one that it passes, ready for the clearance engine."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np

from towerlift.gaps import Body, Path, PathGap, build_body
from towerlift.motion.passages import TRUE_HANG, Passage, PoseChange
from towerlift.motion.raises import Raise
from towerlift.nesting.bodies import Assembly, assemble, part_of, section_assembly
from towerlift.nesting.contacts import SHOE, meant_contacts, meant_pairs
from towerlift.nesting.curves import Floats
from towerlift.nesting.margins import Place
from towerlift.nesting.slabs import Slabs, cut_at_heights
from towerlift.plan.model import Plan
from towerlift.plan.work import Contact
from towerlift.shapes.solids import Ints, Shapes
from towerlift.shapes.unseen import UNSEEN, unseen_solid

SHAFT = "shaft"
SLAB = 1.0
# Pieces that are meant to bear may be near each other this close to where they rest.
RELEASE = 0.25
# Surfaces this near touch: the engine certifies no least distance between them.
TOUCH = 1e-9
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Workshop:
    """What a plan draws and does, with every body built once.

    Attributes
    ----------
    plan : Plan
        As written.
    shapes : Shapes
        What it draws.
    raise_ : Raise
        What it does.
    shelf : dict
        Bodies built so far, by what they are of.
    """

    plan: Plan
    shapes: Shapes
    raise_: Raise
    shelf: dict[tuple[object, ...], object] = field(default_factory=dict)

    def kept(self, key: tuple[object, ...], make: Callable[[], T]) -> T:
        """What is on the shelf under a key, made first where it is not yet there."""
        if key not in self.shelf:
            self.shelf[key] = make()
        found: T = self.shelf[key]  # type: ignore[assignment]
        return found

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """Contacts that are meant."""
        return self.kept(("contacts",), lambda: meant_contacts(self.plan))

    def assembly(self, name: str, fitted: frozenset[str]) -> Assembly:
        """A section with its fit-out, a fixture, the shaft or what was not seen, by name.

        Parameters
        ----------
        name : str
            Which.
        fitted : frozenset of str
            Fit-out in place.

        Returns
        -------
        assembly : Assembly
            Own frame.
        """
        own = frozenset(i for i in fitted if self.shapes.fitted_on[i] == name)

        def make() -> Assembly:
            if name in self.shapes.sections:
                return section_assembly(self.shapes, name, own)
            if name == UNSEEN:
                return assemble(name, [unseen_solid(self.shapes.unseen)])
            solid = self.shapes.shaft if name == SHAFT else self.shapes.fixtures[name]
            return assemble(name, [solid])

        return self.kept(("assembly", name, own), make)

    def body(self, name: str, fitted: frozenset[str], assembly: Assembly) -> Body:
        """Engine body of an assembly, members numbered as its labels.

        Parameters
        ----------
        name : str
            Section, fixture or shaft it is of.
        fitted : frozenset of str
            Fit-out in place.
        assembly : Assembly
            From this workshop: the whole, or a part of it.

        Returns
        -------
        body : Body
            Own frame.
        """

        def make() -> Body:
            return build_body(
                assembly.vertices,
                assembly.faces,
                assembly.members,
                closed=self._closed(name, fitted),
            )

        return self.kept(("body", id(assembly)), make)

    def _closed(self, name: str, fitted: frozenset[str]) -> bool:
        if name == SHAFT:
            return self.shapes.shaft.closed
        if name == UNSEEN:
            return False
        if name in self.shapes.fixtures:
            return self.shapes.fixtures[name].closed
        items = [i for i in fitted if self.shapes.fitted_on[i] == name]
        pieces = [self.shapes.sections[name], *(self.shapes.fit_out[i] for i in items)]
        return all(piece.solid.closed for piece in pieces if piece.solid is not None)

    def slabs(self, assembly: Assembly) -> Slabs:
        """An assembly cut at every metre of height.

        Parameters
        ----------
        assembly : Assembly
            From this workshop.

        Returns
        -------
        slabs : Slabs
            Own frame.
        """

        def make() -> Slabs:
            used = assembly.vertices[np.unique(assembly.faces), 2]
            low, high = np.floor(used.min() / SLAB), np.ceil(used.max() / SLAB)
            edges = SLAB * np.arange(low, max(high, low + 1) + 1)
            return cut_at_heights(assembly.vertices, assembly.faces, assembly.members, edges)

        return self.kept(("slabs", id(assembly)), make)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """One moving section and one body that stands while it passes.

    Attributes
    ----------
    shop : Workshop
        Bodies.
    passage : Passage
        What moves.
    moving, against : str
        Names of the two.
    released : bool
        Whether it is only about contacts that are meant to bear, on the way between
        the places where they may.
    """

    shop: Workshop
    passage: Passage
    moving: str
    against: str
    released: bool = False

    @property
    def moving_assembly(self) -> Assembly:
        """The moving side."""
        return self._side(self.moving, 0)

    @property
    def other_assembly(self) -> Assembly:
        """The standing side."""
        return self._side(self.against, 1)

    @property
    def moving_body(self) -> Body:
        """Engine body of the moving side."""
        return self.shop.body(self.moving, self.passage.fitted, self.moving_assembly)

    @property
    def other_body(self) -> Body:
        """Engine body of the standing side."""
        return self.shop.body(self.against, self.passage.fitted, self.other_assembly)

    @property
    def slabs(self) -> Slabs:
        """The moving side, cut at every metre of height."""
        return self.shop.slabs(self.moving_assembly)

    def _side(self, name: str, column: int) -> Assembly:
        whole = self.shop.assembly(name, self.passage.fitted)
        if not self.released:
            return whole
        key = ("bearing pieces", self.passage.index, self.moving, self.against, column)
        return self.shop.kept(key, lambda: part_of(whole, np.unique(self._bearing[:, column])))

    @property
    def meant(self) -> Ints:
        """Pairs of members that are left out because they may touch, (k, 2)."""
        key = ("meant", self.passage.index, self.moving, self.against, self.released)
        return self.shop.kept(key, self._left_out)

    @property
    def _meant_of_whole(self) -> Ints:
        """Pairs of members of the whole bodies that may touch."""
        return self._whole_pairs(self.shop.contacts)

    def _whole_pairs(self, contacts: Iterable[Contact]) -> Ints:
        fitted = self.passage.fitted
        moving = self.shop.assembly(self.moving, fitted)
        other = self.shop.assembly(self.against, fitted)
        return meant_pairs(contacts, self.passage.stage, moving, other)

    @property
    def _bearing(self) -> Ints:
        """Pairs of members of the whole bodies that are meant to bear, not to run."""

        def find() -> Ints:
            shoes = [contact for contact in self.shop.contacts if contact.kind == SHOE]
            running = {tuple(row) for row in self._whole_pairs(shoes).tolist()}
            meant = [tuple(row) for row in self._meant_of_whole.tolist()]
            left = [row for row in meant if row not in running]
            return np.array(left, dtype=np.int64).reshape(-1, 2)

        return self.shop.kept(("bearing", self.passage.index, self.moving, self.against), find)

    def _left_out(self) -> Ints:
        if not self.released:
            return self._meant_of_whole
        # Pieces of the two parts that are not meant to bear on each other.
        moving, other = (np.unique(self._bearing[:, column]) for column in (0, 1))
        bearing = {tuple(row) for row in self._bearing.tolist()}
        left = [
            (i, j)
            for i, member in enumerate(moving.tolist())
            for j, other_member in enumerate(other.tolist())
            if (member, other_member) not in bearing
        ]
        return np.array(left, dtype=np.int64).reshape(-1, 2)

    @property
    def on_the_way(self) -> "Pair":
        """The same pair, about nothing but its bearing contacts between its places of rest."""
        return replace(self, released=True)

    @property
    def unmeant(self) -> bool:
        """Whether anything is left once meant contacts are taken out."""
        if self.released:
            return len(self._bearing) > 0
        n_pairs = len(self.moving_assembly.labels) * len(self.other_assembly.labels)
        return len(self.meant) < n_pairs

    @property
    def travel(self) -> tuple[float, float]:
        """Lowest and highest heel height of the moving section. [m]"""
        place = self.passage.standing[self.moving]
        low, high = sorted((place.heel_from, place.heel_to))
        return (low + RELEASE, high - RELEASE) if self.released else (low, high)

    @property
    def shaft_from_other(self) -> Floats:
        """Pose of the standing body."""
        standing = self.passage.standing.get(self.against)
        if standing is None:
            return np.eye(4)
        return self.shop.raise_.shaft_from_section(standing.heel_from)

    def path(
        self, low: float, high: float, step: float, *, shift: tuple[float, float] = (0.0, 0.0)
    ) -> Path:
        """Path of the moving body, in the frame of the standing one.

        Parameters
        ----------
        low, high : float
            Heel heights. [m]
        step : float
            Longest step. [m]
        shift : tuple of float
            Move of the plumb line, shaft frame. [m]

        Returns
        -------
        path : Path
            Stations are heel heights.
        """
        heels = np.linspace(low, high, max(1, int(np.ceil((high - low) / step - 1e-9))) + 1)
        moved = PoseChange(drift_x=shift[0], drift_y=shift[1])
        poses = [self.pose(float(heel), moved) for heel in heels]
        return Path(stations=heels, poses=np.array(poses))

    def pose(self, heel: float, moved: PoseChange = TRUE_HANG) -> Floats:
        """Pose of the moving body in the frame of the standing one.

        Parameters
        ----------
        heel : float
            Its heel height. [m]
        moved : PoseChange
            How it hangs away from true.

        Returns
        -------
        other_from_moving : (4, 4) float
            [m]
        """
        shaft_from_moving = self.shop.raise_.shaft_from_section(heel, moved)
        return np.asarray(np.linalg.inv(self.shaft_from_other) @ shaft_from_moving)

    def in_shaft(self, point: Floats | Place) -> Place:
        """A point of the standing body's frame, in the shaft frame."""
        x, y, z = (self.shaft_from_other @ np.append(np.asarray(point), 1.0))[:3]
        return float(x), float(y), float(z)


def passing_pairs(shop: Workshop) -> Iterator[Pair]:
    """Every moving section with everything that stands while it moves.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.

    Yields
    ------
    pair : Pair
        In the order of the raise.
    """
    for passage in shop.raise_.moving_passages:
        still = [name for name in passage.standing if name not in passage.moving]
        for moving in passage.moving:
            if abs(passage.standing[moving].heel_to - passage.standing[moving].heel_from) > 0:
                for against in [SHAFT, *still, *sorted(passage.fixtures)]:
                    yield Pair(shop=shop, passage=passage, moving=moving, against=against)


def hidden_pairs(shop: Workshop) -> Iterator[Pair]:
    """Every moving section with what the holes of the scan may hold.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.

    Yields
    ------
    pair : Pair
        One beside each pair with the shaft; none where nothing is hidden.
    """
    if shop.shapes.unseen:
        for pair in passing_pairs(shop):
            if pair.against == SHAFT:
                yield replace(pair, against=UNSEEN)


def proven(gap: PathGap, need: float = TOUCH) -> float | None:
    """What a gap is proven not to be below; minus the depth where bodies meet. [m]

    Parameters
    ----------
    gap : PathGap
        By the engine.
    need : float
        What must be left. A distance that is attained and less than that is proof
        enough that it is not left, certified or not. [m]

    Returns
    -------
    proven : float or None
        None where nothing is proven.
    """
    if gap.certified:
        return gap.lower
    return gap.upper if gap.upper <= need else None


def only(assembly: Assembly, members: Ints, *, closed: bool = False) -> Body:
    """Engine body of some members of an assembly.

    Parameters
    ----------
    assembly : Assembly
        The whole.
    members : (k,) int
        Members to keep; at least one triangle must be left.
    closed : bool
        Whether every member bounds a solid.

    Returns
    -------
    body : Body
        Members numbered as in the assembly.
    """
    rows = np.isin(assembly.members, members)
    faces, owners = assembly.faces[rows], assembly.members[rows]
    return build_body(assembly.vertices, faces, owners, closed=closed)
