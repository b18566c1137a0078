"""`lining` and the check of derived pieces: a lined, faced garment in every size, and faults put into it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pytest
import shapely
from shapely import affinity

from flatcut.blocks.body import sizes_or_errors
from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.findings import Finding
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, chain, flatten, transform
from flatcut.pattern.comparing import differences
from flatcut.pattern.moving import moved
from flatcut.pattern.runs import run_sewn, show_run
from flatcut.pattern.seaming import walked
from flatcut.pattern.values import Pattern, Piece, outline
from flatcut.pattern.walking import sewn_length
from flatcut.recipe import read_recipe, replay

RECIPE = Path(__file__).parents[1] / "samples" / "garments" / "lined-shift.recipe"
BODIES = sizes_or_errors((RECIPE.parents[1] / "panels" / "sizes.toml").read_text())
"""Bodies from bust 76 to 122."""
BRIEF = ("bust-76", "bust-90", "bust-122")
EVERY = [size if size in BRIEF else pytest.param(size, marks=pytest.mark.long) for size in BODIES]


@cache
def shift(size: str = "bust-90", neck: str = "--end=front.centre/neck@2cm") -> Pattern:
    text = RECIPE.read_text().replace(" --size=bust-90", "").replace("--end=front.centre/neck@2cm", neck)
    body = BODIES[size]
    assert isinstance(body, dict)
    return replay(read_recipe(text), Pattern(body=MappingProxyType(body)))


def ring(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.01))


def seams(pattern: Pattern) -> dict[str, float]:
    return {f"{show_run(pattern, s.a)} = {show_run(pattern, s.b)}": s.ease for s in pattern.seams}


@pytest.mark.parametrize("size", EVERY)
def test_a_lined_and_faced_shift_is_clean_in_every_size(size: str) -> None:
    """No finding at all; and the relations of a lining by hand: hem 25 mm shorter, seams like the shell's."""
    pattern = shift(size)
    assert [finding.text for finding in run_checks(pattern)] == []
    made = seams(pattern)
    for name in ("front", "back"):
        piece, lining = pattern.piece(name), pattern.piece(f"{name}-lining")
        assert sewn_length(piece.edge("side")) - sewn_length(lining.edge("side")) == pytest.approx(25.0, abs=0.05)
        assert sewn_length(lining.edge("armhole")) == pytest.approx(sewn_length(piece.edge("armhole")), abs=0.05)
        assert sewn_length(piece.edge("shoulder")) - sewn_length(lining.edge("shoulder")) == pytest.approx(40, abs=0.05)
        # the facing rolls by 2 mm at the shoulder, and the lining is not cut narrower for it
        assert made[f"{name}-facing.inner = {name}-lining.inner"] == pytest.approx(2.0, abs=0.05)
        assert lining.material == "lining"
    assert "front-lining.shoulder = back-lining.shoulder" in made
    assert "front-lining.side = back-lining.side" in made


@pytest.mark.parametrize("size", BRIEF)
def test_the_lining_is_nowhere_narrower_by_shapely(size: str) -> None:
    """Laid on its piece by the underarm corner, scan lines across both; the back has the ease pleat more."""
    pattern = shift(size)
    for name, more in (("front", 0.0), ("back", 25.0)):
        piece, lining, facing = (pattern.piece(n) for n in (name, f"{name}-lining", f"{name}-facing"))
        corner = "side/armhole" if name == "front" else "armhole/side"
        at = [one.edge("armhole").start if name == "front" else one.edge("armhole").end for one in (piece, lining)]
        assert corner
        shell, other = ring(piece), affinity.translate(ring(lining), *(at[0] - at[1]))
        top = piece.edge("neckline").parts[0].nodes[:, 1].max() + 65
        low = other.bounds[3] - 5
        for y in np.linspace(top, low, 40):
            across = shapely.LineString([(-5000, y), (5000, y)])
            assert other.intersection(across).length >= shell.intersection(across).length + more - 0.2, (name, y)
        assert facing


