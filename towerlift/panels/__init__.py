"""Panels for notebooks, one module for each user."""

from towerlift.panels.day import DayPanel
from towerlift.panels.planner import PlannerPanel
from towerlift.panels.rigger import RiggerPanel
from towerlift.panels.roofer import RooferPanel

__all__ = ["DayPanel", "PlannerPanel", "RiggerPanel", "RooferPanel"]
