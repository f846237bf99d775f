"""What has been reckoned of a lock, as its certificate prints it."""

from collections.abc import Iterator

from towerlift.documents.blocks import Block, Weight, Words
from towerlift.documents.edition import Edition


def wind_allowed(edition: Edition, section: str, stage: str) -> str:
    """Greatest gust that a locked section stands.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    section, stage : str
        What is locked, and when.

    Returns
    -------
    words : str
        Loudly not evaluated where nothing has been reckoned.
    """
    return "NOT EVALUATED: no wind has been reckoned for this state"


def lock_rows(edition: Edition, section: str, carrier: str, stage: str) -> Iterator[Block]:
    """Loads and bearing of a lock.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    section, carrier, stage : str
        What is locked, on what, and when.

    Yields
    ------
    block : Block
        Loudly not evaluated where nothing has been reckoned.
    """
    words = "NOT EVALUATED: bearing and bending of this lock have not been reckoned"
    yield Words(words=words, weight=Weight.LOUD)
