"""Every action, once: keys, hints, help page, palette and tests read this table, and screens carry out what it names.

Keys follow the words (`t` tempo, `w` widen, `s` swap) or the hands (the large keys Enter and Backspace judge a pass).
"""

from typing import NamedTuple

from textual.binding import Binding, BindingType

EVERYWHERE = ""
"""Actions of the application itself."""


class Action(NamedTuple):
    """One thing the player can do."""

    name: str
    """Its lasting name: the binding's id, and what tests call it by."""
    title: str
    """What it does, as the palette and the help page say it."""
    keys: tuple[str, ...]
    """Textual's key names; the first one is shown."""
    call: str
    """The Textual action that carries it out, with its arguments."""
    group: str
    """Its heading on the help page."""
    where: str = EVERYWHERE
    """The screen it belongs to, by its name in `pages.PAGES` or `pages.OVER`."""
    hint: str = ""
    """The word at the foot of the screen; empty for actions that are not shown there."""
    help: str = ""
    """More than the title says, in a sentence."""
    needs_music: bool = False
    """Whether it is disabled while no exercise is loaded."""


def _stand(  # noqa: PLR0917 - rows of a table
    name: str, title: str, keys: str, group: str, hint: str = "", more: str = "", *, needs_music: bool = True
) -> Action:
    """An action of the stand, which its screen carries out by the action's name."""
    return Action(name, title, tuple(keys.split()), f"do('{name}')", group, "stand", hint, more, needs_music)


APPLICATION = (
    Action("quit", "Leave, with all notes off", ("ctrl+q",), "app.quit", "Everywhere", hint="leave"),
    Action("help", "Help for this screen", ("f1", "question_mark"), "app.help", "Everywhere", hint="help"),
    Action("palette", "Every action by name", ("ctrl+p",), "app.command_palette", "Everywhere"),
    Action("shelf", "The shelf: choose an exercise", ("f2",), "app.page('shelf')", "Everywhere"),
    Action("stand", "The stand: play it", ("f3",), "app.page('stand')", "Everywhere"),
    Action("logbook", "The logbook: read the record", ("f4",), "app.page('logbook')", "Everywhere"),
    Action("today", "Today's plan", ("f5",), "app.page('today')", "Everywhere"),
    Action(
        "stop_playing",
        "Stop what is played, from any screen",
        ("ctrl+space", "ctrl+at", "f12"),
        "app.stop_playing",
        "Everywhere",
        help="Leaving the stand plays the pass to its end, and then stops by itself.",
    ),
    Action("theme", "Next theme: dark, light, high contrast, no colour", ("ctrl+t",), "app.next_theme", "Everywhere"),
)

