"""Who does what, where and when: precedence, exclusions, daylight and the schedule."""

from towerlift.programme.bookings import Booking, Kind, Programme, Proof
from towerlift.programme.cells import Cell, Hazard, Zone
from towerlift.programme.daylight import Light, Polar, daylight, daylights
from towerlift.programme.scheduling import NO_WISHES, Closure, Wishes, schedule

__all__ = [
    "NO_WISHES",
    "Booking",
    "Cell",
    "Closure",
    "Hazard",
    "Kind",
    "Light",
    "Polar",
    "Programme",
    "Proof",
    "Wishes",
    "Zone",
    "daylight",
    "daylights",
    "schedule",
]
