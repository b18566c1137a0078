"""Sentences of steps that shape, derive and finish pieces."""

from __future__ import annotations

from flatcut.lesson.telling import Step, plainly, shown, tells
from flatcut.lesson.words import called, listed, mm, with_article
from flatcut.operations.operation import Done
from flatcut.pattern.places import Place, read_reference
from flatcut.pattern.values import Figure
from flatcut.strips.kinds import KINDS as USUAL
from flatcut.units import plain

# Shaping --------------------------------------------------------------------------------------------------------------


MEASURED = {
    "circle": "on a circle of {} about the point",
    "edge": "straight across at the edge",
    "along": "along the edge",
}
"""Where the width of a wedge is measured."""


@tells("contour")
def _contour(step: Step) -> str:
    op = step.op
    ways = tuple(MEASURED[way].format(mm(op.radius)) for way in op.at or ("circle",))
    if len(set(ways)) == 1:
        wide = f"{listed(mm(value) for value in op.amount)} wide, measured {ways[0]}"
    else:
        amounts = op.amount * len(ways) if len(op.amount) == 1 else op.amount
        pairs = zip(amounts, ways, strict=True)
        wide = f"{listed(f'{mm(value)} {way}' for value, way in pairs)} wide"
    grown = step.value(" intake")
    return (
        f"Take looseness out at {step.targets}: fold wedges that run to the point of {step.at.ref(op.into)}, {wide}; "
        f"the dart opens as much further, and its mouth is {grown} then"
    )


@tells("cut")
def _cut(step: Step) -> str:
    op = step.op
    names = [name.partition(".")[0] for name in op.names] or step.born
    dropped = f"; {listed(op.drop)} {'is' if len(op.drop) == 1 else 'are'} not used further" if op.drop else ""
    return f"Cut along {step.targets}; the parts are {listed(names)}{dropped}"


@tells("join")
def _join(step: Step) -> str:
    op = step.op
    if len(op.target) == 2 and op.target[1].mirror and op.target[0].piece == op.target[1].piece:
        return f"Lay the {op.target[0].piece} open along the {called(op.target[0].name)}, with its other half"
    name = f"; the piece is called {op.name}" if op.name else ""
    one, two = (step.at.ref(place) for place in op.target)
    opens = f". Beyond that stretch they part, as a dart ({listed(map(called, op.opens))})" if op.opens else ""
    return f"Tape the pieces together, {two} along {one}{name}{opens}"


@tells("true")
def _true(step: Step) -> str:
    most = step.value("largest move") or step.value("moved by")
    what = "Make the two edges equally long" if step.op.equal else "Draw one smooth line over"
    by = "; it lies fair as it is" if most == "0 mm" else f"; nothing moves by more than {most}" if most else ""
    closed = "" if step.op.equal else ", darts closed and seams laid together"
    return f"{what}{':' if step.op.equal else ''} {step.targets}{closed}{by}"


@tells("move")
def _move(step: Step) -> str:
    op = step.op
    if op.toward is not None:
        return f"Move {step.targets} {mm(op.by)} toward {step.at.ref(op.toward)}"
    way = "outward" if op.by >= 0 else "inward"
    since = step.at.refs(op.from_) if op.from_ else ""
    begin = f", beginning {since if since.startswith('where ') else f'at {since}'}" if since else ""
    if op.along:
        corner = next((place for place in op.target if place.other and place.at is None), None)
        if corner is not None:
            more = "longer" if op.along > 0 else "shorter"
            begin = f", and so that the {called(corner.name)} becomes {mm(abs(op.along))} {more}{begin}"
        else:
            begin = f" and {mm(abs(op.along))} {'on' if op.along > 0 else 'back'} along its edge as that runs{begin}"
    mates = {"alike": "; the edge that it is sewn to likewise", "opposite": "; the edge that it is sewn to gains it"}
    return f"Move {step.targets} {mm(abs(op.by))} {way}{begin}{mates.get(op.mates, '')}"


@tells("extend")
def _extend(step: Step) -> str:
    op = step.op
    way = "down" if op.by >= 0 else "up"
    flare = f", {mm(abs(op.flare))} {'farther out' if op.flare > 0 else 'in'} at each seam" if op.flare else ""
    start = f" from the {called(op.from_)} on" if op.from_ and op.flare else ""
    drawn = "in its own shape" if op.shape == "kept" else "as a smooth line that is square to the seams beside it"
    return f"Carry {step.targets} {mm(abs(op.by))} {way} along the seams beside it{flare}{start}, and draw it {drawn}"


