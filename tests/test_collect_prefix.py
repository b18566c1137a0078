"""`collect --prefix`, then `steps`, then `run`: the same pieces under their new names, for every kind of step."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from flatcut.cli import main
from flatcut.operations.operation import load, names
from flatcut.pattern.expressions import parse_length
from flatcut.pattern.places import parse_place, read_reference

SAMPLES = Path(__file__).parents[1] / "samples"
FOLDER = SAMPLES / "docs" / "operations"
EMPTY = '<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="700mm" viewBox="0 0 900 700"/>'

FRONT = """piece id:front --names=front
edge front.e1 front.e2 front.e3 front.e4 front.e5 front.e6 --names=neck,shoulder,armhole,side,waist,centre
edge front.centre --use=centre
"""
BOTH = """piece id:front id:back --names=front,back
edge front.e1 front.e2 front.e3 front.e4 front.e5 front.e6 --names=neck,shoulder,armhole,side,waist,centre
edge back.e1 back.e2 back.e3 back.e4 back.e5 back.e6 --names=neck,back-centre,back-waist,back-side,armhole,shoulder
"""
JOINABLE = BOTH + "dart front.dart-1 --name=waist-dart\n"
STEPS = {
    "dart": ("docs/operations/front.svg", FRONT, "dart front.shoulder@1/2 --intake=14 --point=front.dart-1.point"),
    "feet": (
        "docs/operations/front.svg",
        FRONT,
        "dart --feet=front.shoulder@4cm,front.shoulder@5cm --point=front.dart-1.point --pressed=front.centre",
    ),
    "hold": ("docs/operations/front.svg", FRONT, "pivot front.dart-1 --to=front.side@4cm --hold=front.centre"),
    "bare hold": ("docs/operations/front.svg", FRONT, "pivot front.dart-1 --to=front.side@4cm --hold=centre"),
    "divide": ("docs/operations/front.svg", FRONT, "divide front.dart-1 --to=front.shoulder@1/2 --hold=front.side"),
    "length": (
        "demo/top.svg",
        BOTH,
        'allowance back --width="length(front.neck+back.neck)/20 + distance(front.neck/shoulder,front.side/waist)/50"',
    ),
    "stretch": ("demo/top.svg", BOTH, "allowance front.side --width=20 --from=5cm --to=-3cm"),
    "chord": ("demo/top.svg", BOTH, 'point --at="at(front.neck/shoulder,front.side/waist,0.5,0.1)" --name=mid'),
    "every": ("demo/top.svg", BOTH, "allowance all --width=12"),
    "through": ("demo/top.svg", BOTH, "grain front --through=front.neck/shoulder,front.side/waist"),
    "run": ("demo/top.svg", BOTH, "measure front.neck+-back.neck --as=round"),
    "gone": (
        "demo/top.svg",
        BOTH + "dart front.dart-1 --name=waist-dart\n",
        "join front.shoulder back.shoulder --name=whole\nallowance whole --width=8",
    ),
    "stays": (
        "demo/top.svg",
        BOTH + "dart front.dart-1 --name=waist-dart\n",
        "join front.shoulder back.shoulder\nallowance front --width=8",
    ),
    "known": ("demo/top.svg", "", "piece id:front --names=front --known=front.e1/e2..front.e3/e4 --is=30cm"),
    "names of the drawing": ("demo/top.svg", "", "piece\nallowance piece-1.e1 --width=8"),
    "names of the drawing, one of them": ("demo/top.svg", "", "piece id:back\nallowance piece-1.e1 --width=8"),
    "spread": (
        "docs/operations/front.svg",
        FRONT + "pivot front.dart-1 --to=front.side@4cm --name=side-dart\n"
        "line --start=front.waist@75% --end=front.neck@60% --name=slash-1\n",
        "spread front.slash-1 --amount=20 --at=front.waist --to=gathers --taken-up=front.waist --hold=front.centre",
    ),
    "sleeve": ("", "block bodice --size=bust-90\n", "block sleeve"),
    "strip": (
        "",
        "block skirt --size=bust-90\n",
        "strip --kind=waistband --to=skirt-back.waist+skirt-front.waist --both",
    ),
    "flounce": ("", "block skirt --size=bust-90\n", "flounce --to=skirt-back.hem+skirt-front.hem --both --high=10cm"),
    "sleeve of others": (
        "",
        "block bodice --size=bust-90 --names=hind\n",
        "block sleeve --armholes=hind.armhole,front.armhole",
    ),
}
"""Drawing, steps before, and a step with references of some kind."""


def samples() -> list[tuple[str, str, str]]:
    """Every operation's sample: its drawing, its recipe."""
    found = []
    for name in names():
        text = (FOLDER / f"{name}.recipe").read_text()
        source = text.splitlines()[0].removeprefix("# on ")
        found.append((name, str((FOLDER / source).resolve()) if source.endswith(".svg") else "", text))
    return found


