"""Gaps along the raise and the budget they are held against."""
