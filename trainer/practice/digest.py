"""A riff's content in a few characters, so that the record can say that a riff was changed."""

import hashlib
from collections.abc import Sequence
from dataclasses import replace

from trainer.music.riff import Riff


def digest_of(riffs: Sequence[Riff]) -> str:
    """The digest of one riff, or of a form's: the same as long as the music is, whatever the prose says."""
    told = hashlib.sha256()
    for riff in riffs:
        told.update(repr(replace(riff, prose="", name="")).encode())
    return told.hexdigest()[:16]
