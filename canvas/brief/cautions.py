"""Say the cautions that go with a result.

Computes: nothing; the one place of their wording.
Units: none.
Source: common practice, no source, unless one is named.
Limits: cautions inform; codes, makers' ratings and licensed practice decide.
"""

from __future__ import annotations

from collections.abc import Mapping

AID = "A ranking and planning aid: not cut-ready without a fitting piece, and no promise of safety."
LINE_OF_SIGHT = "Line of sight says where the blade is hidden; cloth also slows and turns air beside and far behind it."
TRY_IT = (
    "An estimate: waves, gusts and the boat's motion are not modelled. Try it at anchor and under way, with someone at "
    "the helm, before relying on it."
)
LOADS = (
    "Loads are estimates. Fittings must follow their makers' ratings and a rigger's or naval architect's judgement "
    "where people lean on them. Never safe in gales. Breaking seas are not modelled and carry over ten times more than "
    "wind."
)
EXITS = "Keep two ways out, a clear look-out all round, and a knife at hand."
GAS = (
    "An enclosed cockpit can hold exhaust and stove fumes: carbon monoxide kills. Fit an alarm. No open flame near "
    "cloth. That no drift is shown is never proof that there is none."
)
HARNESS = "Harness points are never on canvas or its frames."
CUTTING = "Fit a trial piece on board before cloth is cut. An edge said to be long or patterned on board is not final."
UV = "Published formulas for ultraviolet differ by 15 to 30 %: read doses as relative. Shade is no sunburn protection."
PRICE = "Quantities are nested, not quoted: a maker's order will differ. Labour is usually the larger part of the bill."
SURVEY = "A reading in which an error would not be seen is not checked by the others: take more to those marks."
CLEAR_SKY = (
    "Hours are of sun-up under a clear sky, and of rain were it raining: how often it does is not known here. The "
    "vane's hours are by line of sight and by a rough wake sum, not by flow."
)
SCAN = (
    "A phone's scan bends and stretches by a centimetre or two over a cockpit: tape the distances that matter, and "
    "look at every difference named before cloth is cut."
)
PHOTO = (
    "All lengths hang on the targets' printed size unless a tape says otherwise: tape three long distances. A target "
    "that moved before the first photograph is seen only by tape."
)
WAKE = "The wake sum is rough and cannot show gains: ask `canvas vane --method flow` before relying on it."
ROUGH = "Variants are ranked by few rays and a rough wake sum that shows no gains: check the best with the other verbs."

BY_VERB: Mapping[str, tuple[str, ...]] = {
    "check": (AID,),
    "survey": (SURVEY, AID),
    "shade": (UV, AID),
    "rain": (TRY_IT, AID),
    "vane": (LINE_OF_SIGHT, TRY_IT),
    "loads": (LOADS, HARNESS),
    "fit": (EXITS, GAS, HARNESS),
    "cut": (CUTTING,),
    "buy": (PRICE,),
    "life": (UV, AID),
    "mockup": (AID, HARNESS),
    "brief": (CUTTING, LOADS, EXITS, GAS, HARNESS),
    "passage": (CLEAR_SKY, LINE_OF_SIGHT, TRY_IT, LOADS, UV),
    "compare": (LINE_OF_SIGHT, WAKE, PRICE, AID),
    "sweep": (ROUGH, LINE_OF_SIGHT, AID),
    "search": (ROUGH, LINE_OF_SIGHT, AID),
    "scan": (SCAN, AID),
    "photo": (PHOTO, AID),
    "report": (AID, TRY_IT, LOADS, EXITS, GAS, HARNESS, CUTTING),
}


def cautions_for(verb: str) -> tuple[str, ...]:
    """Return the cautions that go with a verb's result."""
    return BY_VERB.get(verb, (AID,))
