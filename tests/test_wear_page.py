"""The page of worn garments in a real browser."""

from __future__ import annotations

import base64
import os
import pty
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from flatcut.cli import main
from flatcut.geometry.arrays import Array
from flatcut.worn.views import views
from tests.browser import Tab, opened
from tests.wearing import shown

SIZES = ("bust-78", "bust-94")


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tab]:
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("the page must be tried in a browser here, and chromium is missing", pytrace=False)
        pytest.skip("no browser to look at the page in: chromium is missing")
    folder = tmp_path_factory.mktemp("page")
    page = folder / "skirts.html"
    drawings = [str(folder / f"{size}.svg") for size in SIZES]
    for size, drawing in zip(SIZES, drawings, strict=True):
        assert main(["block", "skirt", f"--size={size}", "-o", drawing]) == 0
    assert main(["wear", *drawings, "-o", str(page), "--mesh=28mm"]) == 0
    with opened(found, page, folder / "browser", painting=True) as opened_tab:
        opened_tab.until("!!document.body.dataset.shown")
        yield opened_tab


def test_it_shows_how_far_it_is_and_ctrl_c_ends_it_with_what_there_is(tmp_path: Path) -> None:
    """On a terminal a line tells the net and the step; a fine net that is stopped leaves the page of the coarse one."""
    drawing, page = tmp_path / "skirt.svg", tmp_path / "skirt.html"
    assert main(["block", "skirt", "--size=bust-90", "-o", str(drawing)]) == 0
    ours, its = pty.openpty()
    words = [sys.executable, "-m", "flatcut", "wear", str(drawing), "-o", str(page), "--mesh=6mm"]
    # a shell's background job ignores Ctrl-C and hands that on
    process = subprocess.Popen(
        words,
        stdout=subprocess.PIPE,
        stderr=its,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL) and None,
    )
    os.close(its)
    try:
        seen = ""
        while not re.search(r"net of \d+ mm, step [5-9]", seen):
            seen += os.read(ours, 4096).decode()
        process.send_signal(signal.SIGINT)
        said = process.communicate(timeout=60)[0]
    finally:
        process.kill()
        os.close(ours)
    assert process.returncode == 1
    assert "had not come to rest" in said
    assert "toile" in page.read_text("utf-8")


def painted(tab: Tab, garment: int = 0) -> Array:
    """The picture of a garment on the page as it is now: (height, width, 3) from 0 to 255."""
    canvas = f"document.querySelectorAll('canvas')[{garment}]"
    size = tab.value(f"[{canvas}.width, {canvas}.height]")
    text = tab.value(
        f"(() => {{ const gl = {canvas}.getContext('webgl');"
        " const p = new Uint8Array(4 * gl.drawingBufferWidth * gl.drawingBufferHeight);"
        " gl.readPixels(0, 0, gl.drawingBufferWidth, gl.drawingBufferHeight, gl.RGBA, gl.UNSIGNED_BYTE, p);"
        " let s = ''; for (let k = 0; k < p.length; k += 8192) s += String.fromCharCode(...p.subarray(k, k + 8192));"
        " return btoa(s); })()"
    )
    pixels = np.frombuffer(base64.b64decode(text), dtype=np.uint8).reshape(size[1], size[0], 4)
    return np.asarray(pixels[::-1, :, :3], dtype=float)


def of_page(tab: Tab, name: str, kind: str, garment: int = 0) -> Array:
    """Numbers of a garment on the page as it holds them."""
    text = tab.value(f"JSON.parse(document.getElementById('garments').textContent)[{garment}]['{name}']")
    return np.asarray(np.frombuffer(base64.b64decode(text), dtype=kind))


@pytest.mark.long
def test_the_page_turns_by_keys_buttons_and_mouse(tab: Tab) -> None:
    def shown_now() -> str:
        return str(tab.value("document.body.dataset.shown"))

    tab.press("f")
    tab.press("1")
    assert shown_now() == "cloth 0 worn"
    for key, after in (
        ("4", "gap 0 worn"),
        ("ArrowRight", "gap 15 worn"),
        ("ArrowLeft", "gap 0 worn"),
        ("b", "gap 180 worn"),
        ("s", "gap 90 worn"),
        ("3", "weft 90 worn"),
        ("2", "warp 90 worn"),
        ("p", "warp 90 flat"),
        ("p", "warp 90 worn"),
        ("f", "warp 0 worn"),
    ):
        tab.press(key)
        assert shown_now() == after, key
    tab.value("document.querySelector('[data-kind=weft]').click()")
    tab.value("document.querySelector('[data-look=back]').click()")
    assert shown_now() == "weft 180 worn"
    assert tab.value("document.querySelector('[data-kind=weft]').getAttribute('aria-pressed')") == "true"
    tab.press("n")
    assert tab.value("[...document.querySelectorAll('.spot')].every(s => s.hidden)")
    tab.press("n")
    tab.value("document.querySelector('canvas').scrollIntoView()")
    x, y = tab.value(
        "(b => [b.x + b.width / 2, b.y + b.height / 2])(document.querySelector('canvas').getBoundingClientRect())"
    )
    mouse = {"button": "left", "buttons": 1}
    tab.ask("Input.dispatchMouseEvent", type="mousePressed", x=x, y=y, **mouse)
    tab.ask("Input.dispatchMouseEvent", type="mouseMoved", x=x + 60, y=y, **mouse)
    tab.ask("Input.dispatchMouseEvent", type="mouseReleased", x=x + 60, y=y, **mouse)
    assert shown_now() != "weft 180 worn"
    tab.press("f")


