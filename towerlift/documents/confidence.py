"""How sure the date is."""

from towerlift.documents.edition import Edition


def confidence_words(edition: Edition) -> str:
    """Chance of finishing by the planned day.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    words : str
        Loudly not evaluated where no weather has been laid against the programme.
    """
    return "NOT EVALUATED: no weather has been laid against the programme"