def test_one_figure_edited_gives_facing_and_lining_that_fit_again() -> None:
    """The neck 2 cm lower: the same recipe, nothing else said."""
    lower = shift(neck="--end=front.centre/neck@4cm")
    assert [finding.text for finding in run_checks(lower)] == []
    long = [sewn_length(p.piece("front").edge("neckline")) for p in (shift(), lower)]
    assert long[1] > long[0] + 5
    facing = sewn_length(lower.piece("front-facing").edge("neckline"))
    assert facing == pytest.approx(long[1], abs=0.05)


COAT = """block torso --size=bust-90 --bust-ease=14cm
style --name=coat --materials=shell,lining
edge front.hip back.hip --names=hem,hem --use=hem
dart front.waist-dart --remove
dart back.waist-dart --remove
pivot front.bust-dart --to=front.side/armhole@8cm --hold=front.centre
pivot back.shoulder-dart --to=back.neck@1/2 --hold=back.centre
edge front.centre --use=finished --centre=no
edge front.armhole back.armhole --use=finished
label front --cut=pair
line --start=front.shoulder/neck@45mm --end=front.hem/centre@8cm --leave=square --arrive=square --name=facing-line
facing front.centre front.neck --inner=front.facing-line
facing back.neck --width=6cm --at-seam="length(front-facing.shoulder)"
lining front back --hem={hem} --jump={jump}
label front back front-facing back-facing --material=shell
allowance all --width=1cm
"""


@pytest.mark.parametrize(("hem", "jump"), [(25, 0), (25, 25), (20, 10)])
def test_a_front_facing_is_sewn_to_its_lining_as_far_as_that_reaches(hem: int, jump: int) -> None:
    """A coat's facing goes to its hem; a lining that ends higher leaves so much of the facing's edge free."""
    pattern = replay(read_recipe(COAT.format(hem=hem, jump=jump)), Pattern())
    facing, lining = pattern.piece("front-facing"), pattern.piece("front-lining")
    (seam,) = [s for s in pattern.seams if s.b[0].of == lining.edge("inner").uid]
    assert seam.a[0].of == facing.edge("inner").uid
    sewn, own = run_sewn(pattern, seam.a), run_sewn(pattern, seam.b)
    assert own - sewn == pytest.approx(seam.ease, abs=0.05)
    assert abs(seam.ease) < 3
    assert sewn_length(facing.edge("inner")) - sewn == pytest.approx(hem - jump, abs=0.2)
    # what is free is the end at the hem
    if hem > jump:
        free = facing.edge("inner").start if seam.a[0].start and seam.a[0].start.value else facing.edge("inner").end
        hem_ends = (facing.edge("hem").start, facing.edge("hem").end)
        assert min(float(np.hypot(*(free - end))) for end in hem_ends) < 0.1
    assert [f.text for f in run_checks(pattern) if "inner" in f.text] == []


def test_it_is_the_same_when_it_is_read_again() -> None:
    drawing, _, _ = new_drawing()
    again = read(write(drawing, shift()))[1]
    assert differences(shift(), again, tolerance=1e-4) == []
    assert [f.text for f in run_checks(again)] == []


def test_drawn_anew_it_has_its_allowances_and_its_seams() -> None:
    pattern = shift()
    again = replay(read_recipe("lining front back --ease-pleat=2cm"), pattern)
    one, two = (p.piece("back-lining") for p in (pattern, again))
    assert {e.name: e.allowance for e in one.edges} == {e.name: e.allowance for e in two.edges}
    assert set(seams(again)) == set(seams(pattern))
    assert len(again.pieces) == len(pattern.pieces)


def test_what_it_takes_no_part_in_stays_out() -> None:
    lines = "block skirt --size=bust-90\nlining skirt-front skirt-back --hem=3cm --jump=1cm --darts=dart --ease-pleat=0"
    pattern = replay(read_recipe(lines), Pattern())
    shell, lining = pattern.piece("skirt-back"), pattern.piece("skirt-back-lining")
    assert [d.name for d in lining.darts] == [d.name for d in shell.darts]
    assert lining.edge("hem").use == shell.edge("hem").use
    pleated = replay(read_recipe("block skirt --size=bust-90\nlining skirt-front skirt-back"), Pattern())
    lining = pleated.piece("skirt-back-lining")
    assert not lining.darts
    assert sewn_length(lining.edge("waist")) == pytest.approx(sewn_length(shell.edge("waist")), abs=0.5)


