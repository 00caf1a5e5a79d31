"""Which entries of the log stand: the last that was logged about a step has the word.

The log is in the order in which it was written. An entry that ends no later than one
before it, of the same step on the same place, says that the other was wrong; one that
ends later is a coat laid again, and both are on the wall.
"""

from scheduling.problem import Coat, Job


def standing(job: Job) -> tuple[Coat, ...]:
    """The logged coats in the order of the log, less those that a later entry corrects.

    A coat on several sections stands until all of them are corrected.
    """
    later: dict[tuple[str, str], list[Coat]] = {}
    stand: list[Coat] = []
    for coat in reversed(job.coats):
        logged_after = later.setdefault((coat.surface, coat.step), [])
        # By the moment, since two times of one zone compare by the face of the clock.
        end = coat.end.timestamp()
        corrected = {
            other.section for other in logged_after if other.end.timestamp() <= end
        }
        if not corrected or not _all_of(job, coat, corrected):
            stand.append(coat)
        logged_after.append(coat)
    return tuple(reversed(stand))


def _all_of(job: Job, coat: Coat, corrected: set[str | None]) -> bool:
    if None in corrected or coat.section in corrected:
        return True
    sections = {name for name, _ in job.surface(coat.surface).sections}
    return coat.section is None and corrected >= sections
