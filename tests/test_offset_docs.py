"""The page of cut lines that were wrong: what it shows as `now` is what is drawn today, and right; what it shows as
`before` is wrong by the same judge. FLATCUT_UPDATE=1 draws the right half anew."""

import os
import re
from pathlib import Path

import numpy as np
import pytest
import shapely

from tests.cut_line_judge import judged
from tests.test_offset_wild import made
from tests.wild_outlines import Wild, along

PAGE = Path(__file__).parents[1] / "samples" / "docs" / "cutline"
WIDTHS = {
    "retracted handle, 10 mm": [10.0] * 5,
    "retracted handle, 3 mm": [3.0] * 5,
    "10 beside 20 on an arch": [10.0, 20.0, 10.0, 10.0, 10.0],
    "6 beside 10 on an arch": [6.0, 10.0, 10.0, 10.0, 10.0],
    "an end that curls back, 12 mm": [12.0, 12.0, 10.0, 10.0],
    "an end that curls, tapering 4 to 25": [(4.0, 25.0), 10.0, 10.0, 10.0],
}
"""Of the edges from the first on; the stitch line stands in the picture."""


def spans_of(path):
    """Control points (n, 4, 2) of a path of one M and Cs."""
    p = np.array([[float(x) for x in pair.split(",")] for pair in re.findall(r"-?[\d.]+,-?[\d.]+", path)])
    return np.array([p[k : k + 4] for k in range(0, len(p) - 1, 3)])


def figures(text):
    """(before or now, its title, path of the stitch line, path of the cut line or None) of each drawing."""
    for group in re.findall(r"<g transform.*?</g>", text, re.S):
        when, title = re.search(r">(before|now): ([^<]*)<", group).groups()
        paths = re.findall(r' d="([^"]*)"', group)
        yield when, title, paths[0], paths[1] if len(paths) > 1 else None


def asked_of(title, path):
    spans = [s[None] for s in spans_of(path)]
    straight = [bool(np.abs(2 * s[0, 1] - s[0, 0] - s[0, 2]).max() < 0.01) for s in spans]
    widths = [w if isinstance(w, tuple) else (w, w) for w in WIDTHS[title]]
    n = len(spans)
    return Wild(spans, straight, widths, ["mitred"] * n, [3.0] * n)


def dense(spans):
    return shapely.LinearRing(np.concatenate([along(s[None], 200)[:-1] for s in spans]))


@pytest.mark.parametrize("name", ["hollow", "step", "curled"])
def test_before_is_wrong_and_now_is_what_is_drawn(name):
    text = (PAGE / f"{name}.svg").read_text()
    for when, title, stitch, cut in figures(text):
        wild = asked_of(title, stitch)
        if when == "before":
            if cut is not None:  # else it was refused
                ring = spans_of(cut)
                ring[:, 3] = np.roll(ring[:, 0], -1, axis=0)
                assert judged(wild, ring) != [], title
            continue
        ring = made(wild).curve.controls
        assert judged(wild, ring) == [], title
        if os.environ.get("FLATCUT_UPDATE"):
            words = ["M {:.3f},{:.3f}".format(*ring[0, 0])]
            words += ["C " + " ".join(f"{x:.3f},{y:.3f}" for x, y in s[1:]) for s in ring]
            text = text.replace(cut, " ".join(words))
            (PAGE / f"{name}.svg").write_text(text)
            continue
        assert dense(ring).hausdorff_distance(dense(spans_of(cut))) < 0.02, title
