"""Wires settings, queue and web. Every door passes here first."""

import os
import zoneinfo

# Zone rules come from the pinned tzdata package, not from the machine: an old system
# copy shifts next winter's plans by an hour, and two machines would disagree.
os.environ["PYTHONTZPATH"] = ""  # for child processes
zoneinfo.reset_tzpath(to=())  # for this one, which may have imported zoneinfo before
zoneinfo.ZoneInfo.clear_cache()

from config.celery import app as celery_app  # noqa: E402 - after the zone rules

__all__ = ("celery_app",)
