"""Change one key of the file of every key, and find the first result that moves."""

import hashlib
import json
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from canvas import verbs
from canvas.cutting.files import cut_files
from canvas.design.editing import Draft
from canvas.design.problems import DesignError
from canvas.geometry.fixed import fixed_of
from canvas.jobs.failure import CouldNot
from canvas.materials.order import order_csv
from canvas.materials.quantities import take_off
from canvas.study.legs import plan_legs
from canvas.verbs import flow as flow_verb
from canvas.verbs.making import cut_result
from canvas.wind.blade import BladeWind, Estimate
from tests.whole.key_changes import HERE, changes, leaves

KEYS = dict(leaves())


def digest(*parts):
    """Return a hash of arrays, numbers and words."""
    found = hashlib.sha256()
    for part in parts:
        if isinstance(part, np.ndarray):
            found.update(f"{part.shape}".encode() + np.ascontiguousarray(part).tobytes())
        else:
            found.update(repr(part).encode())
    return found.hexdigest()


def surfaces(all_of_them):
    return [
        part
        for one in all_of_them
        for part in (
            one.name, one.vertices, one.faces, one.light_through, one.uv_through, one.rain_through, one.sight_through,
            one.wind_loss,
        )
    ]  # fmt: skip


def boat(rigging):
    """What rays, rain and wind meet without canvas; where people are, and the blade."""
    model = rigging.model
    fixed = [part for name in ("bare", "spray hood") for part in surfaces(fixed_of(model, name).surfaces(model))]
    spots = [part for place in model.places for part in (place.name, place.points, place.normals, place.area)]
    return digest(*fixed, *spots, model.blade.points, model.blade.foot)


def survey(rigging):
    """Marks with their covariance, and what the survey says of its readings."""
    marks = rigging.model.marks
    answer = verbs.survey(rigging).record()
    said = {key: part for key, part in answer.items() if key not in ("design_sha256", "problems")}
    return digest(marks.xyz, marks.covariance, json.dumps(said))


def canvas(rigging):
    """Canvas as it hangs in every set."""
    sets = rigging.model.design.set_names()
    return digest(*(part for name in sets for part in surfaces(rigging.rig(name).scene.of_kind("cloth"))))


def record_of(answer):
    """A record without what names the text it came from, and without lines, which move with it."""
    found = answer.record()
    return json.dumps([{key: part for key, part in one.items() if key != "problems"} for one in found["sets"]])


def fit(rigging):
    """Room, sight, ways out."""
    return digest(record_of(verbs.fit(rigging, sets=["wet watch"])))


def loads(rigging):
    """What each part carries and when it goes."""
    return digest(record_of(verbs.loads(rigging, sets=["wet watch"])))


def made(rigging):
    """Flat parts, the maker's files, what to buy and what it costs."""
    result = cut_result(rigging)
    paper = rigging.model.design.shop.paper
    bought = verbs.buy(rigging, result=result)
    listed = order_csv(take_off(result, rigging.model.design, tubes=rigging.model.tubes))
    files = [(file.name, hashlib.sha256(file.content).hexdigest()) for file in cut_files(result, papers=(paper,))]
    edges = [(edge.fit, edge.long_by) for edge in result.edges]
    return digest(files, listed, record_of(bought), edges)


def brief(rigging):
    """The maker's brief, as a page."""
    files = verbs.brief(rigging).files
    page = next(content for name, content in files.items() if name.endswith(".html"))
    return digest(page.replace(rigging.model.source.sha256.encode(), b""))


def mockup(rigging):
    """The mock-up sheet."""
    return digest(*verbs.mockup(rigging, sets=["wet watch"]).files.values())


def rain(rigging):
    """Driving rain on the bare boat."""
    return digest(record_of(verbs.rain(rigging, sets=["spray hood"], aws=[10.0])))


