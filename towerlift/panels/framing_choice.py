"""What the framer has chosen: a section, a setting of the bench, and variants kept."""

from dataclasses import dataclass, field, replace

from towerlift.documents.benches import Framing
from towerlift.nesting.bench import Bench, Setting
from towerlift.nesting.faces import FaceGaps
from towerlift.panels.variants import fresh_name
from towerlift.plan.model import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """A setting kept under a name.

    Attributes
    ----------
    name : str
        Given by the framer.
    section : str
        Section on the bench.
    setting : Setting
        What was turned.
    """

    name: str
    section: str
    setting: Setting


@dataclass(frozen=True, slots=True, kw_only=True)
class FramerChoice:
    """A section on the bench and how the bench is set.

    Attributes
    ----------
    framing : Framing
        Benches to choose from; at least one.
    number : int
        Which bench.
    setting : Setting
        What is turned.
    variants : tuple of Variant
        Kept so far.
    """

    framing: Framing
    number: int = 0
    setting: Setting = field(default_factory=Setting)
    variants: tuple[Variant, ...] = ()

    def __post_init__(self) -> None:
        if not 0 <= self.number < len(self.framing.benches):
            raise ValueError(
                f"no bench number {self.number}: {len(self.framing.benches)} section(s) pass "
                "a shaft that was surveyed face by face"
            )

    @property
    def bench(self) -> Bench:
        """The bench chosen."""
        return self.framing.benches[self.number]

    @property
    def gaps(self) -> FaceGaps:
        """Least to spare, as the bench is set."""
        return self.bench.gaps(self.setting)

    def of_section(self, name: str) -> "FramerChoice":
        """Another section on the bench, set as planned.

        Parameters
        ----------
        name : str
            Which.

        Returns
        -------
        choice : FramerChoice
            Variants stay.

        Raises
        ------
        ValueError
            If no bench holds it.
        """
        names = [bench.section.name for bench in self.framing.benches]
        if name not in names:
            raise ValueError(f'no bench holds "{name}"; there are {", ".join(names)}')
        return replace(self, number=names.index(name), setting=Setting())

    def turned(self, setting: Setting) -> "FramerChoice":
        """The same section with the bench set otherwise."""
        return replace(self, setting=setting)

    def kept(self, name: str) -> "FramerChoice":
        """The setting kept under a name.

        Parameters
        ----------
        name : str
            Not blank, and not taken yet.

        Returns
        -------
        choice : FramerChoice
            With one variant more.

        Raises
        ------
        ValueError
            If the name is blank or taken.
        """
        name = fresh_name(name, [variant.name for variant in self.variants])
        variant = Variant(name=name, section=self.bench.section.name, setting=self.setting)
        return replace(self, variants=(*self.variants, variant))

    def at_variant(self, name: str) -> "FramerChoice":
        """The bench as it was when a variant was kept.

        Parameters
        ----------
        name : str
            Of the variant.

        Returns
        -------
        choice : FramerChoice
            Variants stay.

        Raises
        ------
        ValueError
            If there is none of that name.
        """
        for variant in self.variants:
            if variant.name == name:
                return self.of_section(variant.section).turned(variant.setting)
        raise ValueError(f'no variant "{name}" is kept')

    def as_plan(self, name: str) -> Plan:
        """A variant as a plan of its own, to be checked or saved; the plan is untouched.

        Parameters
        ----------
        name : str
            Of the variant.

        Returns
        -------
        plan : Plan
            With its plumb line and swelling. What a plan cannot say, such as a piece
            pared, is in its note.
        """
        chosen = self.at_variant(name)
        plan, bench, setting = chosen.framing.plan, chosen.bench, chosen.setting
        swelling = float(bench.swelling(setting).max())
        sections = tuple(
            s.model_copy(update={"swelling": max(swelling, 0.0)})
            if s.name == bench.section.name
            else s
            for s in plan.sections
        )
        note = "; ".join([*([plan.note] if plan.note else []), *_beyond_a_plan(setting)])
        return plan.model_copy(
            update={
                "name": f"{plan.name}: {name}",
                "note": note,
                "plumb_line": bench.line(setting),
                "sections": sections,
            }
        )


def _beyond_a_plan(setting: Setting) -> list[str]:
    said = [
        f"{p.depth * 1000:.0f} mm pared off the {p.face} side of {p.mark}"
        for p in setting.pared
    ]
    if setting.quarter_turns:
        said.append(f"the section turned by {90 * setting.quarter_turns} degrees")
    if setting.out_of_square > 0:
        said.append(f"{setting.out_of_square * 1000:.0f} mm out of square reckoned with")
    if setting.drift > 0:
        said.append(f"{setting.drift * 1000:.0f} mm of drift reckoned with")
    if setting.play is not None:
        said.append(f"runners packed to {setting.play * 1000:.0f} mm of play")
    return [f"Bench: {each}" for each in said]
