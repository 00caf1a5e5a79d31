"""Who lays and who works it, where several are at one wet wall.

One lays the colour on, the other drags, rags or burnishes behind; common practice, no
source. Which of them is told from the recipe's own paces.
"""

from collections.abc import Mapping, Sequence

from scheduling.problem import Job, Step

LAYS, WORKS = "lays", "works"
ROLES = (LAYS, WORKS)


def roles_at(
    job: Job, step: Step, hands: Sequence[str], lead: str | None = None
) -> Mapping[str, str]:
    """Each hand's part in a wet stint of two or more; empty where there is none.

    As many work it as keep level with those who lay. Its look comes from working it:
    the ``lead`` does that, then whoever has the step's skill.
    """
    apply, work = step.apply_min_m2, step.work_min_m2
    if not step.wet or len(hands) < 2 or not apply or not work:
        return {}
    skills = {hand.id: hand.skills for hand in job.hands}
    first = sorted(
        hands, key=lambda hand: (hand != lead, step.skill not in skills.get(hand, ()))
    )
    working = min(
        range(1, len(hands)), key=lambda n: max(work / n, apply / (len(hands) - n))
    )
    at_work = set(first[:working])
    return {hand: WORKS if hand in at_work else LAYS for hand in hands}
