"""The session engine that the settings name."""

from jobs.models.people import SessionStore

__all__ = ["SessionStore"]
