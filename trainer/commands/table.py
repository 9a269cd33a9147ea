"""The commands of the command line: one row each. Nothing is imported here, so that help costs nothing."""

COMMANDS: tuple[tuple[str, str], ...] = (
    ("play", "play an exercise: loop it, slow it down, hear one part or all but one"),
    ("render", "write an exercise to an audio file or a MIDI file"),
    ("import", "make an exercise from a score in MusicXML"),
    ("export", "hand an exercise on as MusicXML or MIDI"),
    ("tracks", "make practice tracks of riffs: full band, without a part, a part alone, at five tempos"),
    ("list", "list the exercises"),
    ("show", "show an exercise's tab in the terminal"),
    ("check", "say what is wrong in exercise files"),
    ("tidy", "line up the tabs of exercise files"),
    ("new", "begin an exercise: a file with its counts laid out, ready to be filled"),
    ("read-tab", "make an exercise from plain tab, with its counts proposed"),
    ("explain", "tell what riffs are made of: intervals, modes, chords, rhythm, how two parts differ"),
    ("form", "show a whole exercise: riffs in order, keys, tempos, and the hardest joins"),
    ("compare", "set two riffs, parts, exercises or versions side by side: bars, beats, what differs"),
    ("harmonise", "compute a second guitar for a line"),
    ("finger", "find strings, frets, fingers and strokes for a line"),
    ("demand", "tell what a part asks of both hands, and where their limits are"),
    ("move", "put an exercise into another key, mode or tuning, as a new file"),
    ("today", "plan the minutes there are for practice"),
    ("listen", "play along and be told after each pass whether it was clean, by microphone or MIDI"),
    ("judge", "tell whether takes in audio or MIDI files are clean, and which stroke was late"),
    ("duo", "compare two guitarists' takes: who leads, how tightly, in which bars"),
    ("takes", "list the kept takes, hear, mark, compare, export or delete one"),
    ("calibrate", "measure how long sound takes from the output back to the input"),
    ("log", "read the record of practice, carry it out or bring it in"),
    ("goals", "list, set and give up goals, with when the record says they are reached"),
    ("assign", "keep what a teacher asks for in a file, list it, or take it away"),
    ("pack", "put exercises, assignments, takes and comments into one file to send"),
    ("unpack", "add what is in a set that somebody sent, list the sets, or take one away"),
    ("sounds", "list patches, click patterns and sound banks"),
    ("doctor", "say what works on this machine, and what to do about what does not"),
    ("completion", "print the completion script for a shell"),
)
"""Name and summary; the command's own module in this folder has its options and its work."""

USAGE = """\
twinspur: a practice trainer for twin-guitar metal

  twinspur                      open the trainer
  twinspur COMMAND [OPTIONS]    do one thing
  twinspur COMMAND --help       the options of a command

Commands:
"""

OPTIONS = """
Options:
  --help      show this
  --version   show the version
"""


def usage() -> str:
    """The text of `twinspur --help`."""
    width = max(len(name) for name, _ in COMMANDS)
    return USAGE + "".join(f"  {name:<{width}}  {summary}\n" for name, summary in COMMANDS) + OPTIONS
