"""The demo's materials: what a label would say, in minutes at 23 C and 50 %.

Nothing here is a maker's word. Times are common practice, no source, and stand as the
ranges the trade gives.
"""

from jobs.factories import MaterialFactory
from scheduling.problem import Material

HOUR = 60.0
DAY = 24 * HOUR

# Waterborne films: in light use after a day, washable after two weeks, full in a month.
WATERBORNE_PROMISES = {"handle": DAY, "wash": 14 * DAY, "full": 30 * DAY}
OIL_PROMISES = {"handle": (3 * DAY, 7 * DAY), "full": 30 * DAY}


def materials() -> tuple[Material, ...]:
    """Every material on the job, by family."""
    return (*_waterborne(), *_glaze_and_distemper(), *_oil(), *_lime())


def _waterborne() -> tuple[Material, ...]:
    water = {"family": "waterborne", "promises": WATERBORNE_PROMISES}
    return (
        MaterialFactory(
            id="wall-paint",
            name="Dispersion wall paint",
            labels={"open": (5.0, 15.0), "touch": HOUR, "recoat": 3 * HOUR},
            # 57 m2 a coat then give about 3 kg of water to the room.
            water_share=0.55,
            spread_m2_per_l=10.0,
            **water,
        ),
        MaterialFactory(
            id="eggshell",
            name="Eggshell base",
            labels={
                "open": (5.0, 15.0),
                "touch": HOUR,
                "recoat": (2 * HOUR, 4 * HOUR),
                "hard": (2 * DAY, 3 * DAY),  # cured, not just dry, under a glaze
            },
            water_share=0.5,
            spread_m2_per_l=11.0,
            **water,
        ),
        MaterialFactory(
            id="buff-ground",
            name="Buff ground for graining",
            labels={
                "open": (5.0, 15.0),
                "touch": HOUR,
                "recoat": (2 * HOUR, 4 * HOUR),
                "hard": (DAY, 2 * DAY),
            },
            water_share=0.5,
            spread_m2_per_l=11.0,
            **water,
        ),
        MaterialFactory(
            id="adhesion-primer",
            name="Adhesion primer",
            labels={
                "open": (5.0, 10.0),
                "touch": HOUR,
                "recoat": (2 * HOUR, 4 * HOUR),
                "window": 7 * DAY,
            },
            water_share=0.5,
            spread_m2_per_l=11.0,
            **water,
        ),
        MaterialFactory(
            id="trim-enamel",
            name="Acrylic trim enamel",
            labels={"open": (5.0, 12.0), "touch": HOUR, "recoat": (4 * HOUR, 6 * HOUR)},
            water_share=0.45,
            spread_m2_per_l=12.0,
            family="waterborne",
            promises={
                "handle": (2 * DAY, 3 * DAY),
                "load": 7 * DAY,
                "full": 30 * DAY,
            },
        ),
        MaterialFactory(
            id="clear-coat",
            name="Matt waterborne varnish",
            labels={
                "open": (5.0, 10.0),
                "touch": HOUR,
                "recoat": (2 * HOUR, 4 * HOUR),
                "hard": (2 * DAY, 5 * DAY),
            },
            water_share=0.6,
            spread_m2_per_l=12.0,
            **water,
        ),
        MaterialFactory(
            id="grit-primer",
            name="Quartz primer for lime",
            labels={
                "open": (10.0, 20.0),
                "touch": 2 * HOUR,
                "recoat": DAY,
                "window": 7 * DAY,
            },
            water_share=0.4,
            spread_m2_per_l=7.0,
            **water,
        ),
        MaterialFactory(
            id="stencil-colour",
            name="Stencil colour, dry brush",
            labels={"touch": (3.0, 8.0), "recoat": HOUR, "hard": DAY},
            water_share=0.3,
            spread_m2_per_l=40.0,
            **water,
        ),
    )


def _glaze_and_distemper() -> tuple[Material, ...]:
    glaze = {
        "family": "glaze",
        "promises": {"wash": (14 * DAY, 30 * DAY), "full": 30 * DAY},
        "water_share": 0.6,
        "spread_m2_per_l": 14.0,
    }
    dry = {
        "touch": (2 * HOUR, 4 * HOUR),
        "recoat": (12 * HOUR, 24 * HOUR),
        "hard": (2 * DAY, 3 * DAY),  # may be taped for a stencil
    }
    return (
        MaterialFactory(
            id="slow-glaze",
            name="Acrylic glaze in slow medium",
            labels={"open": (30.0, 45.0), **dry},
            parts={"colour": 1.0, "medium": 4.0},
            **glaze,
        ),
        MaterialFactory(
            id="drag-glaze",
            name="Acrylic scumble for dragging",
            labels={"open": (20.0, 35.0), **dry},
            parts={"colour": 2.0, "medium": 1.0},
            **glaze,
        ),
        MaterialFactory(
            id="graining-water",
            name="Graining colour in water",
            family="distemper",
            labels={
                "open": (1.0, 4.0),
                "touch": (20.0, 30.0),
                "recoat": (30.0, 60.0),
            },
            water_share=0.9,
            spread_m2_per_l=20.0,
        ),
    )


def _oil() -> tuple[Material, ...]:
    oil = {"family": "oil", "oily": True, "solvent": True, "promises": OIL_PROMISES}
    return (
        MaterialFactory(
            id="oil-glaze",
            name="Oil glaze for marbling",
            labels={
                "open": (30.0, 90.0),
                "touch": (6 * HOUR, 8 * HOUR),
                "recoat": (DAY, 2 * DAY),
                "window": 7 * DAY,
            },
            parts={"oil": 1.0, "spirit": 3.0},
            spread_m2_per_l=16.0,
            **oil,
        ),
        MaterialFactory(
            id="oil-varnish",
            name="Satin oil varnish",
            labels={
                "open": (15.0, 30.0),
                "touch": 3 * HOUR,
                "recoat": (12 * HOUR, DAY),
                "window": (3 * DAY, 7 * DAY),
            },
            spread_m2_per_l=14.0,
            **oil,
        ),
    )


def _lime() -> tuple[Material, ...]:
    """One paste, but each coat has clocks of its own."""
    paste = {"family": "lime", "water_share": 0.3, "spread_m2_per_l": 3.0}
    return (
        MaterialFactory(
            id="lime-first",
            name="Lime-marble paste, tight first coat",
            labels={
                "open": (15.0, 30.0),
                "recoat": (6 * HOUR, 12 * HOUR),
                "window": (3 * DAY, 5 * DAY),
            },
            **paste,
        ),
        MaterialFactory(
            id="lime-fill",
            name="Lime-marble paste, filling coat",
            labels={
                "open": (15.0, 30.0),
                "recoat": (4 * HOUR, 10 * HOUR),
                "window": (DAY, 2 * DAY),
            },
            **paste,
        ),
        MaterialFactory(
            id="lime-polish",
            name="Lime-marble paste, polishing coat",
            # Until it is too hard to burnish: that begins 10 to 30 minutes behind the
            # trowel and lasts 10 to 40.
            labels={"open": (25.0, 60.0), "cured": 28 * DAY},
            promises={"handle": 2 * DAY, "full": 28 * DAY},
            **paste,
        ),
    )
