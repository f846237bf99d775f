"""Clock times at the site."""

import re
from datetime import datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

from towerlift.plan.work import Site

_OFFSET = re.compile(r"UTC([+-])(\d\d):(\d\d)")


def site_zone(site: Site) -> tzinfo:
    """Time zone of the site.

    Parameters
    ----------
    site : Site
        Its zone has been checked when the plan was read.

    Returns
    -------
    zone : tzinfo
        From an IANA name, or a fixed offset such as "UTC-02:00".

    Raises
    ------
    ValueError
        If there is no zone of that name.
    """
    return zone_named(site.time_zone)


def zone_named(name: str) -> tzinfo:
    """Time zone of a name.

    Parameters
    ----------
    name : str
        An IANA name, or a fixed offset such as "UTC-02:00".

    Returns
    -------
    zone : tzinfo
        With its daylight-saving time where it has one.

    Raises
    ------
    ValueError
        If there is no zone of that name.
    """
    written = _OFFSET.fullmatch(name)
    if written is None:
        try:
            return ZoneInfo(name)
        except (KeyError, OSError) as error:
            raise ValueError(f'there is no time zone "{name}"') from error
    sign, hours, minutes = written.groups()
    offset = timedelta(hours=int(hours), minutes=int(minutes))
    return timezone(-offset if sign == "-" else offset)


def clock(moment: datetime, zone: tzinfo) -> str:
    """Clock time of a moment, to the nearest minute.

    Parameters
    ----------
    moment : datetime
        With its own zone.
    zone : tzinfo
        Zone of the site.

    Returns
    -------
    text : str
        Such as "17:14".
    """
    return f"{(moment + timedelta(seconds=30)).astimezone(zone):%H:%M}"


def day(moment: datetime, zone: tzinfo) -> str:
    """Date of a moment at the site.

    Parameters
    ----------
    moment : datetime
        With its own zone.
    zone : tzinfo
        Zone of the site.

    Returns
    -------
    text : str
        Such as "2027-04-28".
    """
    return f"{moment.astimezone(zone):%Y-%m-%d}"