STAND = (
    _stand("start", "Start or stop", "space", "Playing", "start/stop"),
    _stand("again", "From the top of the loop", "r", "Playing"),
    _stand("count_in", "Bars of count-in: none, one, two", "k", "Playing"),
    _stand(
        "between", "Count in every pass, or play straight on", "K", "Playing",
        more="With a count-in between passes there is time to say how the last one was.",
    ),
    _stand("clean", "That pass was clean", "enter", "Judging", "clean",
           "In the first half of a pass it is about the one before, in the second half about this one."),
    _stand("missed", "That pass was not clean", "backspace", "Judging", "not clean"),
    _stand("pedal", "Learn a foot pedal for clean and not clean", "P", "Judging",
           more="Press the pedal when asked. Any MIDI note, controller or program change will do.", needs_music=False),
    _stand("listen", "Listen to me, by the sound card or by MIDI; or stop listening", "L", "Judging",
           more="After each pass, marks under my part and sentences say how it was."),
    _stand("decides", "Who judges a pass: you, the recording, or both", "D", "Judging"),
    _stand("follow", "Do what the verdict proposes: its bars, tempo and click", "A", "Judging",
           more="Enter does it too while the recording judges and, once stopped, after your own verdict."),
    _stand("heard", "Everything that was heard in the last pass", "U", "Judging"),
    _stand("takes", "The kept takes", "T", "Judging",
           more="Hear them again with the click and the written part or alone, compare, mark, export, delete them."),
    _stand("faster", "Tempo 1 bpm up", "up", "Tempo", "tempo"),
    _stand("slower", "Tempo 1 bpm down", "down", "Tempo"),
    _stand("faster_5", "Tempo 5 bpm up", "pageup shift+up", "Tempo"),
    _stand("slower_5", "Tempo 5 bpm down", "pagedown shift+down", "Tempo"),
    _stand("tempo", "Type a tempo in bpm or per cent", "t", "Tempo"),
    _stand("next_bar", "Choose the next bar", "right", "Loop", "bar"),
    _stand("previous_bar", "Choose the bar before", "left", "Loop"),
    _stand("loop_start", "Loop from the chosen bar on", "left_square_bracket", "Loop", "loop"),
    _stand("loop_end", "Loop up to the chosen bar", "right_square_bracket", "Loop"),
    _stand("bars", "Type the bars to loop, such as 3-4", "b", "Loop"),
    _stand("widen", "Widen the loop by a bar", "w", "Loop"),
    _stand("narrow", "Narrow the loop by a bar", "W", "Loop"),
    _stand("move_on", "Move the loop on by its own length", "o", "Loop"),
    _stand("move_back", "Move the loop back by its own length", "O", "Loop"),
    _stand("whole_riff", "Loop the whole riff", "l", "Loop"),
    _stand("form", "Play the whole form, or go back to the riff", "f", "Loop"),
    _stand("next_riff", "The next riff", "full_stop", "Loop", more="The riffs in the order of the file."),
    _stand("previous_riff", "The riff before", "comma", "Loop"),
    _stand("next_part", "Choose the next part", "tab", "Parts", "part"),
    _stand("previous_part", "Choose the part before", "shift+tab", "Parts"),
    _stand("hear", "Hear the chosen part, or not", "h", "Parts", "hear"),
    _stand("just", "Hear only the chosen part", "j", "Parts"),
    _stand("all", "Hear all parts", "a", "Parts"),
    _stand("others", "Hear everyone else: all but mine", "e", "Parts"),
    _stand("louder", "The chosen part 1 dB louder", "plus equals_sign", "Parts",
           more="The click and the guide can be chosen as well."),
    _stand("softer", "The chosen part 1 dB softer", "minus", "Parts"),
    _stand("mine", "The chosen part is mine", "m", "Parts"),
    _stand("swap", "Swap: the guitars trade places", "s", "Parts", "swap"),
    _stand("swap_each", "Swap after every pass, or only by hand", "S", "Parts"),
    _stand("click", "The next click pattern", "c", "Click", "click"),
    _stand("click_back", "The click pattern before", "C", "Click"),
    _stand("quiet", "Silent bars: the click rests, the time goes on", "q", "Click"),
    _stand("plain", "Loop as it is", "1", "Ways to practise"),
    _stand("ladder", "Climb the ladder: clean passes earn the next tempo", "2", "Ways to practise",
           "ladder", "Only passes at the rung's tempo count. Each loop of some bars has a ladder of its own."),
    _stand("build_front", "Build bar by bar from the front", "3", "Ways to practise"),
    _stand("build_end", "Build bar by bar from the end", "4", "Ways to practise"),
    _stand("burst", "Burst: the chosen bar a little faster than is clean, then rest", "5", "Ways to practise"),
    _stand("guide", "Fading guide: my part is played along, softer when I am clean", "g",
           "Ways to practise"),
    _stand("view", "Parts in view: both guitars, mine, all", "v", "Looking", "view"),
    _stand("quality", "Name intervals in full: m3, P5", "i", "Looking"),
    _stand("neck", "The neck with both hands on it", "n", "Looking", "neck"),
    _stand("prose", "The lesson's words", "p", "Looking", "words"),
    _stand("explain", "Explain the riff and what my part asks of the hands", "x", "Looking",
           "explain", "In the place of the lesson's words: at the tempo of now, hardest bar and limits first."),
    _stand("prose_down", "Scroll the words down", "shift+right d", "Looking"),
    _stand("prose_up", "Scroll the words up", "shift+left u", "Looking"),
    _stand("sound", "Where it sounds: the synth, or a MIDI port", "ctrl+o", "Looking", needs_music=False),
    _stand("sound_again", "Try the sound device again", "y", "Looking", needs_music=False),
    _stand("fingering", "Try the next fingering of my part", "greater_than_sign", "Working out",
           "fingering", "Strings, frets, fingers and strokes; the first one keeps the strings and frets of the file."),
    _stand("fingering_back", "Try the fingering before", "less_than_sign", "Working out"),
    _stand("harmony", "Try the next harmony of my line", "H", "Working out", "harmony",
           "The other guitar plays it at once: thirds, sixths, fourths, fifths, octaves, above and below."),
    _stand("harmony_back", "Try the harmony before", "G", "Working out"),
    _stand("harmony_list", "Choose a harmony from a list", "I", "Working out"),
    _stand("as_written", "Back to what the file has", "X", "Working out"),
    _stand("write", "Write what is tried into the file", "ctrl+s", "Working out", "write",
           "A bundled exercise is copied into your own folder first. Nothing else in the file changes."),
    _stand("take_back", "Put the file back as it was before the last writing", "ctrl+z", "Working out",
           more="Again for the writing before. It refuses where the file has changed since."),
    _stand("newer", "Put the file's new version on, when it has changed on disk", "N", "Working out",
           more="With the same bars it is put on by itself, and plays on."),
    Action("leave_stand", "Back to the shelf", ("escape",), "app.page('shelf')", "Looking", "stand", "shelf"),
)  # fmt: skip


