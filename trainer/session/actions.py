"""Everything that a player can do to a practice session, as frozen values: keys, pedal and commands all make these.

`PracticeSession.apply` carries one out. What it changes in the state is in `transitions`; `NAMED` gives the actions of
the stand's keys by the names that the screens' table has for them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from trainer.playback.piece import Loop
from trainer.practice.verdict import Decides, Outcome
from trainer.session.choices import Method, Pane, View
from trainer.session.loop_moves import LoopMove

# -- playing ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class StartStop:
    """Start when nothing plays, else stop."""


@dataclass(frozen=True, slots=True)
class Start:
    """Start, with the count-in if there is one."""


@dataclass(frozen=True, slots=True)
class Stop:
    """Stop where it is; after a pass that counts already, at the top of the next one."""


@dataclass(frozen=True, slots=True)
class Finish:
    """Play the pass to its end, then stop; stop at once while it is counted in."""


@dataclass(frozen=True, slots=True)
class FromTheTop:
    """Play from the top of the loop, or go back there when nothing plays."""


@dataclass(frozen=True, slots=True)
class JudgePass:
    """Say how a pass went: the one that plays when half of it is over, else the one before."""

    outcome: Outcome


@dataclass(frozen=True, slots=True)
class SetDecides:
    """Let the key, the take or both decide how a pass went while the session listens."""

    decides: Decides | None = None
    """None: the next of the three."""


# -- tempo, loop and method -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SetTempo:
    """Play at a tempo from now on; the ladder follows. Brought into 20 to 400 bpm, to a hundredth."""

    bpm: Fraction


@dataclass(frozen=True, slots=True)
class ChangeTempo:
    """Play faster or slower."""

    by: Fraction | int
    """In bpm; + is faster."""


@dataclass(frozen=True, slots=True)
class SetLoop:
    """Loop these bars."""

    loop: Loop


@dataclass(frozen=True, slots=True)
class MoveLoop:
    """Widen, narrow or move the loop."""

    move: LoopMove


@dataclass(frozen=True, slots=True)
class LoopFrom:
    """Loop from a bar on; None: from the chosen one."""

    bar: int | None = None


@dataclass(frozen=True, slots=True)
class LoopTo:
    """Loop up to and with a bar; None: the chosen one."""

    bar: int | None = None


@dataclass(frozen=True, slots=True)
class ChooseBar:
    """Choose a bar by its index, or one that lies so many bars on."""

    bar: int | None = None
    by: int = 0


@dataclass(frozen=True, slots=True)
class UseMethod:
    """Practise the loop in another way; a burst takes the chosen bar."""

    method: Method


@dataclass(frozen=True, slots=True)
class Begin:
    """Practise what is loaded as a plan asks for it, whatever was chosen for it before."""

    method: Method
    bar: int | None = None
    """The bar to loop, or the first one, counted from 1; None for the whole riff."""
    tempo_bpm: float | None = None
    """The tempo of plain looping; the ladder has its own."""
    last_bar: int | None = None
    """The last bar to loop; None for one bar alone."""


# -- parts ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ChoosePart:
    """Choose a part (or the click, or the guide) by its index; the chosen one once more, and it is heard or not."""

    index: int


@dataclass(frozen=True, slots=True)
class ChoosePartBy:
    """Choose the part that comes so many places later."""

    by: int


@dataclass(frozen=True, slots=True)
class Hear:
    """Hear a part that is silent, and not one that is heard."""

    part: str = ""
    """Empty: the chosen one."""


@dataclass(frozen=True, slots=True)
class HearOnly:
    """Hear one part alone, and the click if that is heard; once more, and all are heard."""

    part: str = ""
    """Empty: the chosen one."""


@dataclass(frozen=True, slots=True)
class HearAll:
    """Hear all parts and the click."""


@dataclass(frozen=True, slots=True)
class HearOthers:
    """Hear everyone but me."""


@dataclass(frozen=True, slots=True)
class ChangeLevel:
    """Make a part, the click or the guide louder or softer."""

    by_db: float
    part: str = ""
    """Empty: the chosen one."""


@dataclass(frozen=True, slots=True)
class TakePart:
    """Make a part mine."""

    part: str = ""
    """Empty: the chosen one."""


@dataclass(frozen=True, slots=True)
class SwapGuitars:
    """Let the guitars trade places now."""


@dataclass(frozen=True, slots=True)
class ToggleSwapping:
    """Let the guitars trade places after every pass, or not."""


@dataclass(frozen=True, slots=True)
class ToggleGuide:
    """Play my part along, softer with every clean pass, or not."""


# -- click and count-in -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SetClick:
    """Click in a pattern."""

    pattern: str
    """Its name; empty: no click."""


@dataclass(frozen=True, slots=True)
class NextClick:
    """Click in the pattern that comes so many places later; none is one of them."""

    by: int = 1


@dataclass(frozen=True, slots=True)
class SetSilentBars:
    """Let the click rest in some bars: "2:1" is two bars with it, one without; empty for never."""

    bars: str | None = None
    """None: the next setting."""


@dataclass(frozen=True, slots=True)
class SetCountIn:
    """Count in some bars before playing, 0 to 4."""

    bars: int | None = None
    """None: the next setting."""


@dataclass(frozen=True, slots=True)
class ToggleCountInBetween:
    """Count in every pass, or play straight on."""


# -- what is shown ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SetView:
    """Show other parts."""

    view: View | None = None
    """None: the next view."""


@dataclass(frozen=True, slots=True)
class ToggleQuality:
    """Name intervals in full, or by their number alone."""


@dataclass(frozen=True, slots=True)
class ShowPanes:
    """Show panes or hide them; None leaves one as it is."""

    neck: Pane | None = None
    prose: Pane | None = None
    explain: Pane | None = None


SessionAction = (
    StartStop | Start | Stop | Finish | FromTheTop | JudgePass | SetDecides
    | SetTempo | ChangeTempo | SetLoop | MoveLoop | LoopFrom | LoopTo | ChooseBar | UseMethod | Begin
    | ChoosePart | ChoosePartBy | Hear | HearOnly | HearAll | HearOthers | ChangeLevel | TakePart
    | SwapGuitars | ToggleSwapping | ToggleGuide
    | SetClick | NextClick | SetSilentBars | SetCountIn | ToggleCountInBetween
    | SetView | ToggleQuality | ShowPanes
)  # fmt: skip

NAMED: Mapping[str, SessionAction] = {
    "start": StartStop(),
    "again": FromTheTop(),
    "count_in": SetCountIn(),
    "between": ToggleCountInBetween(),
    "clean": JudgePass(Outcome.CLEAN),
    "missed": JudgePass(Outcome.MISSED),
    "decides": SetDecides(),
    "faster": ChangeTempo(1),
    "slower": ChangeTempo(-1),
    "faster_5": ChangeTempo(5),
    "slower_5": ChangeTempo(-5),
    "next_bar": ChooseBar(by=1),
    "previous_bar": ChooseBar(by=-1),
    "loop_start": LoopFrom(),
    "loop_end": LoopTo(),
    "widen": MoveLoop(LoopMove.WIDEN),
    "narrow": MoveLoop(LoopMove.NARROW),
    "move_on": MoveLoop(LoopMove.ON),
    "move_back": MoveLoop(LoopMove.BACK),
    "whole_riff": MoveLoop(LoopMove.WHOLE),
    "next_part": ChoosePartBy(1),
    "previous_part": ChoosePartBy(-1),
    "hear": Hear(),
    "just": HearOnly(),
    "all": HearAll(),
    "others": HearOthers(),
    "louder": ChangeLevel(1),
    "softer": ChangeLevel(-1),
    "mine": TakePart(),
    "swap": SwapGuitars(),
    "swap_each": ToggleSwapping(),
    "click": NextClick(1),
    "click_back": NextClick(-1),
    "quiet": SetSilentBars(),
    "plain": UseMethod(Method.PLAIN),
    "ladder": UseMethod(Method.LADDER),
    "build_front": UseMethod(Method.FRONT),
    "build_end": UseMethod(Method.END),
    "burst": UseMethod(Method.BURST),
    "guide": ToggleGuide(),
    "view": SetView(),
    "quality": ToggleQuality(),
}
"""The actions that need nothing but the state, by their names in the screens' action table."""
