"""What a document says of the whole pattern: one element in the RDF of its <metadata>."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from lxml import etree

from flatcut.errors import InputError
from flatcut.formats.svg.elements import tag
from flatcut.formats.svg.kept import Kept, kept
from flatcut.formats.svg.vocabulary import FORMAT, NAMESPACE, PREFIX, own, pack, unpack
from flatcut.pattern.values import Figure, Pattern, Position, RunPart, Seam, Step, Style

_WHERE = "the document"
RDF_NAMESPACE = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
RDF = f"{{{RDF_NAMESPACE}}}RDF"
"""What holds descriptions of a document in it. Source: RDF 1.1 XML Syntax, section 2; SVG 1.1, section 21."""


@dataclass(kw_only=True, eq=False, repr=False)
class Metadata:
    """seams: as read, not yet held against the pieces; copies: attributes of each piece's group and outline, by uid."""

    seams: tuple[Seam, ...] = ()
    style: Style = field(default_factory=Style)
    body: Mapping[str, float] = field(default_factory=dict)
    measures: Mapping[str, float] = field(default_factory=dict)
    steps: tuple[Step, ...] = ()
    names_shown: bool = False
    told_hidden: bool = False
    copies: dict[str, dict[str, str]] = field(default_factory=dict)


def read_metadata(root: etree._Element) -> Metadata:
    """Errors: InputError when the document was written by a newer flatcut, or the data is damaged."""
    element = next(root.iter(own("pattern")), None)
    if element is None:
        return Metadata()
    version = element.get("format", "")[:9]
    if not (version.isascii() and version.isdigit()) or int(version) > FORMAT:
        raise InputError(
            f"the document is of flatcut format {version or '?'}, and this flatcut reads up to {FORMAT}; update flatcut"
        )
    try:
        style = unpack(element.get("style", "{}"), where=_WHERE)
        return Metadata(
            seams=tuple(_seam(record) for record in unpack(element.get("seams", "[]"), where=_WHERE)),
            style=Style(
                name=style.get("name", ""), size=style.get("size", ""), materials=tuple(style.get("materials", ()))
            ),
            body=_lengths(element, "body"),
            measures=_lengths(element, "measures"),
            steps=tuple(_step(child) for child in element.iterchildren(own("step"))),
            names_shown=element.get("names") == "shown",
            told_hidden=element.get("told") == "hidden",
            copies={
                child.get("uid", ""): {str(key): str(value) for key, value in child.attrib.items() if key != "uid"}
                for child in element.iterchildren(own("copy"))
            },
        )
    except InputError:
        raise
    except (KeyError, IndexError, TypeError, ValueError, AttributeError):
        raise InputError("the pattern data of the document is damaged; take an earlier copy of the file") from None


def _lengths(element: etree._Element, name: str) -> dict[str, float]:
    return {key: float(mm) for key, mm in unpack(element.get(name, "{}"), where=_WHERE).items()}


def _step(element: etree._Element) -> Step:
    figures = unpack(element.get("figures", "[]"), where=_WHERE)
    return Step(
        line=element.get("line", ""),
        figures=tuple(Figure(str(label), float(value), str(unit)) for label, value, unit in figures),
        warnings=tuple(unpack(element.get("warnings", "[]"), where=_WHERE)),
        about=tuple(unpack(element.get("about", "[]"), where=_WHERE)),
        drawn=Kept(element.get("drawn", "")) if element.get("drawn") else (),
    )


def _seam(record: dict[str, Any]) -> Seam:
    return Seam(
        uid=record["uid"],
        a=tuple(_part(part) for part in record["a"]),
        b=tuple(_part(part) for part in record["b"]),
        reversed=record.get("reversed", False),
        ease=float(record.get("ease", 0.0)),
        suggested=record.get("suggested", False),
    )


def _part(record: dict[str, Any]) -> RunPart:
    start, end = record.get("start"), record.get("end")
    return RunPart(
        piece=record["piece"],
        of=record["of"],
        start=Position(mode=start[0], value=float(start[1])) if start else None,
        end=Position(mode=end[0], value=float(end[1])) if end else None,
        backwards=record.get("backwards", False),
        mirrored=record.get("mirrored", False),
    )


def _part_record(part: RunPart) -> dict[str, Any]:
    record: dict[str, Any] = {"piece": part.piece, "of": part.of}
    if part.start is not None:
        record["start"] = [part.start.mode, part.start.value]
    if part.end is not None:
        record["end"] = [part.end.mode, part.end.value]
    if part.backwards:
        record["backwards"] = True
    if part.mirrored:
        record["mirrored"] = True
    return record


def _seam_record(seam: Seam) -> dict[str, Any]:
    record: dict[str, Any] = {
        "uid": seam.uid,
        "a": [_part_record(part) for part in seam.a],
        "b": [_part_record(part) for part in seam.b],
    }
    if seam.reversed:
        record["reversed"] = True
    if seam.ease:
        record["ease"] = seam.ease
    if seam.suggested:
        record["suggested"] = True
    return record


def write_metadata(
    root: etree._Element,
    pattern: Pattern,
    seams: Iterable[Seam],
    copies: Mapping[str, Mapping[str, str]],
) -> None:
    """Replace the pattern's element, or add one to the document's <metadata>.

    seams: those of the pattern and those to pieces that could not be read.
    """
    records = [_seam_record(seam) for seam in seams]
    home = root.find(tag("metadata"))
    if home is None:
        home = etree.Element(tag("metadata"))
        root.insert(0, home)
    for old in list(root.iter(own("pattern"))):
        parent = old.getparent()
        if parent is not None:
            parent.remove(old)
    # the editor reads what it does not know without a word only within RDF, where a typed node is any element
    described = home.find(RDF)
    if described is None:
        described = etree.SubElement(home, RDF, nsmap={"rdf": RDF_NAMESPACE})
    element = etree.SubElement(described, own("pattern"), nsmap={PREFIX: NAMESPACE})
    element.set("format", str(FORMAT))
    if records:
        element.set("seams", pack(records))
    style = {"name": pattern.style.name, "size": pattern.style.size, "materials": list(pattern.style.materials)}
    stated = {key: value for key, value in style.items() if value}
    if stated:
        element.set("style", pack(stated))
    for name, lengths in (("body", pattern.body), ("measures", pattern.measures)):
        if lengths:
            element.set(name, pack(dict(lengths)))
    if pattern.names_shown:
        element.set("names", "shown")
    if pattern.told_hidden:
        element.set("told", "hidden")
    for step in pattern.steps:
        child = etree.SubElement(element, own("step"))
        child.set("line", step.line)
        if step.figures:
            child.set("figures", pack([list(figure) for figure in step.figures]))
        if step.warnings:
            child.set("warnings", pack(list(step.warnings)))
        if step.about:
            child.set("about", pack(list(step.about)))
        drawn = kept(step.drawn)
        if drawn:
            child.set("drawn", drawn)
    for uid, attributes in copies.items():
        child = etree.SubElement(element, own("copy"))
        child.set("uid", uid)
        for key, value in attributes.items():
            child.set(key, value)
