"""Changes that `tests.mutating` may make and no test can see: a pattern of file, line and change, and why.

A pattern is matched against `file: line as it was => line as it becomes`, blanks taken together.
"""

from __future__ import annotations

import re

HARMLESS: tuple[tuple[str, str], ...] = (
    (
        r"=> def \w+\([^*]*, /, ",
        "what had to be given by name may be given by place too; every call that is made names it",
    ),
    (
        r"=> @dataclass\(frozen=True, kw_only=False\)",
        "fields may be given without their names too; every call that is made names them",
    ),
    (
        r"^formats/svg/lengths.py: _LONGEST = ",
        "a limit of characters far above any length that is written, there to bound the time",
    ),
    (
        r"^geometry/meeting.py: axis = np.divide\(.*np.tile\(\[ ?[02].0, ",
        "the axis of a chord of no length: any direction serves",
    ),
    (
        r"^checks/\w+.py: (.*)high=\d+\) => \1high= ?\d+\)",
        "the largest value that an option takes, far above any that serves",
    ),
    (
        r"LOOKS = np.linspace\(0.0, 1.0, \d+\) => LOOKS = np.linspace\(0.0, 1.0, \d+\)",
        "one place more or less of some hundreds that are looked at",
    ),
    (
        r"^geometry/offset_ring.py: mirrored = \(area > 0\) == inward .* => mirrored = \(area > -1\)",
        "an outline of less than 1 mm²",
    ),
    (
        r"^geometry/meeting.py: disc = np.where\(.* => disc = np.where\(\(disc < 0\) & \(disc [<>] ",
        "places at which a curve is parted: one more does no harm, and none is needed at a point of inflection",
    ),
    (
        r"^marking/corners.py: far = FAR \+ ",
        "the length of a ray outward from a seam end, far longer either way than an allowance is wide",
    ),
    (
        r"^geometry/following.py: NEXT = ",
        "when the steps of a foot end; they go on from there in the next evaluation",
    ),
    (
        r"^geometry/offset_bands.py: if t0 >= t1 or not .* => if t0 > t1 or not",
        "a band of no length",
    ),
    (
        r"^geometry/offset_bands.py: if t0 >= t1 or not .* => .*\(r in starts or r in ends\)",
        "a row that a corner swallows has both its ends or neither",
    ),
    (
        r"^geometry/offset_runs.py: if at.factor.min\(\) > 0: => ",
        "a row that does not fold sweeps over nothing; where one does, the gate sees it and the boundary is followed",
    ),
    (
        r"^marking/room.py: share = \(np.arange\(CELLS\) [+-] ",
        "a raster shifted by a cell: the look around its best place goes a cell to either side",
    ),
    (
        r"^geometry/offset_gate.py: around = places\[mine\] \+ slack.* => around = places\[mine\] - slack",
        "of directions all round the opposite ones are as good",
    ),
    (
        r"^geometry/offset_made.py: self.bare = .* > 0 => .* > -1",
        "rings that lie right are looked at for what they have not; it takes longer",
    ),
    (
        r"^darts/dart_forms.py: across = ending_at\(starting_at\(across, dart.feet\[0\]\), dart.feet\[1\]\) => ",
        "where it starts: it is led to the end of the part before it when the outline is put together",
    ),
    (
        r"^geometry/offset_feet.py: on = np.flatnonzero\(moved > THERE\) => ",
        "after the first steps a foot lies so near its place that the distance is right to 0.0001 mm",
    ),
    (
        r"^fullness/from_width.py: return min\(low, span\[0\] - 1e-3\), .* => ",
        "for a pleat with nothing flat beside it: pleats that touch so closely are refused before",
    ),
    (
        r"^formats/dxf/entities.py: (whole =|return) chain\(parts, within=1e-6\) => ",
        "each part begins with the very point that the one before it ends with",
    ),
    (
        r"^marking/banding.py: reach=rim.reach if last else 0.0, => ",
        "the limit of a mitre where a stretch ends inside an edge: the line runs on or steps, and is not mitred",
    ),
    (
        r"^formats/svg/inner.py: if len\(curve\) != sum\(spans\) or not 0 < first .* => .*",
        "where the point of a dart is not told by its spans it is the node farthest from the mouth, which it is anyway",
    ),
    (
        r"^formats/svg/read.py: away = np.abs\(curve.controls.* - before.* => .* \+ before",
        "a look that spares a closer one; without it all is looked at closely",
    ),
    (
        r"^geometry/offset_special.py: return End\(int\(end\), 1.0 if last else 0.0, ",
        "where an offset folds back all along; no ring is made from its end that the gate lets pass",
    ),
)


def harmless(file: str, was: str, now: str) -> str:
    """Why a change cannot matter; '' where it may.

    >>> harmless("x.py", "def f(a, *, b):", "def f(a, /, b):")[:11]
    'what had to'
    >>> harmless("x.py", "a = b + 1", "a = b - 1")
    ''
    """
    text = re.sub(r"\s+", " ", f"{file}: {was} => {now}")
    return next((why for pattern, why in HARMLESS if re.search(pattern, text)), "")
