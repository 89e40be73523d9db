"""What kept most checks from running, and what to do: else "nothing to act on" would read as a clean bill."""

from __future__ import annotations

from audit.kit.strangers import strangers
from audit.message.text import joined, marked, plural, say
from audit.result import Result

KIT_NEW, DRAFT = "cornerstop kit new DUMP", "cornerstop draft DUMP"
"""The next commands, where a reader knows the folder."""
MOST_STRANGERS = MOST_FOLDERS = 4
"""More are told as findings only, or on the page of files passed over."""


def hints(result: Result, kit_new: str = KIT_NEW, draft: str = DRAFT) -> tuple[str, ...]:
    """One sentence each, for the front page and for the terminal; none when the checks could run.

    `kit_new` and `draft` are the commands to type next. A report names no folder of its reader's.
    """
    found = _unlisted(result.unlisted)
    if result.frames.empty:
        return (*found, marked("No picture was found: is this the right folder?"))
    kit = result.kit
    if not (kit.bodies or kit.lenses or kit.rings or kit.holders or kit.filters):
        words = marked(
            "No kit: `{command_written}` begins a `kit.toml` from the pictures; `--kit` names one elsewhere."
        )
        found.append(say(words, command_written=kit_new))
    for one in strangers(result.frames)[:MOST_STRANGERS]:
        if one.nearest is not None:
            found.append(
                say("{what}: correct kit.toml, or run `cornerstop kit check` on the dump.", what=one.words)
            )
    if (result.frames["declaration"] == "undeclared").all() and not result.mistakes:
        words = marked(
            "No frame is declared, so neither filters nor corners were checked: write a `filters.toml` "
            "in the folder of the pictures, or let `{command_written}` make one from the exposures."
        )
        found.append(say(words, command_written=draft))
    blind = int((result.frames["pixel_why"].notna() & result.frames["preview_offset"].isna()).sum())
    if result.pixels == "preview" and blind > len(result.frames) / 2:
        found.append(
            plural(
                blind,
                "{n} frame has no embedded preview, so its pixels were not measured: "
                "`--pixels full` decodes it.",
                "{n} frames have no embedded preview, so their pixels were not measured: "
                "`--pixels full` decodes them (minutes for a thousand).",
            )
        )
    return tuple(found)


def _unlisted(folders: tuple[str, ...]) -> list[str]:
    """Folders of which the card did not tell all that they hold."""
    if not folders:
        return []
    words = plural(
        len(folders),
        "{n} folder could not be listed to its end, and what is missing of it is not audited: {folder_names}",
        "{n} folders could not be listed to their end, and what is missing of them is not audited: "
        "{folder_names}",
        folder_names=joined(folders[:MOST_FOLDERS], ", "),
    )
    return [words]
