"""No size in mm or degrees decides, without a word, what exists on a piece: every such size has its line here.

A recipe runs on bodies of all sizes, so what it leaves must have the same names and counts on each. The rooms that make
and carry pieces are searched for sizes; each is an option, makes a warning, refuses with a sentence or decides nothing.
"""

from __future__ import annotations

import ast
import re
from itertools import pairwise
from pathlib import Path

from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay
from tests.fullness_pieces import panel

ROOMS = ("panels", "sewing", "drafting", "darts", "fullness", "reshape", "truing", "pattern")
SUGGESTED = ("sewing/suggesting", "sewing/fitting_runs", "sewing/sewable")
"""They only order what is suggested, which is marked so until it is confirmed."""
PENCIL = 0.2
"""mm or degrees: below this it is a pencil line, or rounding, and nothing that anybody draws or sews."""

DECIDED = {
    # options: what is said in a recipe holds for all sizes
    "truing/after USUAL": "option --within of true; it stands in the line to type",
    "drafting/extending HEM_REACH": "nothing: a hem is redrawn over as much beside each seam, its name and count stay",
    "drafting/strokes REACH": "nothing: over how much of a stroke a joint is made fair; what is recorded holds",
    # told, with the figure, and nothing else depends on it
    "darts/feet MOST": "warning: the feet moved along their legs, and the edge with them",
    "darts/pressing FAR": "warning: the cap stands out",
    "darts/releasing FAIR_TURN": "warning: the edge runs straight over the mouth instead of in a curve",
    "darts/darting EQUAL": "warning of check, refusal of an operation that folds the legs on each other",
    "drafting/at_the_centre SQUARE": "warning: a corner that was square is so no more; its edge keeps its name",
    "drafting/at_the_centre ASKEW": "warning: a corner cannot stay square, and its edge only turns",
    "drafting/at_the_centre ROUND": "warning: a corner cannot stay square, and its edge only turns",
    "drafting/at_the_centre SMOOTH": "warning: a corner cannot stay square, and its edge only turns",
    "fullness/fullness MISS": "warning: a line that ends farther off its edge is told, with OFF",
    "fullness/fullness OFF": "warning: the line ends beside its edge",
    "fullness/fullness_figures MET": "warning: a folded pleat misses its seam line",
    "fullness/pleating ALONG": "warning: pleats run square to the edge and not along the grain",
    "pattern/notch_setting SAME": "figure: a notch stands there already, which counts for the new one",
    "pattern/seaming MISMATCH": "warning: the two sides differ",
    "pattern/tracing KINK": "figure: a kink inside an edge",
    "truing/after NOTED": "warning: a line has a kink",
    "truing/after MEANT": "warning: a line has a corner now; it is told and left",
    "truing/truing KINK": "figure: the kink at a node",
    # refused with a sentence that says what to do: a recipe stops there, and never goes on with something else
    "darts/dart_in_outline WIDEST": "refusal: two edges are no dart",
    "darts/dart_in_outline UNEVEN": "refusal: two edges are no dart",
    "darts/opening MOST": "refusal: the edge runs too slantwise for that point",
    "darts/opening FLATTEST": "refusal: as wide as this is no dart",
    "drafting/contouring WIDEST": "refusal: a wedge of more than this is no looseness",
    "drafting/ends LEAST": "refusal: nothing is left of an edge that is cut back",
    "drafting/lines OUTSIDE": "refusal: a line leaves the cloth",
    "panels/cutting NO_AREA": "refusal: a part has no cloth",
    "sewing/joining OVER": "refusal: pieces lie over each other",
    "sewing/joining NO_OVERLAP": "refusal: legs cross",
    "sewing/raglan BLENDED": "nothing: over how much the cap is redrawn; its name and count stay, the ease is told",
    "fullness/gathers SLIP": "refusal: an opening beyond the stretch that is gathered is sent back",
    "fullness/slashing REACH": "refusal: a line that stops farther from the outline is sent back; a place is on it",
    "fullness/slashing OVER": "refusal: a line that sticks out farther is sent back",
    "truing/truing TAPED": "refusal: parts that lie farther apart are no line",
    # nothing: they measure or search, at any of these sizes the same comes out
    "drafting/ends BESIDE": "nothing: where beside a corner it is asked what an edge is sewn to",
    "drafting/lines PROBE": "nothing: where beside a place it is asked what is sewn there",
    "drafting/lines STEP": "nothing: how often it is looked whether a line lies on the cloth",
    "truing/following STEP": "nothing: how often it is told where places of an edge go",
    "fullness/blending KINK": "nothing: a turn that was drawn stays a turn, of one edge with one name",
    "fullness/blending SWAYING": "nothing: whether a redrawn edge is called wavy, which is told",
    "fullness/pleating NEAR": "nothing: the end of a line at its own start is no crossing; no piece is so narrow",
    "fullness/pleats ARROW": "nothing: where an arrow is drawn",
    "fullness/pleats ARROW_FROM": "nothing: where an arrow is drawn",
    "reshape/straightening PARALLEL": "nothing: whether the grain line is put on an edge that is straightened",
    "truing/truing SLIGHT": "nothing: which distance is tried first; the fair line found is the same",
    "pattern/assembling GAP": "nothing: where pieces are laid",
    "pattern/assembling MARGIN": "nothing: where pieces are laid",
    "pattern/graining MARGIN": "nothing: how long a grain line is drawn",
    "pattern/graining BESIDE": "nothing: where a grain line is drawn",
    "pattern/graining CLEAR": "nothing: where a grain line is drawn",
    "pattern/graining BRACKET": "nothing: how the mark of a fold is drawn",
    "pattern/graining DEEP": "nothing: how the mark of a fold is drawn",
    "pattern/graining STRAIGHT": "nothing: from which edge a grain line has its direction where none is said",
    "pattern/paper_motions LEAST": "nothing: what is shown to move in a lesson",
    "pattern/notch_setting DEPTH": "nothing: how deep a notch is cut",
    "pattern/marks/notch OWN_EDGE": "nothing: how a notch at a corner is drawn",
    "pattern/marks/button THICKNESS": "option of button",
    "pattern/marks/button SHANK": "option of button",
    "pattern/bridging CLOSED": "nothing: how a mouth so narrow is drawn over; its edge is one before and after",
    "pattern/remaining LEAST": "nothing: both sides of a seam that were parted by one line miss each other by less; "
    "what is sewn on its own is longer",
    "drafting/folded FAR": "nothing: farther than any piece",
    "pattern/finding FAR": "nothing: farther than any piece",
    "fullness/pleats HEAD": "nothing: how large an arrow is drawn",
    "pattern/assembling BESIDE": "nothing: where pieces are laid",
    "truing/over_mouth WITHIN": "nothing: in which order distances are tried; the figures tell the one that was taken",
    # by hand: what was drawn is read once, and the places that are recorded hold for all sizes
    "drafting/gates TOGETHER": "nothing in a recipe: arrange --against brings the pieces together",
    "drafting/strokes SHORT": "by hand: a stroke overshoots",
    "drafting/strokes MEET": "by hand: a stroke meets a leg or an edge",
    "pattern/tracing CORNER_ANGLE": "option --corner-angle of piece",
    "pattern/tracing DART_LEGS": "by hand: which V of an outline is a dart; dart says so of any",
    "pattern/tracing DART_ANGLE": "by hand: which V of an outline is a dart; dart says so of any",
    "pattern/tracing DART_RUN_ON": "by hand: which V of an outline is a dart; dart says so of any",
}


