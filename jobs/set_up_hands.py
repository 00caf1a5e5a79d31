"""Writes about hands that are set up: keep, remove."""

from datetime import datetime
from typing import Any

from jobs.models import Hand, Job
from jobs.set_up_actions import after_last, changing, free_key, put_columns


def keep_hand(
    *, job: Job, hand: Hand | None, now: datetime, key: str = "", **columns: Any
) -> Hand:
    """A new hand, or new values for one.

    ``key`` is the id of the same person on another job: an id is one person in all.
    """
    with changing(job, now):
        if hand is None:
            rows = job.hands.all()
            free = key and not rows.filter(key=key).exists()
            own = key if free else free_key(columns["name"], "hand", rows)
            hand = Hand(job=job, key=own, position=after_last(rows))
        put_columns(hand, columns)
    return hand


def remove_hand(*, hand: Hand, now: datetime) -> None:
    """A hand leaves the job; what is held for or forbidden to others stays so."""
    job = hand.job
    with changing(job, now):
        for pin in job.pins.all():
            if hand.key in pin.hands:
                pin.hands = [key for key in pin.hands if key != hand.key]
                pin.save(update_fields=("hands",))
        for ban in job.bans.all():
            if hand.key in ban.hands:
                ban.hands = [key for key in ban.hands if key != hand.key]
                ban.save(update_fields=("hands",))
                if not ban.hands and ban.start is None:
                    ban.delete()
        hand.delete()
