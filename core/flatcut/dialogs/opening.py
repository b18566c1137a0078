"""A choice of the editor's Open: files of other programs that the script makes drawings of."""

from __future__ import annotations

COMMAND, ENDING, MEDIA = "open-dxf", ".dxf", "image/vnd.dxf"
"""What the script is told, the ending of the files, and their type (registered with IANA as image/vnd.dxf)."""
TITLE = "Pattern pieces or outlines, DXF"
TIP = "Open an exchange file (ASTM D6673) as pieces, or outlines drawn in DXF at true size."
