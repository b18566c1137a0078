"""Bytes to an XML tree, with nothing fetched and nothing blown up.

Read: plain or gzip-packed files up to LARGEST_FILE; any encoding that Python knows; internal entities as long as all of
their references together make no more than LARGEST_EXPANSION.
Refused: entities that point to other files, parameter entities, entities that hold themselves. An external DTD may be
named, as old SVG files do, and is never fetched.
"""

from __future__ import annotations

import codecs
import contextlib
import re
import zlib

from lxml import etree

from flatcut.errors import FileName, InputError

LARGEST_FILE = 256 * 2**20
"""Bytes of a drawing, unpacked; photographs in it fit, a bomb of zeros does not."""

LARGEST_EXPANSION = 64 * 2**10
"""Characters that all entity references of a file may stand for together."""

LARGEST_DEFAULTS = 64 * 2**20
"""Characters that default attributes of the DOCTYPE may add to a file, were every tag to get all of them."""

_HUGE = 9_000_000
"""From this size on the parser's own limits (10 MB in one text, 256 levels) are lifted, for embedded photographs."""
_LEVELS = 256


def parse_xml(data: bytes, *, name: str) -> tuple[etree._ElementTree, bool]:
    """The tree of a file, and whether the file begins with an XML declaration.

    Errors: InputError with one sentence that begins with `name`.
    """
    data = _utf8(_unpacked(data, name), name)
    if not data.strip():
        raise InputError(FileName(name), " is empty; save the drawing again")
    subset_seen = b"<!DOCTYPE" in data and _check_doctype(data.decode("utf-8", "replace"), name)
    parser = etree.XMLParser(
        encoding="utf-8",
        resolve_entities=True,
        no_network=True,
        load_dtd=False,
        attribute_defaults=False,
        huge_tree=len(data) > _HUGE,
        strip_cdata=False,
    )
    try:
        root = etree.fromstring(data, parser)
    except etree.XMLSyntaxError as error:
        if _deepest(data) > _LEVELS:
            raise InputError(FileName(name), " has groups more than 250 levels deep; ungroup some of them") from None
        reason = (error.msg or "broken off").splitlines()[0].strip().rstrip(".")
        raise InputError(FileName(name), f" is not XML that can be read ({reason}); save it again as SVG") from None
    tree = root.getroottree()
    if tree.docinfo.internalDTD is not None and not subset_seen:
        raise InputError(FileName(name), " has a DOCTYPE in an odd place; remove it")
    return tree, data.startswith(b"<?xml")


def _deepest(data: bytes) -> int:
    """How many elements lie in each other, as far as a file can be read by a parser that knows no limit."""
    from xml.parsers import expat  # asked of what cannot be read

    deepest = depth = 0

    def start(tag: str, attributes: dict[str, str]) -> None:
        nonlocal deepest, depth
        depth += 1
        deepest = max(deepest, depth)

    def end(tag: str) -> None:
        nonlocal depth
        depth -= 1

    parser = expat.ParserCreate("utf-8")
    parser.StartElementHandler, parser.EndElementHandler = start, end
    with contextlib.suppress(expat.ExpatError):
        parser.Parse(data, True)
    return deepest


def _unpacked(data: bytes, name: str) -> bytes:
    """The bytes of a file that may be packed with gzip."""
    if data[:2] == b"\x1f\x8b":
        unzip = zlib.decompressobj(wbits=31)
        try:
            data = unzip.decompress(data, LARGEST_FILE + 1)
        except zlib.error:
            raise InputError(FileName(name), " is packed, and the packing is damaged; save it again") from None
        if not unzip.eof and len(data) <= LARGEST_FILE:
            raise InputError(FileName(name), " is packed, and its end is missing; save it again")
    if len(data) > LARGEST_FILE:
        raise InputError(
            FileName(name), f" is larger than {LARGEST_FILE // 2**20} MB; link its photographs or leave them out"
        )
    return data


_DECLARED = re.compile(rb"""<\?xml[^>]*?\sencoding\s*=\s*["']([A-Za-z0-9._\-]+)["']""")


def _utf8(data: bytes, name: str) -> bytes:
    """The same text in UTF-8, so that what is checked here is what the parser sees."""
    if data.startswith(codecs.BOM_UTF8):
        return data[len(codecs.BOM_UTF8) :]
    declared = _DECLARED.match(data)
    encoding = declared[1].decode("ascii") if declared else "utf-8"
    if data.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        encoding = "utf-32"
    elif data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16"
    elif data.startswith(b"<\0"):
        encoding = "utf-16-le"
    elif data.startswith(b"\0<"):
        encoding = "utf-16-be"
    try:
        if codecs.lookup(encoding).name == "utf-8":
            return data
        return data.decode(encoding).encode("utf-8")
    except (LookupError, UnicodeError):
        raise InputError(FileName(name), f" is not text in its encoding, {encoding}; save it again in UTF-8") from None


