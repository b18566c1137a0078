"""Offsets against shapely's buffer and pyclipper, as ratios in one run on one thread.

Run: python -m tests.bench.bench_offset [outlines]. The bodice is drawn for this benchmark (seven segments, six edges);
each outline is scaled a little differently. Shapely and pyclipper get points with chords within 0.01 mm, the flattening
timed in; both give one width all round with mitred corners, which is the most that they can do.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyclipper
import shapely
import svgelements

from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, chain, cubic, flatten, line, point, transform
from flatcut.geometry.offset import offset_curve
from flatcut.geometry.offset_outline import OffsetCorner, OffsetEdge, offset_outline, offset_outlines

CHORD = 0.01
TOLERANCE = 0.01
LIMIT = 3.0


def bodice(scale: float) -> list[Curve]:
    """Neckline, shoulder, armhole, side, hem, centre front: a front bodice of about 240 by 415 mm, clockwise."""
    edges = [
        cubic((0, 70), (30, 70), (62, 45), (70, 0)),
        line((70, 0), (190, 45)),
        chain(
            [cubic((190, 45), (172, 90), (165, 130), (175, 165)), cubic((175, 165), (183, 193), (205, 215), (240, 215))]
        ),
        cubic((240, 215), (232, 260), (225, 330), (228, 400)),
        cubic((228, 400), (150, 410), (80, 412), (0, 412)),
        line((0, 412), (0, 70)),
    ]
    return [transform(edge, Affine(scale, 0, 0, scale, 0, 0)) for edge in edges]


def medians(times: int, *works: Callable[[], object]) -> list[float]:
    """Seconds, the middle of several runs of each; the runs alternate, so that a busy machine slows all alike."""
    taken: list[list[float]] = [[] for _ in works]
    for _ in range(times):
        for work, list_ in zip(works, taken, strict=True):
            start = time.perf_counter()
            work()
            list_.append(time.perf_counter() - start)
    return [statistics.median(t) for t in taken]


def by_shapely(outlines: list[Curve], width: float) -> np.ndarray:
    rings = [shapely.polygons(flatten(outline, tolerance=CHORD)) for outline in outlines]
    return shapely.buffer(np.array(rings), width, join_style="mitre", mitre_limit=LIMIT)


def by_pyclipper(outlines: list[Curve], width: float) -> list[object]:
    results = []
    for outline in outlines:
        offset = pyclipper.PyclipperOffset(LIMIT)
        path = np.round(flatten(outline, tolerance=CHORD) * 1000).astype(np.int64).tolist()
        offset.AddPath(path, pyclipper.JT_MITER, pyclipper.ET_CLOSEDPOLYGON)
        results.append(offset.Execute(width * 1000))
    return results


def by_editor(edges: list[Curve], width: float) -> tuple[int, float] | None:
    """Segments and largest deviation of the editor's own offset (a stroke twice as wide, made a path), if there is one.

    Deviation: |distance - width| where the nearest place of the outline lies inside an edge, so corners do not count.
    """
    if shutil.which("inkscape") is None:
        return None
    ring = chain(edges)
    words = [f"M {ring.start[0]} {ring.start[1]}"]
    words += ["C " + " ".join(f"{v:.6f}" for v in span[1:].ravel()) for span in ring.controls]
    style = f"fill:none;stroke:#000;stroke-width:{2 * width};stroke-linejoin:miter;stroke-miterlimit:{LIMIT}"
    with tempfile.TemporaryDirectory() as folder:
        source, result = Path(folder, "in.svg"), Path(folder, "out.svg")
        source.write_text(
            '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="500mm" viewBox="0 0 400 500">'
            f'<path id="p" style="{style}" d="{" ".join(words)} Z"/></svg>'
        )
        actions = f"select-all;object-stroke-to-path;export-filename:{result};export-do"
        subprocess.run(["inkscape", str(source), f"--actions={actions}"], capture_output=True, check=True, timeout=120)
        found = next(p for p in svgelements.SVG.parse(str(result), reify=False).elements() if p.id == "p")
    outer = max(
        (svgelements.Path(part) for part in found.as_subpaths()), key=lambda part: part.bbox()[2] - part.bbox()[0]
    )
    segments = [s for s in outer if not isinstance(s, svgelements.Move | svgelements.Close)]
    places = [s.point(t) for s in segments for t in np.linspace(0, 1, 41)]
    points = shapely.points([(p.x, p.y) for p in places])
    lines = [shapely.LineString(point(edge, np.linspace(0, len(edge), 4001))) for edge in edges]
    distance = np.array([shapely.distance(points, one) for one in lines])
    foot = np.array([shapely.line_locate_point(one, points, normalized=True) for one in lines])
    nearest = distance.argmin(axis=0)
    column = np.arange(len(points))
    inside = (foot[nearest, column] > 0.001) & (foot[nearest, column] < 0.999)
    return len(segments), float(np.abs(distance[nearest, column] - width)[inside].max())


def jobs(outlines: list[list[Curve]], width: float) -> list[tuple[list[OffsetEdge], list[OffsetCorner]]]:
    return [([OffsetEdge(curve=e, width=width) for e in edges], [OffsetCorner()] * len(edges)) for edges in outlines]


def main(count: int) -> None:
    outlines = [bodice(0.9 + 0.2 * k / count) for k in range(count)]
    rings = [chain(edges) for edges in outlines]
    work = jobs(outlines, 15.0)
    offset_outlines(work[:2], tolerance=TOLERANCE)
    ours, theirs, clipper = medians(
        5,
        lambda: offset_outlines(work, tolerance=TOLERANCE),
        lambda: by_shapely(rings, 15.0),
        lambda: by_pyclipper(rings, 15.0),
    )
    pieces = len(offset_outline(*work[0], tolerance=TOLERANCE).curve)
    vertices = shapely.get_num_coordinates(by_shapely(rings[:1], 15.0)[0])
    print(f"{count} outlines in one call, 15 mm outward, tolerance {TOLERANCE} mm")
    print(f"  ours {ours:.3f} s, shapely {theirs:.3f} s, pyclipper {clipper:.3f} s")
    print(f"  ours / shapely {ours / theirs:.2f} (goal 1), ours / pyclipper {ours / clipper:.2f}")
    print(f"  {pieces} segments against {vertices} vertices: {pieces / vertices:.3f} (goal 0.1)")
    for title, width, inward, goal in (("outward", 15.0, False, 5), ("inward", 12.0, True, 5)):
        one = jobs(outlines[:1], width)[0]
        alone, theirs = medians(
            41,
            lambda o=one, i=inward: offset_outline(*o, inward=i),
            lambda w=-width if inward else width: by_shapely(rings[:1], w),
        )
        print(f"one outline {title}: ours {alone * 1e3:.2f} ms, shapely {theirs * 1e3:.2f} ms, "
              f"ratio {alone / theirs:.1f} (goal {goal})")  # fmt: skip
    edge = outlines[0][2]
    dense = shapely.LineString(point(edge, np.linspace(0, len(edge), 4001)))
    alone, theirs = medians(
        41, lambda: offset_curve(edge, 15.0), lambda: shapely.offset_curve(dense, -15.0, join_style="mitre")
    )
    print(f"one edge of two cubics: ours {alone * 1e3:.2f} ms, shapely on 4000 chords {theirs * 1e3:.2f} ms")
    editor = by_editor(outlines[0], 15.0)
    if editor is not None:
        drawn = offset_outline(*jobs(outlines[:1], 15.0)[0]).curve
        print(f"the editor's own offset: {editor[0]} segments, deviation {editor[1]:.3f} mm; "
              f"ours at 0.05 mm: {len(drawn)} segments")  # fmt: skip


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
