"""What is arranged on site and no reckoning gives: said, or loudly not answered."""

from towerlift.documents.edition import Edition

NOT_ANSWERED = "NOT ANSWERED"


def arranged(edition: Edition, about: str) -> str:
    """What the plan says of a matter, and who answers for it.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    about : str
        The matter.

    Returns
    -------
    words : str
        That it is not answered, where it is not.
    """
    said = [
        f"{each.words} ({edition.role(each.by)})"
        for each in edition.plan.arrangements
        if each.about == about
    ]
    return " ".join(said) or f"{NOT_ANSWERED} in the plan: {about}"


def is_arranged(edition: Edition, about: str) -> bool:
    """Whether the plan says anything of a matter.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    about : str
        The matter.

    Returns
    -------
    said : bool
        Whether it does.
    """
    return any(each.about == about for each in edition.plan.arrangements)
