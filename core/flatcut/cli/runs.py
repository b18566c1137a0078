"""A recipe replayed on one drawing or for one body, and many such runs, each on its own."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from flatcut.cli.following import followed, reports_of
from flatcut.cli.journal import Entry, Journal, hash_of, mark_of, write_summary
from flatcut.cli.sizing import file_of, sized
from flatcut.cli.spreading import LOST, shown, spread
from flatcut.cli.telling import tell_findings
from flatcut.errors import FlatcutError, OutputError
from flatcut.files import read_bytes, write_bytes
from flatcut.findings import plural
from flatcut.formats.opening import read
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.write import write
from flatcut.recipe import begins, read_recipe, replay

TOLD = 40
"""So many bodies are told of one by one; of more only those that want looking at, the others stand in the summary."""


@dataclass(frozen=True, kw_only=True)
class Job:
    """One run. source: '-' for none; body: measurements that go before the recipe's own, or why there are none; size:
    their name, if any; then: the reports that follow, as typed.
    """

    recipe: str
    source: str
    output: str
    body: Mapping[str, float] | FlatcutError = field(default_factory=dict)
    size: str = ""
    then: str = ""

    @property
    def name(self) -> str:
        """What it is told under."""
        return f"size {self.size}" if self.size else self.source

    @property
    def mark(self) -> str:
        """A mark of all that its files follow from."""
        body = str(self.body) if isinstance(self.body, FlatcutError) else dict(self.body)
        return mark_of(self.recipe, self.size, body, self.then)


@dataclass(frozen=True, kw_only=True)
class Ran:
    """What came of a run: its error, '' for none; else the drawing, the one before it, what cannot be drawn, and what
    the reports made of it: the end of the name and the bytes of each file.

    lost: its process was ended from outside, so that another time it may come out.
    """

    error: str = ""
    data: bytes = b""
    before: bytes = b""
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    reported: tuple[str, ...] = ()
    made: tuple[tuple[str, bytes], ...] = ()
    noted: bool = False
    lost: bool = False

    def tell(self) -> None:
        """Print what it has to say on standard error."""
        tell_findings(self.notes)
        for warning in (*self.warnings, *self.reported):
            print(f"warning: {warning}", file=sys.stderr)
        tell_findings(self.faults)


def run_all(work: Sequence[Job], jobs: int) -> int:
    """Every run, and how each has ended; those that can be done are done. The drawings are written here, one after the
    other as they come, so that a run that is stopped knows which ones are.
    """
    told: list[str] = []
    failed = noted = 0
    for job, ran in zip(work, _spread(work, jobs), strict=True):
        ran.tell()
        error = ran.error
        if not error:
            try:
                write_bytes(job.output, ran.data)
            except FlatcutError as failure:
                error = str(failure)
        failed += bool(error)
        noted += ran.noted
        told.append(f"{job.name}: {error or ('done, but see the notes' if ran.noted else 'done')}")
    print("\n".join(told), file=sys.stderr)
    return _code(len(work), failed, noted)


def run_sizes(
    recipe: str, style: str, bodies: Mapping[str, Mapping[str, float] | FlatcutError], folder: Path,
    *, jobs: int, then: str = "", anew: bool = False, scheduler: str = "",
) -> int:  # fmt: skip
    """The recipe for every body of a table. What an earlier run has done here, from the same, is not done again.

    Files that somebody has changed since are left alone and said. scheduler: the address of one whose workers do it,
    instead of processes of this machine. Errors: OutputError where the journal cannot be kept.
    """
    work = [
        Job(recipe=recipe, source="-", output=str(folder / file_of(style, size)), body=body, size=size, then=then)
        for size, body in bodies.items()
    ]
    stem = Path(style).stem
    with Journal(folder, stem) as journal:
        before = {} if anew else {job.size: done for job in work if (done := journal.done(job.size, job.mark))}
        left = [job for job in work if job.size not in before]
        if before:
            print(f"{len(before)} of {plural(len(work), 'size')} were done before", file=sys.stderr)
        entries = dict(before)
        for job, ran in zip(left, _spread(left, jobs, scheduler), strict=True):
            if len(work) <= TOLD:
                ran.tell()
            entry = _kept(job, ran, style, folder, journal, anew=anew)
            entries[job.size] = entry
            if not ran.lost:
                journal.add(entry)
        found = [entries[job.size] for job in work]
        if all(one.error for one in found) and not before:
            journal.forget()
        else:
            write_summary(folder, stem, found)
    _tell(found)
    return _code(len(found), sum(bool(one.error) for one in found), sum(one.noted for one in found))


def _kept(job: Job, ran: Ran, style: str, folder: Path, journal: Journal, *, anew: bool) -> Entry:
    """Write what a run has made; what became of it."""
    said = (*ran.notes, *ran.warnings, *ran.faults, *ran.reported)
    if ran.error:
        return Entry(name=job.size, asked=job.mark, error=ran.error, said=said)
    made = [(file_of(style, job.size, ending), data) for ending, data in ((".svg", ran.data), *ran.made)]
    try:
        for file, _ in made:
            if not anew and journal.changed(job.size, file):
                raise OutputError(f"{folder / file} was changed after it was made here; move it away, or say --anew")
        for file, data in made:
            write_bytes(str(folder / file), data)
    except FlatcutError as failure:
        # the mark of nothing: another time it is tried again
        return Entry(name=job.size, asked="", error=str(failure), said=said, files=_known(journal, job.size))
    files = {file: hash_of(data) for file, data in made}
    return Entry(name=job.size, asked=job.mark, noted=ran.noted, said=said, files=files)


def _known(journal: Journal, name: str) -> Mapping[str, str]:
    entry = journal.entries.get(name)
    return entry.files if entry is not None else {}


def _tell(entries: Sequence[Entry]) -> None:
    few = len(entries) <= TOLD
    for entry in entries:
        if few or entry.error or entry.noted:
            print(f"size {entry.name}: {entry.error or entry.outcome}", file=sys.stderr)
    if not few:
        done = sum(not entry.error for entry in entries)
        print(f"{done} of {plural(len(entries), 'size')} done; the summary says more", file=sys.stderr)


def _code(count: int, failed: int, noted: int) -> int:
    if failed == count:
        return 2
    return 1 if failed or noted else 0


def _spread(work: Sequence[Job], jobs: int, scheduler: str = "") -> Iterator[Ran]:
    if scheduler and work:
        from flatcut.cli.cluster import clustered

        return shown(clustered(_tried, work, scheduler, lost=_lost), len(work), "done")
    return shown(spread(_tried, work, jobs, lost=_lost), len(work), "done")


def _tried(job: Job) -> Ran:
    """A run whose error stops no other."""
    try:
        return run_one(job)
    except FlatcutError as error:
        return Ran(error=str(error))


def _lost(job: Job) -> Ran:
    return Ran(error=LOST, lost=True)


def run_one(job: Job) -> Ran:
    """Do one run. Errors: FlatcutError."""
    if isinstance(job.body, FlatcutError):
        raise job.body
    lines = read_recipe(job.recipe)
    drafts = bool(lines) and (job.size or begins(lines))
    before = b""
    if drafts and job.source == "-":
        drawing, pattern, findings = new_drawing()
    else:
        before = read_bytes(job.source)
        drawing, pattern, findings = read(before, name=job.source)
    notes = [str(finding) for finding in findings]
    if job.body:
        if not job.size:
            sizes = [getattr(line.operation, "size", "") for line in lines if line.operation.command == "style"]
            notes += [
                f"size {size} of the recipe is left out, as other measurements go before it; name theirs with style"
                for size in sizes
                if size
            ]
        lines, pattern = sized(lines, pattern, job.size, job.body)
    count = len(pattern.steps)
    try:
        after = replay(lines, pattern)
    except FlatcutError:
        tell_findings(notes)  # what reading found may be the cause
        raise
    where = f"{job.name}: " if job.size else ""
    data = write(drawing, after)
    said = {warning for step in after.steps[count:] for warning in step.warnings}
    warnings = [f"{where}{step.line}: {warning}" for step in after.steps[count:] for warning in step.warnings]
    warnings += [f"{where}{note}" for note in drawing.notes if note not in said]
    reports = followed(reports_of(job.then), data, name=job.output, title=Path(job.output).stem)
    return Ran(
        data=data,
        before=before,
        notes=tuple(notes),
        warnings=tuple(warnings),
        faults=tuple(where + fault for fault in drawing.faults),
        reported=tuple(where + said for said in reports.said),
        made=reports.files,
        noted=bool(drawing.faults) or reports.noted,
    )
