"""How each member comes into the shaft, as papers list it."""

from collections.abc import Iterator

from towerlift.documents.blocks import Block, Weight, Words
from towerlift.documents.edition import Edition


def ways_blocks(edition: Edition) -> Iterator[Block]:
    """Ways in, and what comes by which.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Yields
    ------
    block : Block
        Loudly not evaluated where the plan gives no way.
    """
    if not edition.plan.ways_in:
        words = "NOT EVALUATED: the plan gives no way in for members"
        yield Words(words=words, weight=Weight.LOUD)


def way_of(edition: Edition, owner: str, mark: str) -> str:
    """The way by which a member comes in.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    owner, mark : str
        Section or fit-out item, and member.

    Returns
    -------
    words : str
        Loudly not evaluated where the plan gives no way.
    """
    return "NOT EVALUATED"
