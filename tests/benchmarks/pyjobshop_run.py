"""Solves networks with PyJobShop; run by that package's own Python, JSON in and out.

Each network is activities (length, machine, demand, latest), distances (i, j, d),
machines and capacities; each answer a status, a makespan and seconds.
"""

import json
import sys
import time

from pyjobshop import Model


def solve(network, seconds):
    """Status, makespan and seconds, the model's making included."""
    began = time.perf_counter()
    model = Model()
    machines = [model.add_machine() for _ in range(network["machines"])]
    kinds = [model.add_renewable(most) for most in network["capacity"]]
    made = []
    for activity in network["activities"]:
        latest = {} if activity["latest"] is None else {
            "latest_start": activity["latest"]
        }  # fmt: skip
        made.append(model.add_task(**latest))
        used, demands = [], []
        if activity["machine"] is not None:
            used, demands = [machines[activity["machine"]]], [0]
        for kind, demand in zip(kinds, activity["demand"]):  # noqa: B905 - 3.9 too
            used.append(kind)
            demands.append(demand if activity["length"] else 0)
        model.add_mode(made[-1], used, activity["length"], demands)
    for before, after, distance in network["apart"]:
        model.add_start_before_start(made[before], made[after], delay=distance)
    found = model.solve(time_limit=seconds, display=False, num_workers=1)
    status = found.status.value.lower()
    return {
        "status": status,
        "makespan": int(found.objective) if found.best.tasks else None,
        "seconds": time.perf_counter() - began,
    }


given = json.load(sys.stdin)
json.dump([solve(network, given["seconds"]) for network in given["networks"]],
          sys.stdout)  # fmt: skip