def replayed(tmp_path: Path, capsys: pytest.CaptureFixture[str], source: str, recipe: str) -> tuple[dict, dict, str]:
    """The pieces of the collected drawing, those that its recipe gives, and the recipe."""
    (tmp_path / "a.recipe").write_text(recipe)
    (tmp_path / "none.svg").write_text(EMPTY)
    ins = [source] if source else []
    a, c, d = (str(tmp_path / name) for name in ("a.svg", "c.svg", "d.svg"))
    start = ins or [str(tmp_path / "none.svg")]
    assert main(["run", str(tmp_path / "a.recipe"), *start, "-o", a]) == 0
    assert main(["collect", a, str(tmp_path / "none.svg"), "--prefix", "-o", c]) == 0
    capsys.readouterr()
    assert main(["steps", c]) == 0
    steps = capsys.readouterr().out
    (tmp_path / "c.recipe").write_text(steps)
    assert main(["run", str(tmp_path / "c.recipe"), *start, "-o", d]) == 0
    return pieces(c, capsys), pieces(d, capsys), steps


def pieces(path: str, capsys: pytest.CaptureFixture[str]) -> dict:
    capsys.readouterr()
    assert main(["pieces", path, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    (drawing,) = found if isinstance(found, list) else [found]
    return drawing


def agree(one: object, two: object) -> None:
    """Equal to 0.001 mm: a place inside a piece is written with six decimals, of a chord that may be 500 mm long."""
    if isinstance(one, dict):
        assert isinstance(two, dict)
        assert one.keys() == two.keys()
        for key in one:
            agree(one[key], two[key])
    elif isinstance(one, list):
        assert isinstance(two, list)
        assert len(one) == len(two)
        for a, b in zip(one, two, strict=True):
            agree(a, b)
    elif isinstance(one, float):
        assert one == pytest.approx(two, abs=1e-3)
    else:
        assert one == two


@pytest.mark.parametrize(("name", "source", "recipe"), samples(), ids=names())
def test_the_sample_of_every_operation(tmp_path, capsys, name, source, recipe) -> None:
    collected, again, steps = replayed(tmp_path, capsys, source, recipe)
    assert collected["pieces"]
    assert all(piece["name"].startswith("a-") for piece in collected["pieces"])
    agree(collected["pieces"], again["pieces"])
    agree(collected["seams"], again["seams"])
    recorded = load(name).command in ("names", "redraw")  # these record nothing
    assert recorded or re.search(rf"^{name}\b", steps, re.MULTILINE)


@pytest.mark.parametrize(("source", "before", "step"), STEPS.values(), ids=STEPS)
def test_every_kind_of_reference(tmp_path, capsys, source, before, step) -> None:
    collected, again, steps = replayed(tmp_path, capsys, str(SAMPLES / source) if source else "", before + step + "\n")
    agree(collected["pieces"], again["pieces"])
    agree(collected["seams"], again["seams"])
    assert not re.search(r"(?<![\w-])(front|back|hind|whole|sleeve|piece-1)\b(?=[.,]|$)", steps, re.MULTILINE), steps


def test_names_that_nothing_tells_are_refused(tmp_path, capsys) -> None:
    """A piece that was joined is gone, so what the drawing called it cannot be put in front of a new name."""
    steps = JOINABLE.partition("\n")[2] + "join front.shoulder back.shoulder\n"
    steps = "piece\n" + steps.replace("front.", "piece-1.").replace("back.", "piece-2.")
    (tmp_path / "a.recipe").write_text(steps)
    (tmp_path / "none.svg").write_text(EMPTY)
    a, none = str(tmp_path / "a.svg"), str(tmp_path / "none.svg")
    assert main(["run", str(tmp_path / "a.recipe"), str(SAMPLES / "demo" / "top.svg"), "-o", a]) == 0
    capsys.readouterr()
    assert main(["collect", a, none, "--prefix", "-o", str(tmp_path / "c.svg")]) == 2
    assert "left the names of its pieces to the drawing" in capsys.readouterr().err
    assert not (tmp_path / "c.svg").exists()
    assert main(["collect", a, none, "-o", str(tmp_path / "c.svg")]) == 0


def test_names_in_every_form() -> None:
    def new(piece: str) -> str:
        return f"a-{piece}"

    for text, wanted in [
        ("front", "a-front"),
        ("~front.neck@1/2", "~a-front.neck@1/2"),
        ("-front.neck+back.neck@0..50", "-a-front.neck+a-back.neck@0..50"),
        ("at(at(front.a/b,front.c,1,0),front.front,0.5,0)", "at(at(a-front.a/b,a-front.c,1,0),a-front.front,0.5,0)"),
        ("id:front", "id:front"),
        ("drawn:2", "drawn:2"),
    ]:
        assert str(read_reference(text).renamed(new)) == wanted
    assert str(parse_place("front", bare=True).renamed(new)) == "front", "the edge called front"
    length = parse_length("front + 2*length(front.front) - distance(front.a/b, at(front.a/b,front.c/d,1,0))/3cm*5mm")
    assert length.renamed(new).text == (
        "front + 2*length(a-front.front) - distance(a-front.a/b,at(a-front.a/b,a-front.c/d,1,0))/3cm*5mm"
    ), "a measurement may be called like a piece"