_QUOTED = r"""(?:"[^"]*"|'[^']*')"""
_NAME = r"[^\s<>&;%\[\]\"'/=]+"
_MISC = r"(?:\s+|<!--.*?-->|<\?.*?\?>)*"
_DOCTYPE = rf"<!DOCTYPE\s+{_NAME}(?:\s+SYSTEM\s*{_QUOTED}|\s+PUBLIC\s*{_QUOTED}\s*{_QUOTED})?\s*([\[>])"
_ENTITY = rf"<!ENTITY\s+({_NAME})\s+({_QUOTED})\s*>"
_OUTSIDE = rf"<!ENTITY\s+(?:%\s+)?{_NAME}\s+(?:SYSTEM|PUBLIC)\b"
_OTHER = rf"<!(?:ELEMENT|ATTLIST|NOTATION)\b(?:{_QUOTED}|[^>\"'])*>"
_REFERENCE = rf"&({_NAME});"
_CHARACTER = r"&#(?:x([0-9A-Fa-f]{1,6})|([0-9]{1,7}));"
_PREDEFINED = frozenset({"amp", "lt", "gt", "quot", "apos"})


def _check_doctype(text: str, name: str) -> bool:
    """Whether there is a DOCTYPE before the first element; InputError unless it is harmless."""
    place = _after_misc(text, 0)
    doctype = re.compile(_DOCTYPE).match(text, place)
    if doctype is None:
        if text.startswith("<!DOCTYPE", place):
            raise InputError(FileName(name), " has a DOCTYPE that cannot be read; remove it")
        return False
    place = doctype.end()
    if doctype[1] == ">":
        return True
    entities: dict[str, str] = {}
    defaults = 0
    while not text.startswith("]", place := _after_misc(text, place)):
        if entity := re.compile(_ENTITY).match(text, place):
            entities.setdefault(entity[1], re.sub(_CHARACTER, _character, entity[2][1:-1]))
            place = entity.end()
        elif other := re.compile(_OTHER).match(text, place):
            if any(found not in _PREDEFINED for found in re.findall(_REFERENCE, re.sub(_CHARACTER, "", other[0]))):
                raise InputError(FileName(name), " has entities in the attributes of its DOCTYPE; remove them")
            defaults += sum(map(len, re.findall(_QUOTED, other[0])))
            place = other.end()
        elif re.compile(_OUTSIDE).match(text, place):
            raise InputError(FileName(name), " has an entity that points out of the file; remove it from the DOCTYPE")
        else:
            raise InputError(FileName(name), " has a DOCTYPE with more than plain entities; remove it")
    if defaults * text.count("<") > LARGEST_DEFAULTS:
        raise InputError(FileName(name), " has attributes in its DOCTYPE that would swell it; remove them")
    if entities:
        _check_expansion(text[place:], entities, name)
    return True


def _after_misc(text: str, place: int) -> int:
    """The place after spaces, comments and processing instructions."""
    found = re.compile(_MISC, re.DOTALL).match(text, place)
    return found.end() if found else place


def _character(found: re.Match[str]) -> str:
    """What a character reference in an entity's value stands for: it may be the & of a hidden reference."""
    code = int(found[1], 16) if found[1] else int(found[2])
    return chr(code) if code <= 0x10FFFF else ""


def _check_expansion(body: str, entities: dict[str, str], name: str) -> None:
    """InputError when the references of a file stand for too much, or an entity for itself."""
    sizes: dict[str, int] = {}

    def size(key: str, within: tuple[str, ...]) -> int:
        if key in within:
            raise InputError(FileName(name), f" has an entity '{key}' that holds itself; remove it from the DOCTYPE")
        if key not in sizes:
            if len(within) > 40:
                raise InputError(
                    FileName(name), " has entities inside entities, more than 40 deep; write their text out"
                )
            value = entities.get(key, "")
            inner = (size(found, (*within, key)) for found in re.findall(_REFERENCE, value))
            sizes[key] = min(len(value) + sum(inner), LARGEST_EXPANSION + 1)
        return sizes[key]

    total = 0
    for found in re.findall(_REFERENCE, body):
        total += size(found, ())
        if total > LARGEST_EXPANSION:
            kilobytes = LARGEST_EXPANSION // 2**10
            raise InputError(
                FileName(name), f" has entities that stand for more than {kilobytes} kB of text; write it out"
            )
