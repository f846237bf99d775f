"""Panels for notebooks, one module for each user."""

from towerlift.panels.planner import PlannerPanel

__all__ = ["PlannerPanel"]