def _rows(where: str, *rows: tuple[str, ...]) -> tuple[Action, ...]:
    """Make one screen's actions from (name, title, keys, call, group, hint, help), the last two optional."""
    made = []
    for name, title, keys, call, group, *more in rows:
        hint, told = (*more, "", "")[:2]
        made.append(Action(name, title, tuple(keys.split()), call, group, where, hint, told))
    return tuple(made)


SHELF = _rows(
    "shelf",
    ("open", "Put the chosen exercise on the stand", "enter", "open", "Choosing", "play"),
    ("record", "Its record in the logbook", "ctrl+l", "record", "Choosing", "record"),
    ("down", "The next exercise", "down", "cursor_by(1)", "Choosing"),
    ("up", "The exercise before", "up", "cursor_by(-1)", "Choosing"),
    ("page_down", "Down by a window", "pagedown", "page_by(1)", "Choosing"),
    ("page_up", "Up by a window", "pageup", "page_by(-1)", "Choosing"),
    ("first", "The first exercise", "ctrl+home", "cursor_by(-100000000)", "Choosing"),
    ("last", "The last exercise", "ctrl+end", "cursor_by(100000000)", "Choosing"),
    ("tag", "Only the exercises with a tag", "f6", "choose_tag", "Finding", "",
     "Or type: every word is looked for in titles, authors, tags, keys and riffs."),
    ("key", "Only the exercises in a key", "f7", "choose_key", "Finding"),
    ("target", "Only the exercises with a target tempo", "f8", "choose_band", "Finding"),
    ("due", "Only what is due today, or everything", "f9", "toggle_due", "Finding"),
    ("order", "Order by title, key, target, best, last played, due", "ctrl+o", "choose_order", "Finding", "order"),
    ("everything", "Show everything again", "escape", "show_all", "Finding", "show all"),
    ("edit", "Open its file in your editor", "ctrl+g", "edit", "Files", "edit",
     "The editor is what VISUAL or EDITOR names. A bundled exercise is copied into your own folder first."),
    ("new", "Begin an exercise of your own: a title, and its counts are laid out", "ctrl+b", "new_exercise", "Files"),
    ("folder", "Add a folder of your own exercises", "ctrl+n", "add_folder", "Files", "add folder"),
    ("again", "Read the folders again now", "ctrl+r", "read_again", "Files", "",
     "They are looked through every few seconds anyway."),
)  # fmt: skip

LOGBOOK = _rows(
    "logbook",
    ("progress", "Best clean tempo over time", "1", "view('progress')", "Looking"),
    ("takes", "What takes measured", "2", "view('takes')", "Looking"),
    ("days", "The calendar of practice", "3", "view('days')", "Looking"),
    ("goals", "The goals, and when they will be reached", "4", "view('goals')", "Looking"),
    ("next_view", "The next of these", "tab", "view_by(1)", "Looking"),
    ("previous_view", "The one before", "shift+tab", "view_by(-1)", "Looking"),
    ("down", "Down", "down", "cursor_by(1)", "Choosing"),
    ("up", "Up", "up", "cursor_by(-1)", "Choosing"),
    ("right", "The next exercise; in the calendar the next week", "right", "across(1)", "Choosing"),
    ("left", "The exercise before; in the calendar the week before", "left", "across(-1)", "Choosing"),
    ("page_down", "Down by a window", "pagedown", "page_by(1)", "Choosing"),
    ("page_up", "Up by a window", "pageup", "page_by(-1)", "Choosing"),
    ("first", "The first one", "home", "cursor_by(-100000000)", "Choosing"),
    ("last", "The last one", "end", "cursor_by(100000000)", "Choosing"),
    ("find", "Find an exercise by some of its words", "f", "find", "Choosing", "find"),
    ("open", "Put the chosen riff on the stand, with its part as mine", "enter", "open", "Choosing", "play"),
    ("add_goal", "Set a goal for the chosen riff and part", "a", "add_goal", "Goals", "add goal"),
    ("reached", "The chosen goal is reached", "r", "change_goal('reached')", "Goals", "reached"),
    ("give_up", "Give the chosen goal up", "x", "change_goal('given up')", "Goals", "give up"),
    ("take_up", "Take the chosen goal up again", "u", "change_goal('kept')", "Goals", "take up"),
    ("figure", "Plot another figure of the takes", "v", "next_figure", "Looking"),
    ("export", "Export the whole record to a CSV or JSON file", "e", "export", "Record", "export"),
    ("leave_logbook", "Back to the shelf", "escape", "app.page('shelf')", "Looking", "shelf"),
)  # fmt: skip