@pytest.mark.long
def test_the_page_paints_the_garment_as_it_is(tab: Tab) -> None:
    """The painted cloth, from the front, the side and the back, against the outline of its projected points."""
    at = of_page(tab, "at", "<f4").reshape(-1, 3).astype(float)
    tab.press("1")
    for key, across in (("f", at[:, 0]), ("s", -at[:, 2]), ("b", -at[:, 0])):
        tab.press(key)
        picture = painted(tab)
        cloth = picture[:, :, 2] > picture[:, :, 0] + 15.0
        rows = np.flatnonzero(cloth.any(axis=1))
        scale = (len(rows) - 1) / np.ptp(at[:, 1])
        for share in np.linspace(0.08, 0.92, 12):
            row = round(rows[0] + share * (rows[-1] - rows[0]))
            high = at[:, 1].max() - share * np.ptp(at[:, 1])
            near = np.abs(at[:, 1] - high) < 12.0
            wide = np.ptp(np.flatnonzero(cloth[row])) / scale
            assert wide == pytest.approx(np.ptp(across[near]), abs=14.0), (key, share)


@pytest.mark.long
def test_laid_flat_each_place_has_the_colour_of_its_value(tab: Tab) -> None:
    """The colours of the picture against those that the legend names, at vertices of the flat pieces."""
    flat, gap = of_page(tab, "flat", "<f4").reshape(-1, 2).astype(float), of_page(tab, "gap", "<f4").astype(float)
    tab.press("f")
    tab.press("4")
    tab.press("p")
    picture = painted(tab)
    tab.press("p")
    legend = tab.value(
        "[...document.querySelectorAll('#legend span')].map(s => [parseFloat(s.textContent), s.style.background])"
    )
    stops = np.array([value for value, _ in legend])
    colours = np.array([[float(v) for v in re.findall(r"\d+", text)[:3]] for _, text in legend])
    wanted = np.column_stack([np.interp(gap, stops, colours[:, k]) for k in range(3)])
    inked = (picture < 250.0).any(axis=2)
    rows, columns = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
    x = columns[0] + (flat[:, 0] - flat[:, 0].min()) / np.ptp(flat[:, 0]) * (columns[-1] - columns[0])
    y = rows[0] + (flat[:, 1].max() - flat[:, 1]) / np.ptp(flat[:, 1]) * (rows[-1] - rows[0])
    found = picture[np.rint(y).astype(int), np.rint(x).astype(int)]
    inside = np.setdiff1d(np.arange(len(flat)), of_page(tab, "lines", "<u4"))  # not under the black lines
    right = inside[np.abs(found - wanted)[inside].max(axis=1) < 25.0]
    assert len(right) > 0.95 * len(inside)
    assert np.ptp(gap[right]) > 10.0


@pytest.mark.long
def test_two_sizes_stand_side_by_side_in_one_scale(tab: Tab) -> None:
    """A millimetre is as many points of the picture on both, worn and laid flat, and they hang from one height."""
    for keys in ("f1", "p"):
        for key in keys:
            tab.press(key)
        scales, tops = [], []
        for k in range(2):
            name, size = ("flat", 2) if keys == "p" else ("at", 3)
            at = of_page(tab, name, "<f4", k).reshape(-1, size).astype(float)
            picture = painted(tab, k)
            cloth = np.flatnonzero((picture[:, :, 2] > picture[:, :, 0] + 15.0).any(axis=1))
            scales.append((cloth[-1] - cloth[0]) / np.ptp(at[:, 1]))
            tops.append(cloth[0] + scales[-1] * at[:, 1].max())
        assert scales[0] == pytest.approx(scales[1], rel=0.01), keys
        assert tops[0] == pytest.approx(tops[1], abs=4.0), keys
    tab.press("p")


