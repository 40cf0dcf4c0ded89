"""Single words of the trade that are stored as they are, and said in the language of whoever is spoken to."""

from __future__ import annotations

from service.voice import later, say

TERMS = (
    *(later("prime"), later("backup"), later("seal")),
    *(later("still damp"), later("dry"), later("damp"), later("wet")),
    *(later("sound"), later("failed"), later("scrapped"), later("dewaxed"), later("ended")),
    *(later("run-out"), later("shell opened"), later("crack"), later("fin"), later("inclusion")),
    *(later("soft surface or shed stucco"), later("dewax crack"), later("bulge")),
    *(later("cold shut or misrun"), later("other")),
    *(later("open face"), later("flat panel"), later("pocket")),
    *(later("on my way"), later("later"), later("taken back")),
    *(later("too warm"), later("too cold"), later("too damp"), later("too dry"), later("swung")),
    *(later("recorded"), later("measured"), later("worked out"), later("assumed")),
    *(later("next dip due"), later("longest wait near"), later("waiting too long"), later("ready for dewax")),
    *(later("room out of limits"), later("room swinging"), later("room silent"), later("sensor silent")),
    *(later("sensors differ"), later("broker down"), later("before the night"), later("wax at risk")),
    *(later("after a cut"), later("clock wrong")),
    *(later("reminder"), later("all clear"), later("put off"), later("taken on")),
    *(later("mould"), later("dip"), later("wires"), later("check"), later("note"), later("weight")),
    *(later("face"), later("sensor on"), later("learn anew")),
    *(later("result"), later("photo"), later("tank check"), later("told"), later("withdrawn")),
    *(later("surely"), later("likely"), later("perhaps")),
)
"""A test holds them against the kinds, outcomes and verdicts there are."""


def term(word: str) -> str:
    """``prime``, ``still damp``, ``run-out``: a stored word as it is said. One of no list stays as it is."""
    return say(str(word)) if word else ""
