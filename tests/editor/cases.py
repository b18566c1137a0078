"""For every operation a press of its dialog, and the command that must give the same.

The two sides are written out, each in its own words: nothing here is made by the program that is tested.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

RULES = Path(__file__).parent / "rules.toml"
"""A rule table: a dialog gives the name of a file in full."""

PIECES = "piece id:front id:back --names=front,back"
EDGES = (
    "edge front.e1 front.e2 front.e3 front.e4 front.e5 front.e6 --names=neck,shoulder,armhole,side,hem,centre",
    "edge back.e1 back.e2 back.e3 back.e4 back.e5 back.e6 --names=neck,centre,hem,side,armhole,shoulder",
)

STARTS: dict[str, tuple[str, ...]] = {
    "drawn": (),
    "pieces": (PIECES,),
    "named": (PIECES, *EDGES, "allowance all --width=1cm"),
    "unlike": (PIECES, "edge back.e1 back.e2 back.e3 back.e4 back.e5 back.e6 --names=b1,b2,b3,b4,b5,b6"),
    "slashed": (PIECES, *EDGES, "allowance all --width=1cm", "line --drawn=id:yoke --name=yoke"),
    "panelled": (
        "block skirt --size=bust-90",
        "line --along=skirt-back.waist-dart --name=panel",
        "cut skirt-back.waist-dart skirt-back.panel --names=back-centre.centre,back-side.side",
        "edge back-centre.hem back-side.hem --use=hem",
    ),
    "seamed": (
        "block skirt --size=bust-90",
        "edge skirt-back.centre --use=seam",
        "seam skirt-back.centre ~skirt-back.centre",
        "allowance all --width=1cm",
    ),
    "sleeved": (
        "block bodice --size=bust-90",
        "block sleeve --cap-ease=0",
        "pivot front.bust-dart --to=front.side/armhole@7cm",
        "release back.shoulder-dart --to=ease",
    ),
    "darted": ("piece id:skirt --names=skirt", "allowance all --width=1cm"),
}
"""What was done to the drawing before the press; `drawing.svg` is the drawing."""


@dataclass(frozen=True, kw_only=True)
class Case:
    """start: one of STARTS; select: ids, in order; fill: parameters as the editor stores them; command: its words."""

    start: str
    select: tuple[str, ...] = ()
    fill: dict[str, str] = field(default_factory=dict)
    command: tuple[str, ...] = ()


CASES: dict[str, Case] = {
    "raglan": Case(
        start="sleeved",
        fill={"target": "sleeve", "front": "4.5", "back": "2.5", "lift": "1.2", "units": "cm"},
        command=("sleeve", "--front=4.5cm", "--back=2.5cm", "--lift=1.2cm"),
    ),
    "swing": Case(
        start="panelled",
        fill={"target": "back-centre.panel", "about": "back-centre.panel/hem@40cm", "share": "0.45"},
        command=("back-centre.panel", "--about=back-centre.panel/hem@40cm", "--share=0.45"),
    ),
    "vent": Case(
        start="seamed",
        fill={"target": "skirt-back.centre", "length": "20", "width": "5", "slope": "45", "units": "cm"},
        command=("skirt-back.centre", "--length=20cm", "--width=5cm", "--slope=45"),
    ),
    "allowance": Case(
        start="pieces",
        select=("front",),
        fill={"width": "3", "units": "1/8in"},
        command=("front", "--width=3/8in"),
    ),
    "arrange": Case(
        start="named",
        fill={"width": "90", "gap": "3.5", "units": "cm"},
        command=("--width=90cm", "--gap=3.5cm"),
    ),
    "back-off": Case(
        start="darted",
        select=("skirt",),
        fill={"by": "1.5", "units": "cm"},
        command=("skirt.dart-1", "--by=1.5cm"),
    ),
    "block": Case(
        start="drawn",
        fill={"target": "skirt", "size": "bust-90", "hip": "98.5", "units": "cm"},
        command=("skirt", "--size=bust-90", "--hip=98.5cm"),
    ),
    "button": Case(
        start="named",
        fill={"target": "front.centre", "count": "4", "first": "2", "units": "cm"},
        command=("front.centre", "--count=4", "--first=2cm"),
    ),
    "contour": Case(
        start="darted",
        fill={"target": "skirt.e1@25%", "amount": "0.5", "at": "edge", "into": "skirt.dart-1", "units": "cm"},
        command=("skirt.e1@25%", "--amount=0.5cm", "--at=edge", "--into=skirt.dart-1"),
    ),
    "copy": Case(
        start="named",
        select=("back",),
        fill={"material": "lining", "mirror": "1"},
        command=("back", "--material=lining", "--mirror"),
    ),
    "corner": Case(
        start="named",
        fill={"target": "front.side/hem", "kind": "squared", "through": "front.side"},
        command=("front.side/hem", "--kind=squared", "--through=front.side"),
    ),
    "collar": Case(
        start="drawn",
        fill={"target": "band", "back_neck": "8.5", "front_neck": "11", "rise": "1.2", "units": "cm"},
        command=("band", "--back-neck=8.5cm", "--front-neck=11cm", "--rise=1.2cm"),
    ),
    "cut": Case(
        start="slashed",
        fill={"target": "front.yoke", "names": "upper.neck, lower.hem", "edge": "style-line"},
        command=("front.yoke", "--names=upper.neck,lower.hem", "--edge=style-line"),
    ),
    "dart": Case(
        start="darted",
        select=("skirt",),
        fill={"name": "waist-dart", "pressed": "open"},
        command=("skirt.dart-1", "--name=waist-dart", "--pressed=open"),
    ),
    "divide": Case(
        start="darted",
        fill={"target": "skirt.dart-1", "to": "skirt.e1@25%", "shares": "60,40"},
        command=("skirt.dart-1", "--to=skirt.e1@25%", "--shares=60,40"),
    ),
    "drill": Case(
        start="darted",
        fill={"target": "skirt.dart-1", "short": "0.5", "units": "in"},
        command=("skirt.dart-1", "--short=0.5in"),
    ),
    "drop": Case(start="named", select=("back",), command=("back",)),
    "edge": Case(start="named", fill={"target": "front.hem", "use": "hem"}, command=("front.hem", "--use=hem")),
    "extend": Case(
        start="named",
        fill={"target": "front.hem", "by": "5", "flare": "1", "units": "cm"},
        command=("front.hem", "--by=5cm", "--flare=1cm"),
    ),
    "facing": Case(
        start="named",
        fill={"target": "front.neck", "width": "5", "at_seam": "4", "roll": "0.2", "units": "cm"},
        command=("front.neck", "--width=5cm", "--at-seam=4cm"),
    ),
    "flounce": Case(
        start="drawn",
        fill={"target": "circle", "inner": "72", "high": "50", "circles": "0.5", "cloth": "150", "units": "cm"},
        command=("circle", "--inner=72cm", "--high=50cm", "--circles=0.5", "--cloth=150cm"),
    ),
    "godet": Case(
        start="panelled",
        fill={"target": "back-side.panel", "high": "20", "wide": "25", "units": "cm"},
        command=("back-side.panel", "--high=20cm", "--wide=25cm"),
    ),
    "gore": Case(
        start="drawn",
        fill={"target": "panel", "waist": "70", "hip": "94", "level": "20", "high": "55", "flare": "5", "units": "cm"},
        command=("panel", "--waist=70cm", "--hip=94cm", "--level=20cm", "--high=55cm", "--flare=5cm"),
    ),
    "grain": Case(
        start="named",
        select=("front",),
        fill={"kind": "bias", "ways": "one", "along": "front.centre"},
        command=("front", "--kind=bias", "--ways=one", "--along=front.centre"),
    ),
    "grade": Case(
        start="named",
        fill={"rules": str(RULES), "size": "14"},
        command=(f"--rules={RULES}", "--size=14"),
    ),
    "join": Case(
        start="unlike",
        fill={"target": "front.e2, back.b6", "within": "1.25", "name": "both"},
        command=("front.e2", "back.b6", "--within=1.25", "--name=both"),
    ),
    "lining": Case(
        start="named",
        select=("front",),
        fill={"hem": "3", "darts": "dart", "units": "cm"},
        command=("front", "--hem=3cm", "--darts=dart"),
    ),
    "halves": Case(
        start="seamed",
        fill={"target": "skirt-back", "names": "near, far", "drawn": "right"},
        command=("skirt-back", "--names=near,far", "--drawn=right"),
    ),
    "label": Case(
        start="named",
        select=("back",),
        fill={"cut": "pair", "material": "shell"},
        command=("back", "--cut=pair", "--material=shell"),
    ),
    "line": Case(
        start="named",
        fill={"start": "front.side@1/2", "end": "front.centre@1/2", "leave": "square", "name": "style"},
        command=("--start=front.side@1/2", "--end=front.centre@1/2", "--leave=square", "--name=style"),
    ),
    "measure": Case(
        start="named",
        fill={"target": "front.neck+back.neck", "as": "neckline"},
        command=("front.neck+back.neck", "--as=neckline"),
    ),
    "move": Case(
        start="named",
        fill={"target": "front.side/hem", "by": "-1.5", "units": "cm"},
        command=("front.side/hem", "--by=-1.5cm"),
    ),
    "names": Case(start="named", fill={"show": "1"}),
    "notch": Case(
        start="named",
        fill={"target": "front.side@1/2", "count": "double", "kind": "v"},
        command=("front.side@1/2", "--count=double", "--kind=v"),
    ),
    "piece": Case(
        start="drawn",
        select=("sleeve", "back"),
        fill={"names": "sleeve,back", "corner_angle": "20"},
        command=("id:sleeve", "id:back", "--names=sleeve,back", "--corner-angle=20"),
    ),
    "pivot": Case(
        start="darted",
        select=("skirt",),
        fill={"to": "skirt.e2@1/2", "share": "0.5"},
        command=("skirt.dart-1", "--to=skirt.e2@1/2", "--share=0.5"),
    ),
    "placket": Case(
        start="named",
        fill={"target": "front.centre", "stand": "2", "facing": "4.5", "buttons": "3", "last": "3", "units": "cm"},
        command=("front.centre", "--stand=2cm", "--facing=4.5cm", "--buttons=3", "--last=3cm"),
    ),
    "pleat": Case(
        start="named",
        fill={"target": "front.hem@3cm..12cm", "kind": "inverted", "depth": "1", "units": "cm"},
        command=("front.hem@3cm..12cm", "--kind=inverted", "--depth=1cm"),
    ),
    "pocket": Case(
        start="seamed",
        fill={"target": "skirt-front.hip-line@1/2", "width": "12.5", "point": "1", "units": "cm"},
        command=("skirt-front.hip-line@1/2", "--width=12.5cm", "--point=1cm"),
    ),
    "point": Case(
        start="named", select=("bust",), fill={"name": "bust-point"}, command=("--drawn=id:bust", "--name=bust-point")
    ),
    "redraw": Case(start="named", select=("back",), command=("back",)),
    "release": Case(
        start="darted",
        fill={"target": "skirt.dart-1", "to": "tuck", "stitched": "4", "units": "cm"},
        command=("skirt.dart-1", "--to=tuck", "--stitched=4cm"),
    ),
    "seam": Case(
        start="named",
        fill={"target": "front.side back.side", "ease": "0.25", "units": "in"},
        command=("front.side", "back.side", "--ease=0.25in"),
    ),
    "sleeve": Case(
        start="named",
        fill={"target": "puff", "kind": "puff", "top_arm": "28", "below": "7", "full": "6", "units": "cm"},
        command=("puff", "--kind=puff", "--top-arm=28cm", "--below=7cm", "--full=6cm"),
    ),
    "spread": Case(
        start="slashed",
        fill={"target": "front.yoke", "amount": "1.5", "at": "front.armhole", "to": "gathers", "units": "cm"},
        command=("front.yoke", "--amount=1.5cm", "--at=front.armhole", "--to=gathers"),
    ),
    "strip": Case(
        start="seamed",
        fill={"target": "waistband", "kind": "waistband", "to": "skirt-back.waist+skirt-front.waist", "both": "1"},
        command=("waistband", "--kind=waistband", "--to=skirt-back.waist+skirt-front.waist", "--both"),
    ),
    "style": Case(
        start="named", fill={"name": "top & toile", "size": "12"}, command=("--name=top & toile", "--size=12")
    ),
    "true": Case(
        start="named",
        fill={"target": "front.neck", "within": "0.2", "units": "cm"},
        command=("front.neck", "--within=0.2cm"),
    ),
}
