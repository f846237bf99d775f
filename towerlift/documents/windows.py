"""Windows of weather and light, as papers print them."""

from collections.abc import Iterator

from towerlift.documents.blocks import Block, Weight, Words
from towerlift.documents.edition import Edition


def window_blocks(edition: Edition) -> Iterator[Block]:
    """When work aloft may be done, day by day.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Yields
    ------
    block : Block
        Loudly not evaluated where nothing has been reckoned.
    """
    words = "NOT EVALUATED: no wind, rain or daylight has been held against these hours"
    yield Words(words=words, weight=Weight.LOUD)
