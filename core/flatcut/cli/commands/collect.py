"""`collect`: drawings brought together."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from flatcut.arguments import Words
from flatcut.cli.commands.command import Command
from flatcut.cli.editing import refuse_other_kind
from flatcut.cli.telling import tell_findings
from flatcut.collecting import collected
from flatcut.declared.fields import flag
from flatcut.errors import UsageError
from flatcut.files import read_bytes, same_file, write_bytes
from flatcut.formats.opening import read
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.write import write


@dataclass(frozen=True, kw_only=True)
class Collect(Command):
    """Bring the pieces of several drawings into one new document."""

    usage: ClassVar[str] = "flatcut collect A.svg B.svg... [-o OUT.svg]"
    files: ClassVar[bool] = True

    prefix: bool = flag(
        False, "the file's name goes in front of each piece's, so that equal names can stand side by side"
    )

    def run(self, found: Words) -> int:
        """Write the new document; 1 where reading one of the drawings found something."""
        inputs = [*found.inputs, *found.targets]
        if len(inputs) < 2:
            raise UsageError("collect takes two drawings or more: flatcut collect A.svg B.svg -o C.svg")
        output = found.output or "-"
        if any(output != "-" and same_file(source, output) for source in inputs):
            raise UsageError(f"-o {output} would overwrite an input; name another file")
        refuse_other_kind("collect", output)
        parts, noted = [], False
        for source in inputs:
            _, pattern, findings = read(read_bytes(source), name=source)
            tell_findings(findings)
            noted |= bool(findings)
            parts.append((Path(source).stem, pattern))
        drawing, _, _ = new_drawing()
        write_bytes(output, write(drawing, collected(parts, prefix=self.prefix)))
        return 1 if noted else 0
