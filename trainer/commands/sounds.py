"""`twinspur sounds`: patches, click patterns and sound banks."""

import argparse
from pathlib import Path

from trainer.commands.line import DONE
from trainer.commands.own_machine import machine
from trainer.commands.terminal import say, say_json, table
from trainer.sounds.find_banks import built_in_bank, find_banks
from trainer.sounds.sound_bank import check_bank


def options(parser: argparse.ArgumentParser) -> None:
    """Which sound bank to list, if any."""
    parser.add_argument("--bank", metavar="FILE", type=Path, help="list the presets of this bank")
    parser.add_argument("--json", action="store_true", help="print everything as JSON")


def run(arguments: argparse.Namespace) -> int:
    """List them."""
    if arguments.bank:
        return _presets(arguments.bank, arguments.json)
    rig = machine().rig
    chosen = machine().settings().bank or built_in_bank()
    banks = list(dict.fromkeys([chosen, built_in_bank(), *find_banks()]))
    if arguments.json:
        say_json(
            {
                "patches": [{"name": p.name, "role": p.role.value, "about": p.about} for p in rig.patches],
                "click_patterns": [{"name": c.name, "about": c.about} for c in rig.click_patterns],
                "banks": [{"file": str(bank), "in_use": bank == chosen} for bank in banks],
            }
        )
        return DONE
    say("Patches", strong=True)
    for line in table([(f"  {p.name}", p.role.value, p.about) for p in rig.patches]):
        say(line)
    say("\nClick patterns", strong=True)
    for line in table([(f"  {c.name}", c.about) for c in rig.click_patterns]):
        say(line)
    say("\nSound banks", strong=True)
    for bank in banks:
        say(f"  {bank}" + ("  (in use)" if bank == chosen else ""))
    return DONE


def _presets(path: Path, as_json: bool) -> int:
    bank = check_bank(path)
    if as_json:
        presets = [{"bank": p.bank, "program": p.program, "name": p.name} for p in bank.presets]
        say_json({"file": str(path), "presets": presets})
        return DONE
    rows = [("bank", "program", "name"), *((str(p.bank), str(p.program), p.name) for p in bank.presets)]
    for line in table(rows, right=frozenset({0, 1})):
        say(line)
    return DONE
