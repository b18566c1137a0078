"""Sentences of steps that prepare pieces, and move darts and fullness."""

from __future__ import annotations

from flatcut.lesson.telling import Step, plainly, shown, tells
from flatcut.lesson.words import called, listed, mm
from flatcut.pattern.places import Place
from flatcut.units import plain

# Preparing ------------------------------------------------------------------------------------------------------------


@tells("block")
def _block(step: Step) -> str:
    needed = step.op.kind().needed
    told = ", ".join(f"{called(name)} {mm(value)}" for name, value in step.after.body.items() if name in needed)
    return f"Draft the {step.op.target[0]} block for these measurements: {told}" if told else plainly(step)


@tells("style")
def _style(step: Step) -> str:
    style = step.after.style
    parts = [
        f"the style {style.name}" if step.op.name else "",
        f"size {style.size}" if style.size else "",
        f"cut from {listed(style.materials)}" if step.op.materials else "",
    ]
    return f"Write on every piece: {', '.join(filter(None, parts))}"


@tells("piece")
def _piece(step: Step) -> str:
    kind = "cut line; the stitch line is drawn inside it" if step.op.outline == "cut" else "stitch line"
    return f"Take the drawn outlines as the pieces {listed(step.born)}: what is drawn is the {kind}"


@tells("edge")
def _edge(step: Step) -> str:
    op, told = step.op, []
    if op.split:
        lengths = {figure.label.partition(" ")[0].rpartition(".")[2]: figure for figure in step.done.step.figures}
        parts = [f"{called(n)} ({shown(lengths[n])})" if n in lengths else called(n) for n in op.names]
        told.append(f"Divide {step.targets}: the parts are called {listed(parts)}")
    elif op.names:
        names = [f"{step.at.ref(place)} '{called(name)}'" for place, name in zip(op.target, op.names, strict=False)]
        told.append(f"Call {listed(names)}")
    if op.use:
        what = {
            "seam": "sewn as a seam",
            "fold": "laid on the fold of the cloth",
            "centre": "the centre of the body",
            "finished": "finished, such as by a facing or a binding",
            "opening": "left open, as for a zip or buttons",
            "hem": "turned up as a hem",
        }.get(op.use, f"for a {op.use}")
        many = len(op.target) > 1
        told.append(f"{('they' if many else 'it') if told else step.targets} {'are' if many else 'is'} {what}")
    said = "; ".join(told) or plainly(step)
    return said[0].upper() + said[1:]


@tells("line")
def _line(step: Step) -> str:
    op, length = step.op, next(iter(step.done.step.figures), None)
    start = step.at.ref(op.start) if op.start else "the place"
    said = f"Draw the line {called(op.name)}"
    if op.parallel is not None:
        said += f" parallel to {_or_grain(step, op.parallel)}"
        said += f", {mm(op.distance)} away" if op.distance else f", from {start}"
    elif op.square is not None:
        said += f" from {start}, square to {_or_grain(step, op.square)}"
    elif op.along is not None:
        said += f" on along the axis of {step.at.ref(op.along)}"
    else:
        said += f" from {start} to {step.at.ref(op.end)}" if op.end else f" from {start}"
    if op.until is not None:
        said += f", as far as {step.at.ref(op.until)}"
    if op.through:
        said += f", through {step.at.refs(op.through)}"
    ways = [f"{word} {_way(step, way)}" for word, way in (("leaves", op.leave), ("arrives", op.arrive)) if way]
    said += f"; it {listed(ways)}" if ways else ""
    said += f"; draw it with {step.at.refs(op.closed)} closed" if op.closed else ""
    if op.shape:
        said += ", curved as the picture shows"
    return f"{said}. It is {shown(length)} long" if length is not None else said


def _or_grain(step: Step, place: Place) -> str:
    return "the grain" if not place.piece and place.name == "grain" else step.at.ref(place)


def _way(step: Step, way: str) -> str:
    if way == "square":
        return "square to the edge"
    if way.startswith("smooth:"):
        return f"as a smooth line with {called(way[7:].rpartition('.')[2])} of the {way[7:].rpartition('.')[0]}"
    return f"at {way.removesuffix('deg')}°"


@tells("point")
def _point(step: Step) -> str:
    return f"Mark {step.at.ref(step.op.at)}, and call it '{called(step.op.name)}'"


@tells("seam")
def _seam(step: Step) -> str:
    op = step.op
    if op.suggest or op.confirm or op.remove or len(op.target) != 2:
        return plainly(step)
    a, b = (step.at.ref(one) for one in op.target)
    one, two = (figure for figure in (*step.done.step.figures, None, None)[:2])
    lengths = f" ({shown(one)} and {shown(two)})" if one is not None and two is not None else ""
    ease = f", with {mm(op.ease)} of ease in the second" if op.ease else ""
    return f"{a} will be sewn to {b}{lengths}{ease}: lay the two along each other and compare them"