TODAY = _rows(
    "today",
    ("open", "Put the chosen block on the stand", "enter", "open", "Practising", "play"),
    ("done", "The chosen block is done, or not", "space d", "toggle_done", "Practising", "done",
     "A block is done by itself once you have played most of its minutes."),
    ("down", "The next block", "down", "cursor_by(1)", "Practising"),
    ("up", "The block before", "up", "cursor_by(-1)", "Practising"),
    ("first", "The first block", "home", "cursor_by(-1000)", "Practising"),
    ("last", "The last block", "end", "cursor_by(1000)", "Practising"),
    ("more", "Five minutes more", "plus equals_sign right", "minutes_by(5)", "Planning", "minutes"),
    ("less", "Five minutes less", "minus left", "minutes_by(-5)", "Planning"),
    ("minutes", "Type the minutes you have", "m", "ask_minutes", "Planning"),
    ("turns", "Riffs in turns, or one after the other", "t", "toggle_turns", "Planning", "turns",
     "Turns feel harder and last longer: what was mixed is known better the next day."),
    ("plan", "Make a new plan", "n", "new_plan", "Planning", "new plan",
     "Blocks that are done stay; the minutes that are left are planned again."),
    ("leave_today", "Back to the shelf", "escape", "app.page('shelf')", "Planning", "shelf"),
)  # fmt: skip

TAKES = _rows(
    "takes",
    ("play", "Hear the chosen take, or stop it", "space enter", "play", "Hearing", "hear"),
    ("beside", "What is heard with it: click and part, click, nothing", "w", "next_beside", "Hearing", "with",
     "The take and the written part begin together, on one clock."),
    ("compare", "Compare it with the take before, then with earlier ones", "c", "compare_by(1)", "Reading", "compare"),
    ("compare_back", "Compare it with a later one again, or not at all", "C", "compare_by(-1)", "Reading"),
    ("about_down", "Scroll down what is told of it", "d right", "about_by(1)", "Reading"),
    ("about_up", "Scroll up what is told of it", "u left", "about_by(-1)", "Reading"),
    ("mark", "Mark it: it is never deleted to make room; or take the mark away", "m", "mark", "Keeping", "mark"),
    ("export", "Copy it into a file of your own", "e", "export", "Keeping", "export"),
    ("delete", "Delete it, after asking once", "x delete", "delete", "Keeping", "delete"),
    ("scope", "Takes of this riff and part, of the exercise, of everything", "o", "next_scope", "Choosing", "whose"),
    ("down", "The next take", "down", "cursor_by(1)", "Choosing"),
    ("up", "The take before", "up", "cursor_by(-1)", "Choosing"),
    ("page_down", "Down by a window", "pagedown", "page_by(1)", "Choosing"),
    ("page_up", "Up by a window", "pageup", "page_by(-1)", "Choosing"),
    ("first", "The newest take", "home", "cursor_by(-100000000)", "Choosing"),
    ("last", "The oldest take", "end", "cursor_by(100000000)", "Choosing"),
    ("leave_takes", "Back to the stand", "escape T", "leave", "Choosing", "stand"),
)  # fmt: skip

ACTIONS = (*APPLICATION, *SHELF, *STAND, *LOGBOOK, *TODAY, *TAKES)
"""All actions, in the order in which help and palette list them."""


