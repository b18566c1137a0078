"""Files that are wrong or harmful, and every way of writing the right ones down."""

from __future__ import annotations

import gzip

import pytest

from flatcut.errors import InputError
from flatcut.formats.svg import parsing
from flatcut.formats.svg.document import load

NAMESPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
SQUARE = '<path id="a" d="M0 0h10v10h-10z"/>'


def svg(body: str) -> bytes:
    return f'<svg {NAMESPACES} width="200mm" height="100mm" viewBox="0 0 200 100">{body}</svg>'.encode()


ENTITY = '<!DOCTYPE svg [{}]><svg xmlns="http://www.w3.org/2000/svg"><path id="a" d="{}"/></svg>'
LAUGHS = "".join(f'<!ENTITY e{k} "{f"&e{k - 1};" * 10 if k else "M0 0h1"}">' for k in range(9))
HIDDEN = '<!ENTITY a "0123456789"><!ENTITY b "' + "&#38;a;" * 10 + '"><!ENTITY c "' + "&#x26;b;" * 1000 + '">'


@pytest.mark.parametrize(
    ("data", "part"),
    [
        (b"", "is empty"),
        (b" \n ", "is empty"),
        (b"\xef\xbb\xbf", "is empty"),
        (b"hello", "is not XML that can be read"),
        (b"<svg", "is not XML that can be read"),
        (b"\x89PNG\r\n\x1a\n", "is not XML that can be read"),
        (b"<html/>", "its first element is html; choose an SVG file"),
        (b"<svg/>", 'is no SVG drawing yet; write xmlns="http://www.w3.org/2000/svg" into its first element'),
        (svg("&nothing;"), "is not XML that can be read"),
        (
            b'<!DOCTYPE svg SYSTEM "http://localhost:9/x.dtd">' + svg("&nbsp;"),
            "is not XML that can be read (Entity 'nbsp'",
        ),
        (svg("<g>" * 300 + "</g>" * 300), "has groups more than 250 levels deep"),
        (b'<?xml version="1.0" encoding="klingon"?><svg/>', "is not text in its encoding, klingon"),
        (b'<?xml version="1.0" encoding="zip"?><svg/>', "is not text in its encoding, zip"),
        (b"\xff\xfe<\0s", "is not text in its encoding, utf-16"),
        (svg("\xff").decode().encode("latin-1"), "is not XML that can be read"),
        (gzip.compress(svg(""), mtime=0)[:-20], "its end is missing"),
        (b"\x1f\x8bnonsense", "the packing is damaged"),
        (ENTITY.format(LAUGHS, "&e8;").encode(), "entities that stand for more than 64 kB of text; write it out"),
        (ENTITY.format(LAUGHS, "&e8;").encode("utf-16"), "entities that stand for more than 64 kB"),
        (ENTITY.format(HIDDEN, "&c;").encode(), "entities that stand for more than 64 kB"),
        (ENTITY.format('<!ENTITY a "' + "x" * 50000 + '">', "&a;&a;").encode(), "more than 64 kB"),
        (ENTITY.format('<!ENTITY a "&b;"><!ENTITY b "&a;">', "&a;").encode(), "an entity 'a' that holds itself"),
        (ENTITY.format("".join(f'<!ENTITY e{k} "&e{k + 1};">' for k in range(99)), "&e0;").encode(), "more than 40"),
        (ENTITY.format('<!ENTITY a SYSTEM "/etc/hostname">', "M0 0").encode(), "an entity that points out of the file"),
        (ENTITY.format("<!ENTITY a PUBLIC 'x' 'http://localhost/x'>", "&a;").encode(), "points out of the file"),
        (ENTITY.format('<!ENTITY % p SYSTEM "http://localhost/x"> %p;', "").encode(), "an entity that points out"),
        (ENTITY.format("%p;", "").encode(), "more than plain entities"),
        (ENTITY.format('<!ENTITY % p "x">', "").encode(), "more than plain entities"),
        (ENTITY.format('<!ENTITY a "x"><!ATTLIST path b CDATA "&a;">', "").encode(), "entities in the attributes"),
        (
            ENTITY.format(
                '<!ATTLIST path b CDATA "' + "x" * 200_000 + '">', '"/>' + "<path/>" * 400 + '<g id="'
            ).encode(),
            "would swell it",
        ),
        (b"<!DOCTYPE svg [<!ENTITY a 'x'" + svg(""), "more than plain entities"),
        (b"<!DOCTYPE [" + svg(""), "has a DOCTYPE that cannot be read"),
    ],
)
def test_a_bad_file_is_one_sentence(data: bytes, part: str) -> None:
    with pytest.raises(InputError) as caught:
        load(data, name="a.svg")
    assert str(caught.value).startswith("a.svg ")
    assert part in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_packed_bomb_is_refused_before_it_opens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parsing, "LARGEST_FILE", 2**22)
    bomb = gzip.compress(b"<svg>" + b" " * 2**26, mtime=0)
    with pytest.raises(InputError, match="is larger than 4 MB; link its photographs or leave them out"):
        load(bomb)
    with pytest.raises(InputError, match="is larger than 4 MB"):
        load(gzip.decompress(bomb))


