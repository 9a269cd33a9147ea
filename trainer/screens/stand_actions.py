"""What the stand's keys do: one method for each action of the table, most of them one line."""

from trainer.screens.stand_hearing import Hears
from trainer.screens.stand_looping import Loops
from trainer.screens.stand_playing import Plays
from trainer.screens.stand_takes import ShowsTakes
from trainer.screens.stand_ways import Ways


class StandActions(Plays, Loops, Hears, ShowsTakes, Ways):
    """The actions of the stand's screen that practising has."""
