"""`flatcut OPERATION`: read a drawing, perform one operation, write the drawing."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import replace

from flatcut.arguments import Words, build, split
from flatcut.cli.telling import taken_flag, tell_findings
from flatcut.errors import UsageError
from flatcut.files import read_bytes, read_waiting, same_file, write_bytes
from flatcut.formats.opening import as_svg
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.operations.operation import Done, load

MAKERS = {"dxf": "exchange", "pdf": "print", "html": "lesson"} | dict.fromkeys(("png", "jpg", "json", "csv"), "")
"""What makes files of other kinds, by their endings; '' where no command does so of a drawing alone."""


def edit(name: str, words: Sequence[str]) -> int:
    """Perform the operation `name` on one drawing."""
    found = split(words)
    in_place = taken_flag(found, "in-place")
    as_json = taken_flag(found, "json")
    operation = build(load(name), found.targets, found.options, units=found.units, bare=found.bare)
    source, output = ends(found, in_place=in_place)
    refuse_other_kind(name, output)
    anew = source == "-" and operation.begins
    data = read_waiting() if anew else read_bytes(source)
    if anew and not data:
        document, pattern, findings = new_drawing()
    else:
        called = "standard input" if source == "-" else source
        svg, said = as_svg(data, name=called)
        if in_place and svg is not data:
            raise UsageError(
                f"{source} is no SVG, and what comes of it is; name another file with -o instead of --in-place"
            )
        data = svg
        document, pattern, findings = read(data, name=called)
        findings = [*said, *findings]
    done = operation.perform(pattern)
    result = write(document, done.pattern) if done.changed else data
    if done.changed or found.output or in_place:
        write_bytes(output, result, over=data if in_place else None)
    tell_findings(findings)
    tell(done, document.notes, as_json=as_json)
    tell_findings(document.faults)
    return 1 if findings or document.faults else 0


def refuse_other_kind(name: str, output: str) -> None:
    """Raise where the name of the output says that it is something else than a drawing.

    >>> refuse_other_kind("edge", "a.PDF")
    Traceback (most recent call last):
        ...
    flatcut.errors.UsageError: what edge makes is an SVG drawing; write it to a .svg file, then: flatcut print -o a.PDF
    """
    ending = output.lower().rpartition(".")[2]
    if ending in MAKERS:
        then = f", then: flatcut {MAKERS[ending]} -o {output}" if MAKERS[ending] else ""
        raise UsageError(f"what {name} makes is an SVG drawing; write it to a .svg file{then}")


def ends(found: Words, *, in_place: bool) -> tuple[str, str]:
    """Where a drawing is read from and written to. Errors: UsageError when the input would be overwritten unasked."""
    if len(found.inputs) > 1:
        raise UsageError("-i is given twice; give one drawing, or bring several into one with `flatcut collect`")
    source = found.inputs[0] if found.inputs else "-"
    if in_place:
        if source == "-" or found.output:
            raise UsageError("--in-place goes with -i IN.svg and without -o")
        return source, source
    output = found.output or "-"
    if "-" not in (source, output) and same_file(source, output):
        raise UsageError(f"-o {output} would overwrite the input; write --in-place instead to mean that")
    return source, output


def tell(done: Done, notes: Sequence[str] = (), *, as_json: bool = False) -> None:
    """Print the figures and warnings of an operation on standard error, and what the cut lines say of their shape."""
    warnings = tuple(dict.fromkeys((*done.step.warnings, *notes)))
    if as_json:
        from flatcut.formats.json_pieces import step_record

        record = step_record(replace(done.step, warnings=warnings))
        print(json.dumps(record, ensure_ascii=False), file=sys.stderr)
        return
    for figure in done.step.figures:
        print(figure, file=sys.stderr)
    for warning in warnings:
        print(f"warning: {warning}", file=sys.stderr)
