"""The demo's recipes: how a finish is put on at the Marram House, step by step.

Rates are one hand's minutes a square metre, and include cutting in. They are common
practice, no source, taken inside the range the trade gives.
"""

from jobs.factories import HandsNeededFactory, RecipeFactory, StepFactory
from scheduling.problem import After, Recipe, Rescue, Step


def recipes() -> tuple[Recipe, ...]:
    """Every recipe on the job."""
    return (
        _two_colour_glaze(),
        _strie(),
        _wall_paint(),
        _trim_enamel(),
        _polished_lime(),
        _walnut(),
        _marble(),
        _stencil(),
        _carpentry(),
    )


def _step(step_id: str, name: str, material: str | None, least: int, **values) -> Step:
    return StepFactory(
        id=step_id,
        name=name,
        material=material,
        hands=HandsNeededFactory(least=least, most=values.pop("most", None)),
        **values,
    )


def _base(material: str, rate: float, skill: str = "painting") -> tuple[Step, Step]:
    """Two coats of a base, one hand each."""
    return (
        _step(
            "base-1",
            "Base 1",
            material,
            1,
            apply_min_m2=rate,
            setup_min=5.0,
            skill=skill,
        ),
        _step(
            "base-2",
            "Base 2",
            material,
            1,
            apply_min_m2=rate,
            setup_min=5.0,
            skill=skill,
        ),
    )


def _two_colour_glaze() -> Recipe:
    return RecipeFactory(
        id="two-colour-glaze",
        name="Two-colour glaze",
        steps=(
            *_base("eggshell", 4.25),
            _step(
                "glaze",
                "Two glazes laid wet and blended",
                "slow-glaze",
                2,
                after=After(step="base-2", stage="hard"),
                apply_min_m2=5.0,
                work_min_m2=10.0,
                setup_min=15.0,
                skill="glazing",
                wet=True,
            ),
            _step(
                "clear",
                "Clear coat",
                "clear-coat",
                1,
                apply_min_m2=5.0,
                setup_min=5.0,
                skill="painting",
            ),
        ),
    )


def _strie() -> Recipe:
    return RecipeFactory(
        id="strie",
        name="Strié, dragged full height",
        steps=(
            *_base("eggshell", 4.25),
            _step(
                "drag",
                "Glaze and drag, two on the tower",
                "drag-glaze",
                2,
                after=After(step="base-2", stage="hard"),
                apply_min_m2=3.0,
                work_min_m2=6.0,
                setup_min=20.0,
                skill="glazing",
                wet=True,
            ),
            _step(
                "varnish",
                "Varnish",
                "clear-coat",
                1,
                apply_min_m2=5.0,
                setup_min=10.0,
                skill="painting",
            ),
        ),
    )


def _wall_paint() -> Recipe:
    coat = {
        "material": "wall-paint",
        "least": 3,
        "apply_min_m2": 3.0,
        "setup_min": 10.0,
        "skill": "painting",
    }
    return RecipeFactory(
        id="wall-paint",
        name="Wall paint, two coats",
        steps=(_step("coat-1", "Coat 1", **coat), _step("coat-2", "Coat 2", **coat)),
    )


def _trim_enamel() -> Recipe:
    brush = {"least": 1, "setup_min": 5.0, "skill": "painting"}
    return RecipeFactory(
        id="trim-enamel",
        name="Trim enamel",
        steps=(
            _step(
                "prepare",
                "Degloss, fill, sand, vacuum",
                None,
                apply_min_m2=8.0,
                makes=("dust",),
                **brush,
            ),
            _step("prime", "Primer", "adhesion-primer", apply_min_m2=6.5, **brush),
            _step(
                "coat-1",
                "Enamel 1",
                "trim-enamel",
                apply_min_m2=7.5,
                rescue=Rescue(min_m2=2.0),
                **brush,
            ),
            _step("coat-2", "Enamel 2", "trim-enamel", apply_min_m2=8.5, **brush),
        ),
    )


def _polished_lime() -> Recipe:
    """Soap or wax comes a week or more later, on another visit."""
    lime = {"setup_min": 10.0, "skill": "lime", "wet": True}
    mist = Rescue(min_m2=2.0)
    return RecipeFactory(
        id="polished-lime",
        name="Polished lime plaster, three coats",
        steps=(
            _step(
                "prime",
                "Quartz primer",
                "grit-primer",
                1,
                apply_min_m2=3.5,
                setup_min=5.0,
                skill="painting",
            ),
            _step(
                "tight-1",
                "Tight coat",
                "lime-first",
                2,
                apply_min_m2=6.0,
                work_min_m2=6.0,
                rescue=mist,
                **lime,
            ),
            _step(
                "tight-2",
                "Fill and level",
                "lime-fill",
                2,
                apply_min_m2=6.0,
                work_min_m2=6.0,
                rescue=mist,
                **lime,
            ),
            # Lay, close, burnish: 12 minutes a m2 at the pace of the slower, so 36
            # hand-minutes, in the trade's 27 to 48 for the three together.
            _step(
                "polish",
                "Thin coat, burnished while clay-like",
                "lime-polish",
                3,
                apply_min_m2=12.0,
                work_min_m2=12.0,
                rescue=mist,
                **lime,
            ),
        ),
    )


