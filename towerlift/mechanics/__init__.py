"""Statics on plain arrays: slings, tackles, capstans, jamming guides and hanging sections."""

# Third General Conference on Weights and Measures, 1901. [m/s^2]
STANDARD_GRAVITY = 9.80665

__all__ = ["STANDARD_GRAVITY"]