@tells("swing")
def _swing(step: Step) -> str:
    turned = step.value("turned")
    share = f"until this piece has {plain(100 * step.op.share, 1)} % of both hems"
    by = f", by {turned}," if turned else ""
    return (
        f"Turn {step.targets} about {step.at.ref(step.op.about)}{by} {share}: the strip of paper goes from one piece "
        "to the other, both edges of the seam stay as long as they are, and the hems are drawn anew, square to it"
    )


@tells("vent")
def _vent(step: Step) -> str:
    op = step.op
    what = "slit" if op.slit else "vent"
    wide = f", {mm(op.width)} wide" if op.width and not op.slit else ""
    length = mm(op.length) if op.length is not None else ""
    top = (
        ""
        if op.slit
        else f", its top {'square to the seam' if op.slope == 90 else f'at {plain(op.slope)}° to the seam'}"
    )
    return f"Draw a {what} {length} long{wide}{top}, at the end of {step.targets}; the seam is sewn only above it"


# Deriving -------------------------------------------------------------------------------------------------------------


@tells("copy")
def _copy(step: Step) -> str:
    op = step.op
    inset = f", {mm(op.inset)} smaller all round" if op.inset else ""
    mirrored = ", mirrored" if op.mirror else ""
    material = f" in {op.material}" if op.material else ""
    return f"Copy {step.targets}{material}{inset}{mirrored}: {listed(step.born)}"


@tells("facing")
def _facing(step: Step) -> str:
    op = step.op
    at = f", {mm(op.at_seam)} at the seams" if op.at_seam is not None else ""
    names = f": {listed(step.born)}" if step.born else ", cut on"
    return f"Trace a facing {mm(op.width)} wide{at} along {step.targets}{names}"


@tells("lining")
def _lining(step: Step) -> str:
    op = step.op
    eased = any(line.name == "ease-pleat" for name in step.born for line in step.after.piece(name).lines)
    room = f", with a pleat of {mm(op.ease_pleat)} at the centre back, on each half" if eased else ""
    shorter = f", its hem {mm(op.hem)} shorter than the finished hem" if op.hem else ""
    return f"Trace the lining of {step.targets}: {listed(step.born)}{room}{shorter}"


@tells("collar")
def _collar(step: Step) -> str:
    length = step.value("half neckline")
    kind = step.op.target[0].replace("-", " ") if step.op.target else "collar"
    of = f", half of which is {length}" if length else ""
    return f"Draft the {kind} collar for {step.at.ref(step.op.neck)}{of}: {listed(step.born)}"


@tells("strip")
def _strip(step: Step) -> str:
    op = step.op
    length, width = step.value(" length"), step.value("width as cut, net")
    to = f", sewn to {step.at.ref(op.to)}" if op.to is not None else ""
    kind = with_article(op.kind)
    grain = {"bias": " on the bias", "cross": " across the grain"}.get(op.grain or USUAL[op.kind].grain, "")
    folds = {
        "half": ", and folded lengthwise in half when it is sewn",
        "quarters": ", and folded lengthwise in quarters",
    }
    folded = folds.get(op.fold or USUAL[op.kind].fold, "")
    joins = step.value(" joins")
    parts = f", joined out of {plain(float(joins) + 1, 0)} parts of {step.value('each part')}" if joins else ""
    lap = step.value(" overlap")
    laps = f". {lap} of its length lap over" if lap not in ("", "0 mm") else ""
    return (
        f"Draft {kind}, {length} long{parts} and {width} wide as it is cut{grain} without allowances{folded}{to}: "
        f"{listed(step.born)}{laps}"
    )


@tells("placket")
def _placket(step: Step) -> str:
    op = step.op
    buttons = f", with {plain(op.buttons, 0)} buttons" if op.buttons else ""
    return f"Add a button stand of {mm(op.stand)} to {step.targets} and a facing of {mm(op.facing)} beyond it{buttons}"


