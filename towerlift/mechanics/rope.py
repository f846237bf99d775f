"""One rope by itself: stretch, factor of strength, and the length a tackle takes."""


def rope_stretch(pull: float, length: float, *, axial_stiffness: float) -> float:
    """Stretch of a rope under a pull that is alike all along it.

    Parameters
    ----------
    pull : float
        In the rope. [N]
    length : float
        Unstretched. [m]
    axial_stiffness : float
        EA of the rope. [N]

    Returns
    -------
    stretch : float
        [m]

    Raises
    ------
    ValueError
        If `axial_stiffness` is not positive.
    """
    if not axial_stiffness > 0:
        raise ValueError(f"EA must be positive, got {axial_stiffness} N")
    return pull * length / axial_stiffness


def strength_factor(breaking_force: float, pull: float, *, kept: float = 1.0) -> float:
    """Breaking force over pull.

    Parameters
    ----------
    breaking_force : float
        Certified minimum of the new rope. [N]
    pull : float
        Greatest pull in the rope. [N]
    kept : float
        Share of the breaking force that splice, age and wear leave.

    Returns
    -------
    factor : float
        The rope breaks at 1.

    Raises
    ------
    ValueError
        If a force is not positive or `kept` is not a share.
    """
    if not (breaking_force > 0 and pull > 0 and 0 < kept <= 1):
        raise ValueError(
            f"forces must be positive and the share kept at most 1, got {breaking_force} N, "
            f"{pull} N, {kept}"
        )
    return breaking_force * kept / pull


def rope_needed(longest: float, fall_length: float, *, parts: int, spare: float) -> float:
    """Rope that a tackle takes at its longest.

    Parameters
    ----------
    longest : float
        Greatest distance from block to block. [m]
    fall_length : float
        From the top block to the barrel. [m]
    parts : int
        Parts of rope at the moving block.
    spare : float
        For turns on the barrel, the tail and the hands that hold it. [m]

    Returns
    -------
    length : float
        [m]
    """
    return parts * longest + fall_length + spare