def actions_for(where: str) -> tuple[Action, ...]:
    """The actions of one screen, without those available everywhere."""
    return tuple(action for action in ACTIONS if action.where == where)


def action(name: str, where: str | None = None) -> Action:
    """Find an action by name. Raises KeyError."""
    for each in ACTIONS:
        if each.name == name and where in (None, each.where):
            return each
    raise KeyError(name)


KEY_NAMES = {
    "space": "space", "enter": "enter", "backspace": "backspace", "escape": "esc", "up": "↑", "down": "↓",
    "left": "←", "right": "→", "pageup": "page up", "pagedown": "page down", "tab": "tab", "shift+tab": "shift tab",
    "left_square_bracket": "[", "right_square_bracket": "]", "plus": "+", "minus": "-", "equals_sign": "=",
    "full_stop": ".", "comma": ",", "greater_than_sign": ">", "less_than_sign": "<", "question_mark": "?",
    "shift+up": "shift ↑", "shift+down": "shift ↓", "shift+left": "shift ←", "shift+right": "shift →",
}  # fmt: skip
ASCII_KEY_NAMES = {"↑": "up", "↓": "down", "←": "left", "→": "right"}


def key_name(key: str, unicode: bool = True) -> str:
    """Write a key's name for the player."""
    function = key[:1] == "f" and key[1:].isdigit()
    name = KEY_NAMES.get(key) or (key.upper() if function else key.replace("ctrl+", "ctrl "))
    if not unicode:
        for arrow, word in ASCII_KEY_NAMES.items():
            name = name.replace(arrow, word)
    return name


def hinted(page: str) -> tuple[Action, ...]:
    """The actions to hint at, the most important first; those of `last_hints` stand behind them."""
    return tuple(each for each in actions_for(page) if each.hint and each.name != f"leave_{page}")


def last_hints(page: str) -> tuple[Action, ...]:
    """What stands at the end of every foot line, in any width: help, and the way back (from the shelf, out)."""
    back = next((each for each in actions_for(page) if each.name == f"leave_{page}"), action("quit"))
    return (action("help"), back._replace(hint="back" if back.where else back.hint))


STOPPED = {
    "start": "start", "faster": "tempo", "loop_start": "loop", "next_part": "part", "listen": "listen", "swap": "swap",
    "next_bar": "bar", "hear": "hear", "click": "click", "ladder": "ladder", "view": "view", "neck": "neck",
    "explain": "explain", "harmony": "harmony", "fingering": "fingering", "write": "write",
}  # fmt: skip
PLAYING = {
    "clean": "clean", "missed": "not clean", "start": "stop", "faster": "tempo", "hear": "hear",
    "again": "from the top", "swap": "swap", "click": "click",
}  # fmt: skip
LISTENING = {
    "start": "start", "heard": "verdict", "takes": "takes", "follow": "do it", "listen": "stop listening",
    "decides": "who judges", "faster": "tempo", "loop_start": "loop",
}  # fmt: skip
HEARD_PLAYING = {
    "heard": "verdict", "takes": "takes", "start": "stop", "clean": "clean", "missed": "not clean", "faster": "tempo",
}  # fmt: skip
"""What the stand hints at, by the moment: the names of actions, the most important first, and a word for each."""


def stand_hints(*, playing: bool, listening: bool) -> tuple[Action, ...]:
    """The stand's hints for the moment.

    >>> [hint.hint for hint in stand_hints(playing=True, listening=False)][:3]
    ['clean', 'not clean', 'stop']
    """
    words = (HEARD_PLAYING if playing else LISTENING) if listening else PLAYING if playing else STOPPED
    return tuple(action(name, "stand")._replace(hint=word) for name, word in words.items())


FIRST_OF_ALL = ("ctrl+q", "ctrl+space", "ctrl+at", "f12", "tab", "shift+tab")
"""Keys that no window and no line to type in takes for itself."""


def bindings_for(where: str) -> list[BindingType]:
    """Make Textual's bindings of one screen, with the actions' names as ids."""
    return [_binding(action, number, key) for action in actions_for(where) for number, key in enumerate(action.keys)]


def _binding(action: Action, number: int, key: str) -> Binding:
    return Binding(
        key,
        action.call,
        action.hint or action.title,
        show=False,
        key_display=key_name(key),
        id=action.name if number == 0 else f"{action.name}.{number}",
        tooltip=action.help or action.title,
        priority=key in FIRST_OF_ALL,
    )
