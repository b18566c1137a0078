"""`flatcut pieces --json`: the shape that scripts rely on, and figures against independent arithmetic."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
import shapely

from flatcut.cli import main
from flatcut.formats.json_pieces import pattern_record
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import chain, flatten
from flatcut.pattern.values import outline
from flatcut.recipe import read_recipe, replay

ROOT = Path(__file__).parents[1]
NUMBER, TEXT, FLAG = (int, float), str, bool

SCHEMA: dict[str, Any] = {
    "format": int,
    "units": TEXT,
    "pieces": [
        {
            "name": TEXT,
            "edges": [
                {
                    "name": TEXT,
                    "use": TEXT,
                    "drawn": NUMBER,
                    "sewn": NUMBER,
                    "allowance": (int, float, type(None)),
                    "segments": int,
                    "start": [NUMBER],
                    "end": [NUMBER],
                    "takeups": [{"kind": TEXT, "from": NUMBER, "to": NUMBER, "amount": NUMBER}],
                }
            ],
            "darts": [
                {
                    "name": TEXT,
                    "host": (str, type(None)),
                    "form": TEXT,
                    "angle": (int, float, type(None)),
                    "intake": NUMBER,
                    "leg_lengths": [NUMBER],
                    "points": [[NUMBER]],
                }
            ],
            "corners": [{"at": TEXT, "kind": TEXT}],
            "points": dict,
            "lines": [{"name": TEXT, "kind": TEXT, "length": NUMBER}],
            "area": NUMBER,
            "cut": ({"area": NUMBER, "length": NUMBER, "segments": int}, None),
            "notches": [{"edge": TEXT, "at": NUMBER, "kind": TEXT}],
            "holes": [dict],
            "grain": ({"start": [NUMBER], "end": [NUMBER], "kind": TEXT}, None),
            "quantity": int,
            "cut_as": TEXT,
            "material": TEXT,
            "label": [TEXT],
        }
    ],
    "seams": [
        {
            "a": TEXT,
            "b": TEXT,
            "reversed": FLAG,
            "suggested": FLAG,
            "sewn_a": NUMBER,
            "sewn_b": NUMBER,
            "ease": NUMBER,
        }
    ],
    "steps": [{"line": TEXT, "figures": [{"label": TEXT, "value": NUMBER, "unit": TEXT}], "warnings": [TEXT]}],
}
"""Every key that is promised, with the type of its value; more keys may come, none may go."""


def faults(value: Any, schema: Any, where: str = "$") -> list[str]:
    """What of `value` is not as `schema` says."""
    if isinstance(schema, dict):
        if not isinstance(value, dict):
            return [f"{where} is no object"]
        lost = [f"{where}.{key} is missing" for key in schema if key not in value]
        return lost + [f for key in schema if key in value for f in faults(value[key], schema[key], f"{where}.{key}")]
    if isinstance(schema, list):
        if not isinstance(value, list):
            return [f"{where} is no list"]
        return [f for k, item in enumerate(value) for f in faults(item, schema[0], f"{where}[{k}]")]
    if isinstance(schema, tuple) and schema[-1] is None and isinstance(schema[0], dict):
        return [] if value is None else faults(value, schema[0], where)
    good = isinstance(value, schema) and not (isinstance(value, bool) and schema is not FLAG)
    return [] if good else [f"{where} is {value!r}"]


@pytest.fixture(scope="module")
def demo() -> dict[str, Any]:
    _, pattern, _ = read((ROOT / "samples/demo/top.svg").read_bytes())
    return pattern_record(replay(read_recipe((ROOT / "samples/demo/top.recipe").read_text()), pattern))


def test_every_promised_key_is_there(demo: dict[str, Any]) -> None:
    assert faults(demo, SCHEMA) == []
    assert demo["format"] == 1
    assert demo["units"] == "mm"
    assert demo["pieces"][0]["darts"]
    assert demo["seams"]


def test_the_schema_notices_a_lost_key_and_a_wrong_type(demo: dict[str, Any]) -> None:
    broken = json.loads(json.dumps(demo))
    del broken["pieces"][0]["edges"][0]["sewn"]
    broken["seams"][0]["ease"] = "none"
    assert faults(broken, SCHEMA) == ["$.pieces[0].edges[0].sewn is missing", "$.seams[0].ease is 'none'"]


def test_the_example_in_the_docs_is_what_the_command_prints(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (ROOT / "samples/docs/pieces.md").read_text()
    example = json.loads(re.search(r"```json\n(.*?)```", text, re.DOTALL)[1])  # type: ignore[index]
    assert faults(example, SCHEMA) == []
    source = tmp_path / "square.svg"
    source.write_text(re.search(r"```xml\n(.*?)```", text, re.DOTALL)[1])  # type: ignore[index]
    lines = re.search(r"```recipe\n(.*?)```", text, re.DOTALL)[1]  # type: ignore[index]
    drawing, pattern, _ = read(source.read_bytes())
    source.write_bytes(write(drawing, replay(read_recipe(lines), pattern)))
    capsys.readouterr()
    assert main(["pieces", str(source), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == example


def test_areas_and_lengths_agree_with_shapely(demo: dict[str, Any]) -> None:
    """Against shapely on chords of 1e-4 mm: an independent polygon library (BSD, GEOS)."""
    _, pattern, _ = read((ROOT / "samples/demo/top.svg").read_bytes())
    pattern = replay(read_recipe((ROOT / "samples/demo/top.recipe").read_text()), pattern)
    for piece, record in zip(pattern.pieces, demo["pieces"], strict=True):
        ring = shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=1e-4))
        assert record["area"] == pytest.approx(ring.area, rel=1e-6)
        edges = [shapely.LineString(flatten(part, tolerance=1e-5)).length for e in piece.edges for part in e.parts]
        assert sum(edge["drawn"] for edge in record["edges"]) == pytest.approx(sum(edges), abs=1e-3)
