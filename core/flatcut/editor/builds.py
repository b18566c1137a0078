"""The builds in which the editor comes: where each keeps its program and a person's folder, how its Python is reached.

A build is found by what can be seen: its program, or the folder that it made. What is told here of Flatpak, Snap,
AppImage, Windows and macOS is from their own documents and the editor's source; the README says what was tried.
"""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

APP = "org.inkscape.Inkscape"
"""The editor's name as a Flatpak, and as an application of macOS."""

FLATPAK, SNAP, APPIMAGE, WINDOWS, MACOS, PLAIN = "Flatpak", "Snap", "AppImage", "Windows", "macOS", "package"
PERMIT = f"flatpak override --user --talk-name=org.freedesktop.Flatpak {APP}"
"""What lets a Flatpak start a program outside of it."""


@dataclass(frozen=True, kw_only=True)
class Build:
    """kind: of the ones above; run: the command that starts the editor, () where only its folder was found.

    profile: the person's folder, None where the editor says it; python: the command that starts the Python of the
    editor's scripts, to which `{environment}` in a word is the variables that they are given; () where it is found
    on the editor's PATH, or cannot be asked. outside: what starts a program outside of the build, None where nothing
    can. needs: what a person has to do for that first.
    """

    kind: str = PLAIN
    run: tuple[str, ...] = ()
    profile: Path | None = None
    python: tuple[str, ...] = ()
    askable: bool = True
    outside: tuple[str, ...] | None = ()
    needs: str = ""

    @property
    def named(self) -> str:
        """What to call it."""
        return {
            PLAIN: "the editor of this system",
            WINDOWS: "the editor for Windows",
            MACOS: "the editor for macOS",
        }.get(self.kind, f"the editor as {self.kind}")


THE_SYSTEMS = Build()
"""A package of the system: its Python is the first on the editor's PATH."""


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where it is looked: home and root of the files, the variables, and the platform, as Python names it."""

    home: Path = field(default_factory=Path.home)
    root: Path = Path("/")
    variables: Mapping[str, str] = field(default_factory=lambda: os.environ)
    platform: str = sys.platform

    def which(self, name: str) -> str:
        """The program of that name, '' for none."""
        return shutil.which(name, path=self.variables.get("PATH", "")) or ""


def builds(place: Place | None = None) -> list[Build]:
    """Every build that can be seen, that of the system's own command first."""
    place = place or Place()
    look = {"win32": _windows, "darwin": _macos}.get(place.platform, _linux)
    return [*_on_path(place), *look(place)]


def of_program(program: str) -> Build:
    """The build that a program belongs to, by its path.

    >>> of_program("/snap/bin/inkscape").kind, of_program("Inkscape-1.4.AppImage").kind, of_program("inkscape").kind
    ('Snap', 'AppImage', 'package')
    """
    if "/snap/" in program:
        return _snap(shutil.which("snap") or "")
    if Path(program).name == APP:
        return _flatpak(("flatpak",))
    if program.lower().endswith(".appimage"):
        return Build(kind=APPIMAGE, run=(program,), askable=False)
    kind = {"win32": WINDOWS, "darwin": MACOS}.get(sys.platform, PLAIN)
    return Build(kind=kind, run=(program,))


def of_folder(profile: Path, known: Sequence[Build]) -> Build:
    """The build that a person's folder belongs to: one that was found, else by the folder's path."""
    for build in known:
        if build.profile is not None and build.profile == profile:
            return build
    text = profile.as_posix()
    if f"/.var/app/{APP}/" in text:
        return _flatpak(("flatpak",) if shutil.which("flatpak") else ())
    if "/snap/inkscape/" in text:
        return _snap(shutil.which("snap") or "")
    plain = next((build for build in known if build.profile is None), None)
    return plain or Build(kind=PLAIN, askable=False)


