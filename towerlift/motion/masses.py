"""What hangs, with its fit-out, at any passage."""

import numpy as np

from towerlift.motion.passages import Passage
from towerlift.shapes.solids import MassProperties, Shapes, combine


def hanging_mass(shapes: Shapes, passage: Passage, section: str) -> MassProperties:
    """Mass properties of a section with the fit-out that is in it during a passage.

    Parameters
    ----------
    shapes : Shapes
        Of the same plan.
    passage : Passage
        Says which fit-out items are in place.
    section : str
        Name of a section.

    Returns
    -------
    hanging : MassProperties
        In the section's own frame (x, y, s).
    """
    origin = np.zeros(3)
    pieces = [(shapes.sections[section].mass, origin)]
    pieces += [
        (shapes.fit_out[item].mass, origin)
        for item in sorted(passage.fitted)
        if shapes.fitted_on[item] == section
    ]
    return combine(pieces)


def moving_mass(shapes: Shapes, passage: Passage) -> MassProperties:
    """Mass properties of all that moves in a passage, with its fit-out.

    Parameters
    ----------
    shapes : Shapes
        Of the same plan.
    passage : Passage
        One in which something moves.

    Returns
    -------
    moving : MassProperties
        In the frame of the hauled section (x, y, s).

    Raises
    ------
    ValueError
        If nothing moves.
    """
    if not passage.moving:
        raise ValueError(f"nothing moves in passage {passage.index} ({passage.step})")
    hauled = passage.standing[passage.moving[0]].heel_from
    return combine(
        [
            (
                hanging_mass(shapes, passage, name),
                np.array([0.0, 0.0, passage.standing[name].heel_from - hauled]),
            )
            for name in passage.moving
        ]
    )
