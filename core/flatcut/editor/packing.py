"""The plugin as one archive, which the editor's own window for extensions installs."""

from __future__ import annotations

import io
import sys
import tempfile
import zipfile
from pathlib import Path

from flatcut.dialogs.first_steps import COMMAND
from flatcut.editor.host import Host
from flatcut.editor.install import copied, noted, ready
from flatcut.editor.ways import OTHER
from flatcut.files import write_bytes

FIRST = f"flatcut/extensions/{COMMAND}.inx"
"""The editor calls a package by the id of its first dialog."""
NOT_PACKED = "setup.py"
"""Where the editor finds such a file it takes the archive for a Python package and hands it to pip."""
DAY = (1980, 1, 1, 0, 0, 0)
"""The day of every file in it: the same files give the same archive."""


def pack(host: Host | None, output: str, *, fetch: bool = True) -> list[str]:
    """Write the archive; what was done, as sentences.

    host: the editor whose Python it is for; None for any, then each document is handed to the Python that packs it.
    Errors: OutputError, InputError.
    """
    with tempfile.TemporaryDirectory() as folder:
        package = Path(folder) / "flatcut"
        copied(package)
        if host is None:
            way, said = OTHER, f"it hands each document to {sys.executable}, on this machine alone"
            noted(package, way)
        else:
            way, said = ready(host, package, fetch=fetch)
            noted(package, way, host.build)
        files = {path.relative_to(folder).as_posix(): path for path in sorted(package.rglob("*")) if path.is_file()}
        held = io.BytesIO()
        with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
            for name in sorted(files, key=lambda name: (name != FIRST, name)):
                if not name.endswith(NOT_PACKED):
                    entry = zipfile.ZipInfo(name, DAY)
                    entry.compress_type = zipfile.ZIP_DEFLATED
                    archive.writestr(entry, files[name].read_bytes())
    write_bytes(output, held.getvalue())
    return [
        f"{output} is written, {len(held.getvalue()) / 1e6:.1f} MB",
        said,
        "install it with Extensions > Manage Extensions",
    ]