FACED = (
    "facing skirt-front.waist skirt-back.waist --width={}\nlining skirt-front skirt-back\nallowance all --width=1cm\n"
    "label skirt-front skirt-back skirt-front-facing skirt-back-facing --material=shell\n"
    "label skirt-front-lining skirt-back-lining --material=lining"
)


@pytest.mark.parametrize("size", ["bust-78", "bust-90", "bust-118"])
def test_what_a_facing_with_closed_darts_faces_is_left_out_too(size: str) -> None:
    """A waist facing 6 cm deep: the lining ends along it on both sides of the dart, whose rest is folded as a pleat;
    6 cm below the waist at the fold, as the shell is there (common practice, no source)."""
    pattern = replay(read_recipe(f"block skirt --size={size}\n" + FACED.format("6cm")), Pattern())
    assert [finding.text for finding in run_checks(pattern)] == []
    for name in ("skirt-front", "skirt-back"):
        facing, lining = pattern.piece(f"{name}-facing"), pattern.piece(f"{name}-lining")
        inner = lining.edge("inner")
        assert [t.kind for t in inner.takeups][:1] == ["pleat"]
        assert sewn_length(inner) - sewn_length(facing.edge("inner")) == pytest.approx(2.0, abs=0.1)
        lower = ring(pattern.piece(name)).bounds[3] - ring(lining).bounds[3]
        assert lower >= -0.01
        fold = [sewn_length(p.edge("centre")) for p in (pattern.piece(name), lining)]
        assert fold[0] - fold[1] == pytest.approx(60 + 25, abs=0.3)


def test_a_facing_deeper_than_the_dart_is_long_is_refused() -> None:
    with pytest.raises(FlatcutError, match="narrower than the dart is long"):
        replay(read_recipe("block skirt --size=bust-90\n" + FACED.format("13cm")), Pattern())


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("lining", "target wants a piece"),
        ("lining front-facing", "is a facing"),
        ("lining front --names=back", "there is a 'back' already"),
        ("lining front --hem=2m", "must lie between"),
    ],
)
def test_what_it_refuses(line: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said):
        replay(read_recipe(line), shift())


# Faults put into it ---------------------------------------------------------------------------------------------------


def changed(pattern: Pattern, name: str, edge: str, bend: float) -> Pattern:
    """An edge whose inner nodes and handles are moved square to its chord, by `bend` mm in its middle."""
    piece = pattern.piece(name)
    was = piece.edge(edge)
    parts = []
    for part in was.parts:
        controls = np.array(part.controls)
        way = controls[-1, 3] - controls[0, 0]
        out = np.array([-way[1], way[0]]) / np.hypot(*way)
        share = ((controls - controls[0, 0]) @ way) / (way @ way)
        controls += (bend * 4 * share * (1 - share))[..., None] * out
        parts.append(Curve(controls, np.zeros(len(part), dtype=bool)))
    edges = tuple(replace(was, parts=tuple(parts)) if e.uid == was.uid else e for e in piece.edges)
    return pattern.with_piece(replace(piece, edges=edges))


def squeezed(pattern: Pattern, name: str, by: float) -> Pattern:
    piece = pattern.piece(name)
    x = float(piece.edge("centre").start[0])
    share = 1.0 - by / (ring(piece).bounds[2] - ring(piece).bounds[0])
    matrix = Affine.translation(x, 0) @ Affine.scaling(share, 1.0) @ Affine.translation(-x, 0)
    edges = tuple(replace(e, parts=tuple(transform(p, matrix) for p in e.parts)) for e in piece.edges)
    return pattern.with_piece(replace(piece, edges=edges))