def _on_path(place: Place) -> Iterator[Build]:
    found = place.which("inkscape")
    if "/snap/" in found:
        yield _snap(place.which("snap"))
    elif found:
        yield of_program(found)


def _linux(place: Place) -> Iterator[Build]:
    """Flatpak and Snap by their folders, AppImages by the file."""
    profile = place.home / ".var" / "app" / APP / "config" / "inkscape"
    exported = [place.home / ".local/share/flatpak/exports/bin", place.root / "var/lib/flatpak/exports/bin"]
    if profile.parents[1].is_dir() or any((folder / APP).exists() for folder in exported):
        flatpak = place.which("flatpak")
        yield _flatpak((flatpak,) if flatpak else (), profile)
    snap = place.home / "snap" / "inkscape"
    if snap.is_dir() and "/snap/" not in place.which("inkscape"):
        yield _snap(place.which("snap"), snap / "common" / ".config" / "inkscape")
    for folder in ("Applications", "Downloads", "Desktop", "bin", ".local/bin"):
        for file in sorted((place.home / folder).glob("[Ii]nkscape*.[Aa]pp[Ii]mage"), reverse=True)[:1]:
            yield Build(kind=APPIMAGE, run=(str(file),), profile=place.home / ".config" / "inkscape", askable=False)


def _flatpak(start: tuple[str, ...], profile: Path | None = None) -> Build:
    ask = (*start, "run", "--command=python3", "{environment:--env=}", APP) if start else ()
    return Build(
        kind=FLATPAK,
        run=(*start, "run", APP) if start else (),
        profile=profile,
        python=ask,
        askable=bool(start),
        outside=("flatpak-spawn", "--host"),
        needs=PERMIT,
    )


def _snap(starter: str, profile: Path | None = None) -> Build:
    """starter: the program `snap`, '' for none."""
    inside = ("run", "--shell", "inkscape", "-c", 'exec env "$@"', "env", "{environment:}", "python3")
    return Build(
        kind=SNAP,
        run=(starter, "run", "inkscape") if starter else (),
        profile=profile,
        python=(starter, *inside) if starter else (),
        askable=bool(starter),
        outside=None,
        needs="a Snap starts no other Python; take the editor as a package of your system or as an AppImage",
    )


def _windows(place: Place) -> Iterator[Build]:
    """The program's folder, and that of the Store."""
    roaming = place.variables.get("APPDATA", "")
    profile = Path(roaming) / "inkscape" if roaming else place.home / "AppData" / "Roaming" / "inkscape"
    for variable in ("ProgramFiles", "ProgramW6432", "LOCALAPPDATA"):
        folder = place.variables.get(variable, "")
        program = (
            Path(folder) / ("Programs" if variable == "LOCALAPPDATA" else "") / "Inkscape" / "bin" / "inkscape.com"
        )
        if folder and program.exists():
            yield Build(kind=WINDOWS, run=(str(program),), profile=profile)
            return
    local = place.variables.get("LOCALAPPDATA", "")
    for store in sorted(Path(local).glob("Packages/*.Inkscape_*/LocalCache/Roaming/inkscape")) if local else ():
        yield Build(kind=WINDOWS, profile=store, askable=False)
        return
    if profile.is_dir():
        yield Build(kind=WINDOWS, profile=profile, askable=False)


def _macos(place: Place) -> Iterator[Build]:
    """The application, in the folder of all or in one's own."""
    profile = place.home / "Library" / "Application Support" / APP / "config" / "inkscape"
    for folder in (place.root / "Applications", place.home / "Applications"):
        contents = folder / "Inkscape.app" / "Contents"
        if (contents / "MacOS" / "inkscape").exists():
            python = contents / "Resources" / "bin" / "python3"
            ask = (str(python),) if python.exists() else ()
            yield Build(kind=MACOS, run=(str(contents / "MacOS" / "inkscape"),), profile=profile, python=ask)
            return
    if profile.is_dir():
        yield Build(kind=MACOS, profile=profile, askable=False)
