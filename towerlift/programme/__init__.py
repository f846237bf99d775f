"""Who does what, where and when: precedence, exclusions, daylight and the schedule."""

from towerlift.programme.bookings import Booking, Kind, Programme, Proof
from towerlift.programme.cells import Cell, Hazard, Zone
from towerlift.programme.dates import Change, Crossing, crossings, nearest_dates, undated
from towerlift.programme.daylight import Light, Polar, daylight, daylights
from towerlift.programme.redating import redated
from towerlift.programme.scheduling import schedule
from towerlift.programme.wishes import NO_WISHES, Closure, Wishes

__all__ = [
    "NO_WISHES",
    "Booking",
    "Cell",
    "Change",
    "Closure",
    "Crossing",
    "Hazard",
    "Kind",
    "Light",
    "Polar",
    "Programme",
    "Proof",
    "Wishes",
    "Zone",
    "crossings",
    "daylight",
    "daylights",
    "nearest_dates",
    "redated",
    "schedule",
    "undated",
]
