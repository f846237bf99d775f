"""The browser view: the whole raise on one slider, live or as one file."""

from towerlift.scrub.page import standalone_html
from towerlift.scrub.view import ScrubView

__all__ = ["ScrubView", "standalone_html"]
