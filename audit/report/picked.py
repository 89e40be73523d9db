"""What the pages' script needs to write down picked frames: their names, lines of keep.txt and files.

A file of its own, which a page asks for once the reader wants to copy or save; so no page carries it.
"""

from __future__ import annotations

import json

from audit.prints.choose import keep_lines, plain_text
from audit.report.view_frames import frame_links
from audit.report.words import text
from audit.result import Result


def frames_script(result: Result) -> str:
    """A script that sets `reportFrames`: of each frame in the table's order its name, its line of
    keep.txt and its files below the dump. A line or file that no text file can hold is left out.
    """
    frames = result.frames
    links = frame_links(frames)
    told = [
        [links[text(name)].text, keep, [file for file in files if plain_text(file)]]
        for name, keep, files in zip(frames["frame"], keep_lines(frames), frames["files"], strict=True)
    ]
    lines = ",\n".join(json.dumps(one, separators=(",", ":")) for one in told)
    return f"window.reportFrames = [\n{lines}\n];\n"
