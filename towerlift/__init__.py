"""Proof that nesting timber tower sections pass, hang and stand at every height."""

__version__ = "0.1.0"