def fault(pattern: Pattern) -> Finding:
    found = [f for f in run_checks(pattern) if f.check == "derived"]
    assert found, [f.text for f in run_checks(pattern)]
    return found[0]


def test_an_older_facing_and_lining_are_named_with_the_line_that_draws_them() -> None:
    pattern = replay(read_recipe("move front.neckline/centre --by=-2cm"), shift())
    found = [f for f in run_checks(pattern) if f.check == "derived"]
    assert {f.where[0] for f in found} == {"front-facing", "front-lining"}
    facing = next(f for f in found if f.where[0] == "front-facing")
    assert "front-facing was made of front" in facing.text
    assert "draw it anew with: facing front.neckline" in facing.text
    line = facing.text.rpartition("draw it anew with: ")[2]
    again = replay(read_recipe(f"{line}\nlining front back\ncopy front-facing --inset=2mm --names=new"), pattern)
    assert not [f for f in run_checks(again) if f.check == "derived" and "fusing" not in f.where[0]]


def test_a_lining_that_is_narrower_is_named_with_its_figure() -> None:
    found = fault(squeezed(shift(), "front-lining", 12.0))
    assert found.check == "derived"
    assert "narrower than front" in found.text


def test_a_facing_of_another_shape_is_named() -> None:
    found = fault(changed(shift(), "front-facing", "neckline", 3.0))
    assert found.where == ("front-facing.neckline", "front.neckline")
    assert found.figure is not None


def test_fusing_that_reaches_beyond_its_piece_is_named() -> None:
    pattern = replay(read_recipe("allowance front-facing.inner --width=0mm"), shift())
    found = fault(pattern)
    assert found.where[0] == "front-facing-fusing"
    assert "outside the cut line of front-facing" in found.text


@pytest.mark.parametrize("motion", [Affine.rotation(0.7), Affine.translation(50, 900)])
def test_nothing_is_said_of_pieces_that_were_moved(motion: Affine) -> None:
    pattern = shift()
    for name in ("front", "back-lining", "front-facing"):
        pattern = pattern.with_piece(moved(pattern.piece(name), motion))
    assert not [f.text for f in run_checks(pattern) if f.check == "derived"]


SLEEVED = (
    "block bodice --size={}\nblock sleeve --cap-ease=20\nedge front.neck back.neck --use=finished\n"
    "edge front.waist back.waist --use=finished\nlining front back sleeve --underarm={}mm --hem=1cm\n"
)


@pytest.mark.parametrize("size", ["bust-78", "bust-90", "bust-118"])
@pytest.mark.parametrize("raised", [0.0, 8.0])
def test_the_underarm_is_raised_on_body_and_sleeve(size: str, raised: float) -> None:
    """5 to 10 mm higher than the shell's, the cap of the sleeve's lining with it (common practice, no source): side and
    underarm seams are longer by that, less the hem, and the linings still go together."""
    pattern = replay(read_recipe(SLEEVED.format(size, raised)), Pattern())
    for name, edge in (("front", "side"), ("back", "side"), ("sleeve", "underarm-front"), ("sleeve", "underarm-back")):
        one, two = (sewn_length(pattern.piece(p).edge(edge)) for p in (name, f"{name}-lining"))
        assert two - one == pytest.approx(raised - 10.0 * (name == "sleeve"), abs=0.3), (name, edge)
    for seam in pattern.seams:
        if all(part.piece in {p.uid for p in pattern.pieces if p.name.endswith("-lining")} for part in seam.a + seam.b):
            assert walked(pattern, seam)[2] == pytest.approx(0.0, abs=0.5)
    total = sum(s.ease for s in pattern.seams if "sleeve-lining.cap" in show_run(pattern, s.b))
    assert 10.0 < total < 35.0


def test_a_body_raised_without_its_sleeve_is_told() -> None:
    lines = SLEEVED.format("bust-90", 8).replace("lining front back sleeve", "lining front back")
    pattern = replay(read_recipe(lines), Pattern())
    assert any("line both together" in said for said in pattern.steps[-1].warnings)