def sizes() -> set[str]:
    """Constants of the rooms that are mm or degrees, by file and name."""
    core = Path(__file__).parents[1] / "core" / "flatcut"
    found = set()
    for room in ROOMS:
        for path in sorted((core / room).rglob("*.py")):
            file = f"{room}/{path.relative_to(core / room).with_suffix('').as_posix()}"
            body = ast.parse(path.read_text()).body
            for node, doc in pairwise(body):
                if file in SUGGESTED or not isinstance(node, ast.Assign) or not isinstance(doc, ast.Expr):
                    continue
                said = ast.literal_eval(doc.value) if isinstance(doc.value, ast.Constant) else ""
                if re.search(r"\bmm|[Dd]egrees", str(said)) is None or re.match(r"[Dd]ecimals|mm² in a cm²", str(said)):
                    continue
                found |= {f"{file} {name}" for name in _named(node)}
    return found


def _named(node: ast.Assign) -> list[str]:
    """The names that are given a size of PENCIL or more."""
    target = node.targets[0]
    names = target.elts if isinstance(target, ast.Tuple) else [target]
    values = node.value.elts if isinstance(node.value, ast.Tuple) and len(names) > 1 else [node.value]
    sizes = [ast.literal_eval(value) if isinstance(value, (ast.Constant, ast.Tuple)) else 0.0 for value in values]
    largest = [max(size) if isinstance(size, tuple) else size for size in sizes]
    return [
        name.id
        for name, size in zip(names, largest, strict=False)
        if isinstance(name, ast.Name) and isinstance(size, float) and size >= PENCIL
    ]


def test_every_size_has_its_decision() -> None:
    assert sizes() - DECIDED.keys() == set(), (
        "an option, a warning, a refusal or a line that says why it decides nothing"
    )
    assert DECIDED.keys() - sizes() == set(), "these sizes are gone"
    ways = ("option", "warning", "figure", "refusal", "nothing", "by hand")
    assert all(said.startswith(ways) for said in DECIDED.values())


def made(*steps: str) -> Pattern:
    return replay(read_recipe("\n".join(steps)), Pattern())


def test_a_point_put_far_beside_its_axis_is_told_and_done() -> None:
    pattern = made(
        "block bodice --size=bust-90", "back-off front.waist-dart --to=at(front.waist/centre,front.bust-point,0.9,0.4)"
    )
    assert any("beside the axis of front.waist-dart: each foot moved" in said for said in pattern.steps[-1].warnings)


def test_pleats_that_cannot_follow_the_grain_are_told() -> None:
    pattern = panel(300, 500, 0)
    slanting = replay(read_recipe("grain skirt --along=skirt.waist\npleat skirt.waist@5cm..-5cm --depth=1cm"), pattern)
    assert any("run square to the edge" in said for said in slanting.steps[-1].warnings)
    upright = replay(read_recipe("pleat skirt.waist@5cm..-5cm --depth=1cm"), pattern)
    assert upright.steps[-1].warnings == ()


def test_a_notch_that_stands_there_already_is_told() -> None:
    pattern = made(
        "block bodice --size=bust-90",
        "pivot front.bust-dart --to=front.shoulder@1/2 --name=shoulder-dart",
        "back-off front.waist-dart --to=front.bust-point",
        "cut front.shoulder-dart front.waist-dart --edge=princess --notches=5cm",
    )
    # the block's balance marks stand 5 cm above and below the bust point
    told = [f for f in pattern.steps[-1].figures if "the one that stands there is off it by" in f.label]
    assert len(told) == 4
    assert max(f.value for f in told) < 0.01