@tells("pocket")
def _pocket(step: Step) -> str:
    what = f"{with_article(step.op.kind)} pocket"
    if step.op.kind == "patch":
        return f"Draft {what}, the middle of its upper edge at {step.targets}: {listed(step.born)}"
    return f"Draft {what} at {step.targets}: {listed(step.born)}"


@tells("flounce")
def _flounce(step: Step) -> str:
    to = f" for {step.at.ref(step.op.to)}" if step.op.to is not None else ""
    return f"Draft a ring{to}, {mm(step.op.high)} deep: {listed(step.born)}"


# Finishing ------------------------------------------------------------------------------------------------------------


@tells("allowance")
def _allowance(step: Step) -> str:
    op = step.op
    wide = "the allowance that is usual for its use" if op.width is None else f"an allowance of {mm(op.width)}"
    if op.end_width is not None:
        wide += f" that runs to {mm(op.end_width)} at its end"
    where = "every edge of " if any(not place.name for place in op.target) else ""
    return f"Give {where}{step.targets} {wide}"


CORNERS = {
    "mitred": "both cut lines run straight on until they meet",
    "squared": "the stitch line of the seam sewn first runs on to the other cut line, its allowance ends square there",
    "turned": "fold the paper along the hem and cut it as the edge beside it runs, so that it fits when folded up",
    "bevelled": "cut it off square, one width from where the seam ends",
    "stepped": "each allowance keeps its width to where the seam ends, and the cut line steps from one to the other",
}
"""What a corner of the allowance looks like, by its kind."""


@tells("corner")
def _corner(step: Step) -> str:
    through = f", through {step.at.refs(step.op.through)}" if step.op.through else ""
    how = CORNERS.get(step.op.kind)
    return f"At {step.targets}, draw the allowance {step.op.kind}{through}{f': {how}' if how else ''}"


@tells("notch")
def _notch(step: Step) -> str:
    op = step.op
    if op.remove:
        return f"Take the notches away from {step.targets}"
    mates = ", and the matching one on the edge that it is sewn to" if op.mates else ""
    places = listed(_along(step, figure) for figure in step.done.step.figures if "notch" in figure.label)
    measured = f". Measured along the edges: {places}" if places else ""
    every = f" every {mm(op.every)}" if op.every else ""
    kind = "a notch" if op.count == "single" else f"a {op.count} notch"
    where = step.targets if step.targets.startswith("where ") else f"at {step.targets}"
    return f"Set {kind}{every} {where}{mates}{measured}"


def _along(step: Step, figure: Figure) -> str:
    """How far a notch lies from the corner in which its edge begins."""
    edge = read_reference(figure.label.partition(" ")[0])
    if not isinstance(edge, Place):
        return shown(figure)
    return f"{shown(figure)} from the {step.now.start(edge)} on {step.now.ref(edge)}"


@tells("drill")
def _drill(step: Step) -> str:
    return f"{'Take drill holes away from' if step.op.remove else 'Mark drill holes at'} {step.targets}"


@tells("button")
def _button(step: Step) -> str:
    op = step.op
    if op.remove:
        return f"Take the buttons away from {step.targets}"
    kind = {"both": "buttons and buttonholes"}.get(op.kind, f"{op.kind}s")
    return f"Mark {plain(op.count, 0)} {kind} of {mm(op.size)} on {step.targets}"


@tells("grain")
def _grain(step: Step) -> str:
    along = f" to {step.at.ref(step.op.along)}" if step.op.along is not None else ""
    return f"Draw the grain line of {step.targets}, {step.op.kind}{along}"


@tells("label")
def _label(step: Step) -> str:
    rows = [f"{piece}: {words}" for piece, words in labelled(step.done).items()]
    return f"Write on the pieces how they are cut. {'; '.join(rows)}" if rows else plainly(step)


def labelled(done: Done) -> dict[str, str]:
    """By the name of each piece how a step says that it is cut."""
    halves = [figure.label.partition(": ")[::2] for figure in done.step.figures]
    return {piece: words.partition(",")[0] for piece, words in halves if words}


@tells("names")
def _names(step: Step) -> str:
    return f"{'Show' if step.op.show else 'Hide'} the names of edges, darts and points"


@tells("redraw")
def _redraw(step: Step) -> str:
    return "Draw the cut lines and marks anew"