@pytest.mark.long
def test_the_named_places_are_marked_on_the_flat_pattern(tab: Tab) -> None:
    """Each number stands where its vertex lies on the flat pieces, found from the box of what is painted."""
    flat = of_page(tab, "flat", "<f4").reshape(-1, 2).astype(float)
    spots = tab.value("JSON.parse(document.getElementById('garments').textContent)[0].spots")
    tab.press("f")
    tab.press("4")
    tab.press("p")
    inked = (painted(tab) < 250.0).any(axis=2)
    ratio = tab.value("document.querySelector('canvas').width / document.querySelector('canvas').clientWidth")
    labels = tab.value(
        "[...document.querySelector('figure').querySelectorAll('.spot')].filter(s => !s.hidden)"
        ".map(s => [s.textContent, parseFloat(s.style.left), parseFloat(s.style.top)])"
    )
    tab.press("p")
    rows, columns = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
    low, wide = flat.min(axis=0), np.ptp(flat, axis=0)
    assert [name for name, *_ in labels] == [name for name, *_ in spots]
    assert sum(kind == "tight" for *_, kind in spots) <= 5
    assert sum(kind == "loose" for *_, kind in spots) == 5
    for (_, x, y), (name, vertex, _) in zip(labels, spots, strict=True):
        wanted = columns[0] + (flat[vertex, 0] - low[0]) / wide[0] * (columns[-1] - columns[0])
        assert x * ratio == pytest.approx(wanted, abs=3.0), name
        wanted = rows[0] + (low[1] + wide[1] - flat[vertex, 1]) / wide[1] * (rows[-1] - rows[0])
        assert y * ratio == pytest.approx(wanted, abs=3.0), name


def _lab(colour: Array) -> Array:
    """CIELAB of linear light (CIE 15, sRGB primaries of IEC 61966-2-1, D65; both from memory)."""
    xyz = colour @ np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]).T
    share = xyz / np.array([0.9505, 1.0, 1.089])
    f = np.where(share > 0.008856, np.cbrt(np.maximum(share, 0.0)), 7.787 * share + 16 / 116)
    return np.asarray([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("lack", ["none", "protan", "deutan", "tritan"])
def test_steps_of_the_palettes_are_told_apart_without_a_kind_of_cone(lack: str) -> None:
    """Simulated by the matrices of Machado, Oliveira and Fernandes (A physiologically-based model for simulation of
    colour vision deficiency, 2009, severity 1.0, from memory): steps next to each other, and tight and loose of the
    same amount, are at least 10 apart in CIELAB; 2.3 is the least that is seen (Mahy 1994, from memory)."""
    seen = {
        "none": np.eye(3),
        "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
        "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]],
        "tritan": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.3039]],
    }
    script = files("flatcut.formats").joinpath("worn_page.js").read_text("utf-8")
    for name in ("STRAIN", "GAP"):
        rows = re.findall(r'\[(-?\d+), "#(\w{6})"\]', script.split(f"const {name} = ")[1].split(";")[0])
        found = {}
        for value, text in rows:
            light = np.array([int(text[k : k + 2], 16) / 255 for k in (0, 2, 4)])
            light = np.where(light > 0.04045, ((light + 0.055) / 1.055) ** 2.4, light / 12.92)
            found[int(value)] = _lab(np.clip(np.asarray(seen[lack]) @ light, 0.0, 1.0))
        values = list(found)
        pairs = [*pairwise(values), *((v, -v) for v in values if v > 0 and -v in found)]
        for a, b in pairs:
            assert np.linalg.norm(found[a] - found[b]) > 10.0, (name, a, b)


def test_a_lesson_ends_with_a_drawing_of_it_worn(tmp_path: Path) -> None:
    """Front, side and back: as wide and as long as the skirt came to lie, and what lies behind is not drawn."""
    recipe, page = tmp_path / "skirt.recipe", tmp_path / "skirt.html"
    recipe.write_text("block skirt --size=bust-90\n")
    assert main(["lesson", str(recipe), "--worn", "-o", str(page)]) == 0
    section = page.read_text("utf-8").split('id="worn"')[1]
    assert "replaces no toile" in section
    assert re.findall(r">(front|side|back)<", section) == ["front", "side", "back"]
    found, _ = shown("block skirt --size=bust-90")
    for view, axis in zip(views(found), (0, 2, 0), strict=True):
        at = np.vstack(view.cloth + view.seams)
        wide = 2 * np.abs(found.at[:, 0]).max() if axis == 0 else np.ptp(found.at[:, 2])
        assert np.ptp(at[:, 0]) == pytest.approx(wide, abs=8.0), view.name
        assert np.ptp(at[:, 1]) == pytest.approx(np.ptp(found.at[:, 1]), abs=8.0), view.name
    # a dart behind is seen from behind alone
    sewn = found.sewn
    k = next(k for k, copy in enumerate(sewn.copies) if sewn.cells[copy.piece].piece.name == "skirt-back")
    cells = sewn.cells[sewn.copies[k].piece]
    (legs,) = [both for name, both in cells.legs.items() if name == cells.piece.darts[0].name]
    spot = found.at[sewn.joined[sewn.first[k] + legs[0][-2]]]
    lines = {view.name: np.vstack(view.seams) for view in views(found)}
    for name, sees in (("back", True), ("front", False)):
        away = np.linalg.norm(np.abs(lines[name]) - np.abs(spot[:2]), axis=1).min()
        assert (away < 6.0) == sees, (name, away)