def test_the_truth_of_entities_is_read() -> None:
    subset = '<!ENTITY one "M0 0"><!ENTITY two "&one; h&#49;0"><!-- <!ENTITY two "x"> --><?x ]> ?><!ELEMENT g ANY>'
    (item,) = load(ENTITY.format(subset, "&two; v10 z").encode()).drawn()
    assert len(item.subpaths[0].curve) == 3
    allowed = ENTITY.format('<!ENTITY a "' + " " * 32000 + '">', "M0 0&a;h1&a;")
    assert len(load(allowed.encode()).drawn()) == 1


def test_a_doctype_of_old_files_is_read_and_kept_and_nothing_is_fetched() -> None:
    doctype = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://localhost:9/svg11.dtd">'
    document = load(f"<!-- a --><?b c?>{doctype}<!-- d -->".encode() + svg(SQUARE) + b"<!-- e --><?f g?>")
    assert len(document.drawn()) == 1
    text = document.to_bytes().decode()
    for part in ("<!-- a -->", "<?b c?>", doctype, "<!-- d -->", "<!-- e -->", "<?f g?>"):
        assert part in text


def test_a_large_photograph_is_read() -> None:
    picture = "data:image/jpeg;base64," + "QUJD" * 2_800_000
    body = f'<image xlink:href="{picture}"/><desc>{picture}</desc>{SQUARE}'
    document = load(svg(body))
    assert len(document.drawn()) == 1
    assert len(document.to_bytes()) > 2 * len(picture)


@pytest.mark.parametrize(
    "data",
    [
        '<?xml version="1.0" encoding="ISO-8859-1"?>{}'.format(svg("<desc>Ärmel</desc>").decode()).encode("latin-1"),
        '<?xml version="1.0" encoding="windows-1252"?>{}'.format(svg("<desc>Ärmel</desc>").decode()).encode("cp1252"),
        '<?xml version="1.0" encoding="UTF-16"?>{}'.format(svg("<desc>Ärmel</desc>").decode()).encode("utf-16"),
        svg("<desc>Ärmel</desc>").decode().encode("utf-16-le"),
        b"\xef\xbb\xbf" + svg("<desc>Ärmel</desc>"),
        gzip.compress(svg("<desc>Ärmel</desc>"), mtime=0),
    ],
)
def test_any_encoding_is_written_in_utf_8(data: bytes) -> None:
    written = load(data).to_bytes()
    assert "Ärmel" in written.decode("utf-8")
    assert b"ISO" not in written
    assert load(written).to_bytes() == written


@pytest.mark.parametrize(("times", "passes"), [(60, True), (70, False)])
def test_entities_within_entities_count_by_what_they_stand_for(times: int, passes: bool) -> None:
    """A kilobyte, sixty or seventy times: the limit is 64 kB."""
    inner, outer = f'<!ENTITY a "{" " * 1024}">', f'<!ENTITY b "{"&a;" * times}">'
    data = ENTITY.format(inner + outer, "M0 0h10v10h-10z&b;").encode()
    if passes:
        assert len(load(data).root) == 1
    else:
        with pytest.raises(InputError, match="stand for more than 64 kB"):
            load(data)
