"""Finding an action by what a player calls it: help and palette look through titles, keys and these words."""

from collections.abc import Mapping

from trainer.screens.actions import Action, key_name

ALSO_CALLED: Mapping[str, str] = {
    "start": "play go pause stop begin",
    "again": "restart rewind beginning top",
    "count_in": "lead-in precount",
    "clean": "good right yes passed",
    "missed": "not clean wrong mistake bad no failed",
    "pedal": "footswitch foot switch",
    "listen": "microphone mic record recording input guitar audio judge",
    "heard": "details verdict report mistakes",
    "follow": "suggestion proposal practise next",
    "takes": "recordings",
    "faster": "faster speed up quicker bpm",
    "slower": "slower speed bpm",
    "faster_5": "faster speed up quicker bpm",
    "slower_5": "slower speed bpm",
    "tempo": "speed bpm",
    "loop_start": "repeat section from",
    "loop_end": "repeat section to",
    "bars": "repeat section measures",
    "whole_riff": "unloop everything clear",
    "form": "song arrangement structure all riffs",
    "next_riff": "section song part",
    "previous_riff": "section song part",
    "hear": "mute unmute silence silent turn off",
    "just": "solo alone only isolate",
    "all": "unmute unsolo everybody",
    "others": "mute me minus one without me backing band",
    "louder": "volume level mixer gain",
    "softer": "volume level mixer gain quieter",
    "mine": "role instrument guitar",
    "swap": "trade switch roles guitars",
    "click": "metronome beat",
    "click_back": "metronome beat",
    "quiet": "metronome gap silent drop out",
    "plain": "free loop repeat",
    "ladder": "speed trainer increase tempo step",
    "build_front": "add bars learn",
    "build_end": "add bars learn backwards",
    "burst": "fast short speed",
    "guide": "play along help fade",
    "view": "show hide parts",
    "neck": "fretboard fingerboard",
    "prose": "text lesson notes",
    "sound": "audio device output synth midi port",
    "sound_again": "audio device output reconnect no sound",
    "fingering": "fingers positions",
    "harmony": "third second guitar line",
    "write": "save file",
    "take_back": "undo revert",
    "newer": "reload refresh",
    "quit": "exit close end",
    "palette": "commands search menu",
    "theme": "colours colors dark light contrast",
    "logbook": "history progress record statistics",
    "shelf": "library exercises songs files open",
    "today": "plan practice schedule",
    "find": "search filter",
    "add_goal": "target aim",
    "export": "save file csv json",
    "delete": "remove erase",
    "compare": "difference before better",
    "minutes": "time duration",
}
"""By an action's name: what else players say when they look for it."""


def answers_to(action: Action, typed: str) -> bool:
    """Whether every word that was typed begins a word of the action's title, help, keys or of what players call it."""
    names = " ".join(key_name(key) for key in action.keys)
    told = f"{action.title} {action.help} {action.hint} {names} {ALSO_CALLED.get(action.name, '')}".casefold()
    words = told.translate(str.maketrans(",.:;()", "      ")).split()
    return all(any(word.startswith(sought) for word in words) for sought in typed.casefold().split())
