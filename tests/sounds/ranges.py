"""The playable range of every pitched preset of the built-in bank, as (bank, program)."""

GUITAR = range(35, 89)
"""B1, the lowest string of a seven-string guitar, to E6, fret 24 of the thinnest."""

BASS = range(23, 68)
"""B0, the lowest string of a five-string bass, to G4, fret 24 of the thinnest."""

HARMONIC = range(47, 93)
"""B2, fret 12 over B1, to E6, fret 12 and 5 over the thinnest string, and a little above."""

RINGING = {
    (0, 27): GUITAR, (1, 27): GUITAR, (0, 29): GUITAR, (1, 29): GUITAR, (0, 30): GUITAR, (1, 30): GUITAR,
    (0, 31): HARMONIC, (1, 31): HARMONIC, (2, 31): HARMONIC, (0, 33): BASS, (0, 34): BASS,
}  # fmt: skip
MUTED = {(0, 28): GUITAR, (1, 28): GUITAR, (2, 28): GUITAR, (1, 33): BASS, (1, 34): BASS}
PITCHED = RINGING | MUTED
