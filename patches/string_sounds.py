"""How the strings of the built-in bank are picked, damped and amplified: one value for every sound.

Left and right are two players: another pick, place of picking, pickup and amplifier, so that no sample serves both.
An upstroke meets the string elsewhere, sharper, and sets it going the other way.
"""

from dataclasses import replace

from string_model import StringSound

CLEAN = StringSound(24000, 0.11, 5200.0, 0.10, 0.16, 7.0, 1.5, "clean")
CLEAN_RIGHT = StringSound(24000, 0.16, 4400.0, 0.10, 0.22, 7.0, 1.5, "clean right")

DISTORTION = StringSound(24000, 0.075, 6500.0, 0.16, 0.07, 9.0, 1.6, "distortion")
DISTORTION_UP = replace(DISTORTION, pick_at=0.10, pick_hz=7500.0, pick_noise=0.3, up=True)
DISTORTION_RIGHT = StringSound(24000, 0.12, 5600.0, 0.20, 0.15, 9.0, 1.5, "distortion right")
DISTORTION_RIGHT_UP = replace(DISTORTION_RIGHT, pick_at=0.15, pick_hz=6800.0, pick_noise=0.34, up=True)
OVERDRIVE = StringSound(24000, 0.09, 5600.0, 0.14, 0.13, 9.0, 1.6, "overdrive")

MUTED = StringSound(24000, 0.10, 8000.0, 0.90, 0.10, 0.22, 0.006, "muted distortion", 1.5, 700.0, 0.11)
MUTED_UP = replace(MUTED, pick_at=0.13, pick_hz=8800.0, pick_noise=1.0, up=True)
MUTED_RIGHT = StringSound(24000, 0.11, 8000.0, 0.90, 0.13, 0.24, 0.006, "muted distortion right", 1.5, 650.0, 0.105)
MUTED_RIGHT_UP = replace(MUTED_RIGHT, pick_at=0.17, pick_hz=8200.0, pick_noise=1.0, up=True)
CLEAN_MUTED = StringSound(24000, 0.11, 6000.0, 0.40, 0.13, 0.22, 0.006, "muted clean", 1.5, 900.0, 0.10)

DEAD = StringSound(24000, 0.10, 4500.0, 1.2, 0.10, 0.062, 0.04, "dead", 1.5, 2600.0)
DEAD_RIGHT = StringSound(24000, 0.15, 4000.0, 1.2, 0.16, 0.07, 0.04, "dead", 1.5, 2200.0)
CLEAN_DEAD = StringSound(24000, 0.11, 4000.0, 1.0, 0.13, 0.07, 0.04, "muted clean", 1.5, 2600.0)

HARMONICS = StringSound(24000, 0.31, 6000.0, 0.10, 0.33, 6.0, 2.2, "harmonics", 0.6)
HARMONICS_RIGHT = StringSound(24000, 0.27, 5000.0, 0.12, 0.29, 6.0, 2.0, "harmonics right", 0.6)
CLEAN_HARMONICS = StringSound(24000, 0.31, 6000.0, 0.06, 0.33, 6.0, 2.2, "clean", 0.6)

FINGERED = StringSound(20000, 0.19, 1500.0, 0.05, 0.24, 7.0, 0.7, "bass")
PICKED = StringSound(20000, 0.13, 4200.0, 0.20, 0.22, 7.0, 0.9, "driven bass", 0.75)
DEAD_BASS = StringSound(20000, 0.10, 3000.0, 1.0, 0.15, 0.08, 0.04, "bass", 1.5, 2000.0)