@tells("measure")
def _measure(step: Step) -> str:
    found = next(iter(step.done.step.figures), None)
    straight = len(step.op.target) == 2 and all(isinstance(one, Place) and _spot(step, one) for one in step.op.target)
    kept = f"; it is used later as {called(step.op.as_)}" if step.op.as_ else ""
    if straight and found is not None:
        one, two = (step.at.ref(place) for place in step.op.target)
        return f"Measure straight from {one} to {two}: {shown(found)}{kept}"
    return f"Measure {step.targets}: {shown(found)}{kept}" if found else plainly(step)


def _spot(step: Step, place: Place) -> bool:
    """Whether it is one place, no edge or stretch."""
    points = [mark.name for piece in step.before.pieces if piece.name == place.piece for mark in piece.points]
    if place.name in points:
        return True
    return bool(place.chord or place.part or (place.to is None and (place.at or place.other)))


@tells("arrange")
def _arrange(step: Step) -> str:
    if step.op.against:
        pairs = zip(step.op.against[::2], step.op.against[1::2], strict=False)
        return f"Lay {listed(f'{step.at.ref(two)} along {step.at.ref(one)}' for one, two in pairs)}"
    return "Lay the pieces side by side, each with its grain line upright"


@tells("drop")
def _drop(step: Step) -> str:
    return f"Put {step.targets} aside: it is not used further"


# Darts ----------------------------------------------------------------------------------------------------------------


@tells("dart")
def _dart(step: Step) -> str:
    op = step.op
    if op.remove:
        return f"Leave {step.targets} out: it is not sewn, and hangs as looseness"
    said = []
    if op.intake is not None:
        to = f" to {step.at.ref(op.point)}" if op.point else ""
        said.append(f"Draw a dart at {step.targets}, {mm(op.intake)} wide{to}")
    if op.name:
        said.append(f"call {'it' if said else step.targets} {called(op.name)}")
    if op.equal:
        said.append(f"make the legs of {'it' if said else step.targets} equal")
    if op.pressed is not None:
        pressed = str(op.pressed)
        toward = "open" if pressed == "open" else f"toward the {called(pressed.rpartition('.')[2])}"
        said.append(f"press {'it' if said else step.targets} {toward}")
    told = "; ".join(said) or plainly(step)
    return told[0].upper() + told[1:]


@tells("pivot")
def _pivot(step: Step) -> str:
    op = step.op
    where = step.at.ref(op.to) if op.to is not None else f"along {step.at.ref(op.along)}"
    turned = next((figure for figure in step.done.step.figures if figure.label.startswith("turned")), None)
    held = f"; {step.at.ref(op.hold)} stays still" if op.hold is not None else ""
    much = "" if op.share is op.amount is op.angle is None else " a part of"
    said = f"Cut from {where}, to the point of {step.targets}, and close{much} the dart: "
    said += f"the part beside it turns {shown(turned)} about its point and opens there{held}" if turned else "it opens"
    intake = step.value(" intake")
    return f"{said}. The new mouth is {intake} wide" if intake else said


@tells("divide")
def _divide(step: Step) -> str:
    op = step.op
    places = f"at {step.at.refs(op.to)}" if op.to else f"along {step.at.refs(op.along)}"
    together = step.value("dart angles together")
    return (
        f"Divide {step.targets}: cut {places} to its point, and share its angle among the openings"
        f"{f', {together} together' if together else ''}"
    )


@tells("back-off")
def _back_off(step: Step) -> str:
    op = step.op
    moved = step.value("point moved by")
    to = f" to {step.at.ref(op.to)}" if op.to is not None else ""
    side = "farther in" if op.by is not None and op.by < 0 else "back"
    of = step.targets if any(place.part for place in op.target) else f"the point of {step.targets}"
    return f"Move {of} {moved} {side} along the dart's axis{to}; its feet stay, draw the legs anew"


@tells("release")
def _release(step: Step) -> str:
    into = {"flare": "flare that hangs open", "tuck": "a tuck", "pleat": "a pleat"}.get(step.op.to, step.op.to)
    taken = step.value("taken up")
    return f"Do not sew {step.targets} as a dart: make it {into}{f', which takes up {taken}' if taken else ''}"


# Spreading and pleating -----------------------------------------------------------------------------------------------


@tells("spread")
def _spread(step: Step) -> str:
    op = step.op
    amounts = listed(mm(abs(value)) for value in op.amount)
    doing = "overlap" if op.amount and max(op.amount) < 0 else "spread"
    at = f" at {step.at.ref(op.at)}, hinged at the other end," if op.at is not None and not op.other else ""
    became = "" if op.to == "flare" else f"; what it opens becomes {op.to if op.to != 'pleat' else 'a pleat'}"
    return f"Cut along {step.targets} and {doing} the parts{at} by {amounts}{became}"


@tells("pleat")
def _pleat(step: Step) -> str:
    op = step.op
    count = f"{plain(op.count, 0)} {op.kind} pleat{'s' if op.count > 1 else ''}"
    cloth = step.value("pleated width, cloth")
    finished = step.value("pleated width, finished")
    wide = f": {cloth} of cloth come to {finished}" if cloth and finished else ""
    return f"Put {count}, {mm(op.depth)} deep, in {step.targets}{wide}"
