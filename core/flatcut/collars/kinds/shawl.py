"""`collar shawl`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from flatcut.collars.growing import grown, turned
from flatcut.collars.kinds.kind import Kind, fall_width, hidden, stand_height, turned_under
from flatcut.collars.neckline import Neckline, refuse_short
from flatcut.collars.pieces import Drafted
from flatcut.collars.shawl_lines import Wanted
from flatcut.declared.fields import length as mm
from flatcut.errors import Option, UsageError
from flatcut.geometry.length import length
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure
from flatcut.pattern.walking import drawn_length

LAPEL = 80.0
"""mm of the lapel at its widest, 6 to 10 cm (common practice, no source)."""
FACING, AT_SHOULDER = 80.0, 45.0
"""mm of the facing at the hem, 7 to 10 cm, and at the shoulder, 3.5 to 5 cm (common practice, no source)."""
TIGHT = 3.0
"""mm by which the outer edge may be shorter than what it lies on, stretched (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Shawl(Kind):
    """A collar that is part of the front and turns over in one line with it, from break point to centre back."""

    pieces: ClassVar[tuple[str, ...]] = ("shawl-facing",)

    height: float = stand_height()
    fall: float = fall_width()
    break_point: float | None = mm(
        None,
        ("break point", "along the centre from the neck, where it begins to turn", "half of the centre"),
        high=1500,
    )
    lapel: float = mm(LAPEL, ("width of the lapel", "at its widest, square to the roll line"), low=10, high=300)
    lean: float | None = mm(
        None,
        ("swung toward the shoulder by", "at the centre back; the more, the flatter it lies", "by the back neckline"),
        low=-30,
        high=150,
    )
    facing: float = mm(FACING, ("width of the facing", "at the hem"), low=20, high=400)
    facing_shoulder: float = mm(AT_SHOULDER, ("and at the shoulder", "from the neck on"), low=10, high=150)
    under: float = turned_under()

    def draft(self, neck: Neckline, uids: Uids, names: tuple[str, ...]) -> Drafted:
        """The front with its collar; the facing is drawn from it."""
        refuse_short(neck, 60.0)
        if not neck.run or len(neck.run) < 2:
            raise UsageError("a shawl collar is grown on to the front; name the neckline, such as back.neck+front.neck")
        if neck.beyond and not neck.free:
            raise UsageError("the front has a button stand; leave ", Option("extension"), " out, or draft it without")
        want = self._wanted(neck)
        short = run_sewn(neck.pattern, neck.run[:-1]) - want.back
        made = grown(neck, want, larger=self.under, short=short, widths=(self.facing, self.facing_shoulder), uids=uids)
        name = neck.pattern.piece_of(made.piece).name
        shawl = made.shawl
        less = want.over_back - shawl.over_back
        said = list(hidden(self.fall - self.height))
        if less > TIGHT:
            said.append(
                f"the outer edge is {less:.1f} mm shorter than the back that it lies on and rides up; lean it more"
            )
        return Drafted(
            pieces=(),
            seams=made.seams,
            grown=made,
            figures=(
                Figure(f"{name}.collar-neck", length(shawl.neck)),
                Figure(f"{name}.collar-centre", length(shawl.centre)),
                Figure(f"{name}.collar-edge", length(shawl.edge)),
                Figure("break point below the neck", want.below),
                Figure("swung toward the shoulder by", want.swung),
                Figure("outer edge from the centre back to the shoulder", shawl.over_back),
                Figure("the back that it lies on there", want.over_back),
            ),
            warnings=tuple(said),
        )

    def _wanted(self, neck: Neckline) -> Wanted:
        below = self.break_point
        if below is None:
            part = neck.run[-1]
            piece = neck.pattern.piece_of(part.piece)
            edge = piece.edge_of(part.of)
            centre = piece.after(edge) if not part.backwards else piece.edges[piece.edges.index(edge) - 1]
            below = drawn_length(centre) / 2
        return Wanted(
            back=neck.joints[-1],
            turn=turned(neck),
            stand=self.height,
            fall=self.fall,
            lapel=self.lapel,
            beyond=neck.beyond,
            below=below,
            lean=self.lean,
        )