def _walnut() -> Recipe:
    """Graining in water between coats of oil varnish.

    One panel at a time is coloured and grained, and there is a place to stop after
    each: no wet edge runs from panel to panel.
    """
    grain = {"least": 1, "setup_min": 5.0, "skill": "graining"}
    varnish = {
        "material": "oil-varnish",
        "least": 1,
        "apply_min_m2": 6.0,
        "setup_min": 5.0,
        "skill": "painting",
        "makes": ("solvent",),
    }
    return RecipeFactory(
        id="walnut",
        name="Walnut graining",
        steps=(
            *_base("buff-ground", 5.0),
            _step(
                "mottle",
                "Mottle in water colour",
                "graining-water",
                after=After(step="base-2", stage="hard"),
                apply_min_m2=2.0,
                work_min_m2=15.0,
                **grain,
            ),
            _step(
                "overgrain",
                "Overgrain light, then dark",
                "graining-water",
                apply_min_m2=3.0,
                work_min_m2=27.0,
                **grain,
            ),
            _step("varnish-1", "Binding varnish", **varnish),
            _step(
                "wash",
                "Glaze wash, mottled",
                "graining-water",
                apply_min_m2=2.0,
                work_min_m2=9.0,
                rescue=Rescue(min_m2=3.0),
                **grain,
            ),
            _step("varnish-2", "Finishing varnish", **varnish),
        ),
    )


def _marble() -> Recipe:
    scuff = Rescue(min_m2=4.0)
    varnish = {
        "material": "oil-varnish",
        "least": 1,
        "apply_min_m2": 6.5,
        "setup_min": 5.0,
        "skill": "painting",
        "makes": ("solvent",),
        "rescue": scuff,
    }
    return RecipeFactory(
        id="marble",
        name="Marbling in oil, full girth",
        steps=(
            *_base("eggshell", 9.0),
            _step(
                "marble",
                "Drifts and veins, wet in wet",
                "oil-glaze",
                2,
                after=After(step="base-2", stage="hard"),
                apply_min_m2=4.0,
                work_min_m2=40.0,
                setup_min=10.0,
                skill="marbling",
                wet=True,
                makes=("solvent",),
            ),
            _step(
                "drift",
                "Second drift and vein",
                "oil-glaze",
                1,
                apply_min_m2=3.0,
                work_min_m2=15.0,
                setup_min=5.0,
                skill="marbling",
                wet=True,
                rescue=scuff,
                makes=("solvent",),
            ),
            _step("varnish-1", "Varnish 1", **varnish),
            _step("varnish-2", "Varnish 2", **varnish),
        ),
    )


def _stencil() -> Recipe:
    """Some 20 minutes a running metre of a frieze 0.3 m high."""
    return RecipeFactory(
        id="stencil",
        name="Stencilled frieze over glaze",
        steps=(
            _step(
                "glaze",
                "Ground glaze",
                "slow-glaze",
                1,
                apply_min_m2=4.0,
                work_min_m2=8.0,
                setup_min=10.0,
                skill="glazing",
                wet=True,
            ),
            _step(
                "stencil-1",
                "First colour",
                "stencil-colour",
                1,
                after=After(step="glaze", stage="hard"),
                apply_min_m2=38.0,
                setup_min=15.0,
                skill="painting",
            ),
            _step(
                "stencil-2",
                "Second colour",
                "stencil-colour",
                1,
                apply_min_m2=28.0,
                setup_min=5.0,
                skill="painting",
            ),
            _step(
                "seal",
                "Clear coat",
                "clear-coat",
                1,
                after=After(step="stencil-2", stage="hard"),
                apply_min_m2=5.0,
                setup_min=5.0,
                skill="painting",
            ),
        ),
    )


def _carpentry() -> Recipe:
    """Assumed: 25 minutes a running metre of skirting 0.18 m high; no source."""
    saw = {"material": None, "least": 1, "skill": "carpentry", "makes": ("dust",)}
    return RecipeFactory(
        id="skirting",
        name="New skirting, fitted and sanded",
        steps=(
            _step("fit", "Scribe and fix", apply_min_m2=140.0, setup_min=20.0, **saw),
            _step("sand", "Fill and sand", apply_min_m2=20.0, **saw),
        ),
    )
