"""What to mind about the work itself: rags, solvents, old paint, dust, lime, height.

Facts of a job in, cautions out; none of them stops a coat. ``cautions`` tells of the
air and ``ground_cautions`` of the ground.
"""

from collections.abc import Iterable

from scheduling.cautions import Caution
from scheduling.problem import Family, Job, Material, Step, Surface

# Assumed: about what a hand with a brush reaches from the floor.
REACH_M = 2.0
_DECIDE = "local codes and licensed practice decide"
_PLASTERED = ("wall", "ceiling")  # Assumed: what is usually plaster under old paint
_WIRED = ("wall", "ceiling", "panel", "column")  # where sockets, switches, lamps sit
_MINERAL: tuple[Family, ...] = ("lime", "gypsum")
_SOAKS: tuple[Family, ...] = ("lime", "gypsum", "distemper")
_WATERY: tuple[Family, ...] = (*_SOAKS, "waterborne", "glaze", "water-size")

# What each is called where there is room for a word or two, the gravest first.
SHORT = {
    "lead-paint": "old paint may hold lead",
    "silica": "quartz dust",
    "lime": "lime burns",
    "solvent": "solvent",
    "oily-rags": "oily rags",
    "live-wires": "sockets and lamps dead",
    "height": "ladder or tower",
}
# Read in 2026: 40 CFR 745 subpart E (federal register), the lead regulations 2002 (the
# code of practice to them), 1926.1153 and 1926.1053 (the safety office's letters and
# lists), the dichloromethane ban (the UK executive's notice). From memory: entry 59,
# EH40/2005, 1926.102, 1926.252(e), 1926.416(a), NFPA 70E, Work at Height 2005.
_SAID: dict[str, tuple[str, str]] = {
    "lead-paint": (
        "Old paint may hold lead: test it before it is rubbed or stripped. In housing "
        "in the US take it so before 1978. Wet, with a vacuum that holds fine dust; no "
        "flame, no dry sanding; children and pregnant people out.",
        "40 CFR 745 subpart E; Control of Lead at Work Regulations 2002 (UK)",
    ),
    "silica": (
        "Dust of plaster and filler may hold quartz: rub it wet or with extraction, a "
        "mask that fits, no dry sweeping.",
        "29 CFR 1926.1153; EH40/2005 (UK)",
    ),
    "lime": (
        "Lime burns skin and eyes: goggles, gloves, sleeves, clean water at hand. "
        "In an eye: rinse at once and long, then a doctor.",
        "29 CFR 1926.102; common practice, no source",
    ),
    "solvent": (
        "Solvent: air moving, a cartridge mask, no flame, spark or pilot light, lids "
        "on. No stripper with dichloromethane.",
        "29 CFR 1926.252(e); EH40/2005 (UK); REACH annex XVII, entry 59 (EU)",
    ),
    "oily-rags": (
        "Oily rags heat themselves and burn: flat in the open or under water in a "
        "lidded metal can, out of the building every day.",
        "29 CFR 1926.252(e)",
    ),
    "live-wires": (
        "Water and wires: circuits off and proved dead before plates come off or a "
        "wall is wetted; leads and lamps clear of it.",
        "NFPA 70E; 29 CFR 1926.416(a)",
    ),
    "height": (
        f"Above {REACH_M:.1f} m: a sound ladder on firm ground, tied or footed, three "
        "points of contact, or a tower; no two on one ladder.",
        "29 CFR 1926.1053; Work at Height Regulations 2005 (UK)",
    ),
}


def work_cautions(job: Job, surface: Surface, step: Step) -> tuple[Caution, ...]:
    """What to mind at a step on a surface, the gravest first."""
    return cautions_of(_codes(job, surface, step))


def cautions_of(codes: Iterable[str]) -> tuple[Caution, ...]:
    """The cautions of those codes, each once, gravest first; KeyError for others."""
    asked = set(codes)
    unknown = asked - _SAID.keys()
    if unknown:
        raise KeyError(min(unknown))
    return tuple(
        Caution(code=code, text=text, source=f"{source}; {_DECIDE}")
        for code, (text, source) in _SAID.items()
        if code in asked
    )


def _codes(job: Job, surface: Surface, step: Step) -> Iterable[str]:
    material = job.material(step.material) if step.material else None
    before = _coats_before(job, surface, step)
    bare = material is None  # rubs, scrapes, strips, washes
    if bare and not before and step.airborne:
        yield "lead-paint"
    if "dust" in step.makes and _is_plaster(surface, before, material):
        yield "silica"
    if material is not None and material.family == "lime":
        yield "lime"
    if "solvent" in step.makes or (material is not None and material.solvent):
        yield "solvent"
    if material is not None and material.oily:
        yield "oily-rags"
    if surface.kind in _WIRED and _wets(step, material):
        yield "live-wires"
    if _is_high(surface):
        yield "height"


def _coats_before(job: Job, surface: Surface, step: Step) -> list[Material]:
    """What the recipe has put on before the step."""
    steps = job.recipe(surface.recipe).steps
    return [
        job.material(earlier.material)
        for earlier in steps[: steps.index(step)]
        if earlier.material is not None
    ]


def _is_plaster(
    surface: Surface, before: list[Material], material: Material | None
) -> bool:
    """Whether dust made here is of plaster: new, or old that nothing covers yet."""
    mineral = [*before, *([material] if material is not None else [])]
    if any(coat.family in _MINERAL for coat in mineral):
        return True
    return not before and surface.kind in _PLASTERED


def _wets(step: Step, material: Material | None) -> bool:
    if "steam" in step.makes:
        return True
    if material is None:
        return False
    return material.family in _SOAKS or (step.wet and material.family in _WATERY)


def _is_high(surface: Surface) -> bool:
    """Whether it is out of reach from the floor; a ceiling's height is its depth."""
    if surface.kind == "ceiling":
        return True
    return surface.kind != "floor" and surface.height_m > REACH_M