def passage(rigging):
    """The plan of a passage: way, hours, days, suns, how she lies."""
    plans = plan_legs(rigging.model.source)
    return digest(
        *(
            part
            for plan in plans
            for part in (
                plan.set_name, plan.route.latitude, plan.route.longitude, plan.route.distance, plan.duration, plan.days,
                plan.sun.azimuth, plan.lyings,
            )
        )
    )  # fmt: skip


def steers(rigging):
    """The vane's verdicts, from a flow made up beforehand."""

    def flow(scenes, conditions, *, angles, **_):
        about = {"bare": 1.0, "spray hood": 0.85, "wet watch": 0.7}
        wind = {
            scene.set_name: BladeWind(
                where="clear", turn=0.05, turn_free=0.05, gain=0.9, unsteadiness=0.1, wander=0.05, memory=2.0,
                reverses=False,
                **{key: Estimate.about(about[scene.set_name], 0.04)
                   for key in ("speed_ratio", "speed_ratio_free", "force_ratio")},
            )
            for scene in scenes
        }  # fmt: skip
        seen = [SimpleNamespace(awa=awa, cell=0.05, wind=wind, outcome={}) for awa in angles]
        need = SimpleNamespace(cells=1, memory=1.0, updates=1.0)
        return SimpleNamespace(angles=seen, conditions=conditions, need=need, updates=0, device="cpu", no_card="")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(flow_verb, "rose", flow)
        return digest(record_of(verbs.vane(rigging, method="flow", sets=["spray hood", "wet watch"])))


def known(probe, rigging):
    """A result, or how it was refused: that is what moves where a limit is passed."""
    try:
        return probe(rigging)
    except DesignError as refused:
        return digest([problem.code for problem in refused.problems])


# Keys whose change makes a boat that cannot be, which is said: a statement turned false, readings on a panel that is
# aboard already and so survey readings, an edge along what lies elsewhere, a wire that does not pass.
DECIDING = {
    "reading.above.at", "reading.above.below", "panel.edges.along", "panel.edges.edge", "panel.pierced.by",
    "reading.tape.panel", "reading.level.panel", "reading.offset.panel", "reading.plumb.panel",
}  # fmt: skip
PROBES = (boat, survey, canvas, steers, passage, fit, loads, made, mockup, brief, rain)
FIRST = {  # where a key is likeliest to show, asked before the others; the longest name that fits counts
    "vane": (boat, steers, fit), "vane.kind": (brief,), "sailing": (steers, passage, rain), "sailing.roll": (rain,),
    "instrument": (loads,), "reading": (survey, mockup), "reading.meter": (steers,), "reading.ribbon": (steers,),
    "survey": (survey,), "passage": (passage,), "prices": (made,),
    "shop": (made,), "crew": (boat, fit), "cloth": (canvas, made, loads), "cloth.warp_strength": (loads,),
    "cloth.weft_strength": (loads,), "winch": (fit,), "fitting": (fit,), "tube": (boat, fit, loads, made),
    "tube.new": (made,), "panel": (canvas, made, loads), "set": (canvas, fit), "outlet": (brief,), "filler": (brief,),
    "units": (mockup,),
}  # fmt: skip


@cache
def riggings(text):
    return verbs.rigging_of(Draft(text, path=HERE / "every_key.toml").source())


@cache
def before(text, probe):
    return known(probe, riggings(text))


def moved_by(name):
    """Return the first result that moves when a key is changed; None where none does."""
    refused = []
    for text, path, value in changes(name, KEYS[name]):
        draft = Draft(text, path=HERE / "every_key.toml")
        draft.set(path, value)
        words = name.split(".")
        first = next((FIRST[part] for k in (len(words), 2, 1) if (part := ".".join(words[:k])) in FIRST), ())
        try:
            rigging = verbs.rigging_of(draft.source())
            for probe in (*first, *(probe for probe in PROBES if probe not in first)):
                if known(probe, rigging) != before(text, probe):
                    return probe.__name__
        except (DesignError, CouldNot) as error:
            if name in DECIDING:
                return "whether the design can be"
            refused.append(f"{value}: {error}")
            continue
        return None
    raise AssertionError(f"no change of {name} was accepted: {refused}")
