"""Changing one block of an exercise file and nothing else: the author's prose, order and layout stay."""

from collections.abc import Sequence

from trainer.notation.document import Section, normal_lines, outline, with_lines_of
from trainer.notation.report import Report


def put_block(text: str, riff: str, kind: str, part: str, content: Sequence[str], *, file: str = "exercise.md") -> str:
    """The text with a part's block written anew; a part that has none gets one at the end of the riff's blocks.

    Args:
        text: the file's text; it must read without a problem.
        riff: the riff's name.
        kind: "tab" or "harmony".
        part: the part's name.
        content: the block's lines, without its fences.
        file: the name under which problems are told.

    Raises:
        ProblemsError: for a text without front matter.
        ValueError: where no riff has that name.
    """
    original, text = text, normal_lines(text)
    lines = text.rstrip("\n").split("\n")
    section = next((each for each in outline(text, Report(file)).sections if each.name == riff), None)
    if section is None:
        raise ValueError(riff)
    block = next((each for each in section.blocks if each.part == part and each.kind != "riff"), None)
    written = [f"```{kind} {part}", *content, "```"]
    if block is not None:
        end = block.line + block.content.count("\n") + 1
        lines[block.line - 1 : end] = [" " * block.indent + line for line in written]
    else:
        at = _end(section, lines)
        lines[at:at] = ["", *written]
    return with_lines_of("\n".join(lines) + "\n", original)


def _end(section: Section, lines: Sequence[str]) -> int:
    """The index of the line after a section's last block, or after its heading."""
    if not section.blocks:
        return section.line
    last = max(section.blocks, key=lambda block: block.line)
    return min(last.line + last.content.count("\n") + 1, len(lines))
