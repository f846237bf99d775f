"""What if it hung out of true here: gap, loads and verdict, within a blink, headless."""

from towerlift.what_if.answers import Answer, Held, LineLoad, ShoeLoad
from towerlift.what_if.asked import WhatIf
from towerlift.what_if.bench import WhatIfBench
from towerlift.what_if.nearest import Near
from towerlift.what_if.newest import Newest

__all__ = [
    "Answer",
    "Held",
    "LineLoad",
    "Near",
    "Newest",
    "ShoeLoad",
    "WhatIf",
    "WhatIfBench",
]
