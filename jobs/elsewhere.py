"""Hands that other jobs have already: their issued stints there are not free here.

Hands of one company with the same id are the same person: a copied job keeps them.
"""

from dataclasses import replace
from datetime import datetime

from jobs.calendar_words import moment_text
from jobs.models import Job, Plan, Stint
from scheduling import problem


def stints_elsewhere(job: Job, at: datetime) -> list[Stint]:
    """What issued plans of the company's other jobs still ask for, from ``at`` on."""
    issued = Stint.objects.filter(
        plan__state=Plan.State.ISSUED, plan__job__company_id=job.company_id, end__gt=at
    )
    rows = issued.exclude(plan__job=job).select_related("plan__job")
    return list(rows.order_by("start", "pk"))


def away_elsewhere(
    job: problem.Job, stints: list[Stint]
) -> tuple[problem.Job, tuple[str, ...]]:
    """The job with its hands away for those stints, and a sentence a hand and job."""
    zone = job.site.tz
    hands, notes = [], []
    for hand in job.hands:
        theirs = [stint for stint in stints if hand.id in stint.hands]
        away = [
            (stint.start.astimezone(zone), stint.end.astimezone(zone))
            for stint in theirs
        ]
        hands.append(replace(hand, away=(*hand.away, *away)))
        last = {stint.plan.job.title: stint.end for stint in theirs}
        notes += [
            f"{hand.name or hand.id} has issued stints at {title} until "
            f"{moment_text(end, zone)}: not free here then."
            for title, end in sorted(last.items())
        ]
    return replace(job, hands=tuple(hands)), tuple(notes)
