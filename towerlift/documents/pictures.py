"""Drawings put into papers."""

from collections.abc import Sequence

import numpy as np

from towerlift.checks.strength import mass_factor
from towerlift.documents.blocks import Block, Picture, Weight, Words
from towerlift.documents.edition import Edition
from towerlift.documents.hauling import Hauling
from towerlift.drawings import Strip, gap_strip, raise_strip
from towerlift.drawings.leads import LeadPlan, lead_plan
from towerlift.drawings.section_cut import CutPlace, section_cut
from towerlift.motion.masses import moving_mass
from towerlift.nesting.bench import Bench, Setting
from towerlift.nesting.shims import Shim
from towerlift.plan.work import Stage
from towerlift.rig.curves import HangCurve
from towerlift.rig.leads import leads_of
from towerlift.rig.pulls import rope_path

ON_CARDS = 14.0


def elevations(edition: Edition, stage: Stage) -> list[Block]:
    """Elevation before and after a stage.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : Stage
        Which.

    Returns
    -------
    blocks : list of Block
        Empty where nothing is drawn.
    """
    return []


def haul_strip(edition: Edition, hauling: Hauling) -> list[Block]:
    """Gaps along the haul.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    hauling : Hauling
        Which haul.

    Returns
    -------
    blocks : list of Block
        One picture.
    """
    longest = max(hauling.passages, key=lambda each: abs(each.travel))
    strip = Strip(width=516.0, height=300.0, text=ON_CARDS)
    svg = gap_strip(edition.outcome, longest, strip)
    return [Picture(svg=svg, caption="Gap to everything passed, along this haul")]


def whole_tower(edition: Edition) -> list[Block]:
    """The whole raise in one strip.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        One picture.
    """
    svg = raise_strip(edition.outcome, 0.0, size=(1000.0, 260.0), text=13.0)
    return [Picture(svg=svg, caption="Heel height of every section along the raise")]


def site_plan(edition: Edition) -> list[Block]:
    """The capstan ground with the falls of each lift.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        A picture for each lift, at its hardest pull.
    """
    hardest: dict[str, HangCurve] = {}
    for haul in edition.hauls:
        for curve in haul.curves:
            kept = hardest.get(curve.lift)
            if kept is None or np.nanmax(curve.pull) > np.nanmax(kept.pull):
                hardest[curve.lift] = curve
    hauls = {haul.lift.name: haul for haul in edition.hauls}
    blocks: list[Block] = []
    for name, curve in hardest.items():
        haul = hauls[name]
        passage = edition.outcome.raise_.passages[curve.passage]
        mass = moving_mass(edition.outcome.shapes, passage)
        path = rope_path(haul.lift, haul.pattern, mass_factor(edition.plan, mass))
        leads = leads_of(edition.plan, curve, path)
        if isinstance(leads, str):
            words = f"NOT EVALUATED: plan of leads of lift {name}: {leads}"
            blocks.append(Words(words=words, weight=Weight.LOUD))
            continue
        svg = lead_plan(edition.plan, leads, LeadPlan(width=620.0, height=520.0, text=12.0))
        caption = f"Lift {name} at its hardest pull, stage {curve.stage}"
        blocks.append(Picture(svg=svg, caption=caption, share=0.8, most=115.0))
    return blocks


def worst_cut(edition: Edition, bench: Bench) -> list[Block]:
    """Section through shaft and work where least is left.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    bench : Bench
        Of one section.

    Returns
    -------
    blocks : list of Block
        Empty where it passes no masonry.
    """
    setting = Setting()
    gaps = bench.gaps(setting)
    worst = gaps.worst()
    if worst is None:
        return []
    place = CutPlace(
        gaps=gaps,
        reach=bench.reach(setting),
        walls=bench.walls,
        line=bench.line(setting),
        band=worst[0],
        face=worst[1],
    )
    caption = f"Section where the {bench.section.name} leaves least, detail at 1:10"
    return [Picture(svg=section_cut(place, size=460.0, text=12.0), caption=caption, share=0.8)]


def packing_wall(edition: Edition, bench: Bench, shims: Sequence[Shim]) -> list[Block]:
    """The wall unrolled with the marks of its packing.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    bench : Bench
        Of the section that runs on it.
    shims : sequence of Shim
        The packing.

    Returns
    -------
    blocks : list of Block
        Empty where nothing is drawn.
    """
    return []


def reeving(edition: Edition) -> list[Block]:
    """How each pattern of tackle is rove.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        Empty where nothing is drawn.
    """
    return []


def height_time(edition: Edition) -> list[Block]:
    """People as bands and sections as lines, height against time.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        Loudly not evaluated where no chart can be drawn.
    """
    words = "NOT EVALUATED: no chart of height against time has been drawn"
    return [Words(words=words, weight=Weight.LOUD)]


def three_states(edition: Edition) -> list[Block]:
    """The tower at the beginning, half way and when it is done.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        One picture.
    """
    return whole_tower(edition)
