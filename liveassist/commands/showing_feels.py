"""The ways of playing the figure: listed, explained, heard; a file of your own proofed."""

from __future__ import annotations

import argparse
import difflib
from pathlib import Path

from liveassist.arranging.arrange import CHURCH
from liveassist.arranging.feel import Feel
from liveassist.arranging.feel_files import FeelError, read_feel
from liveassist.arranging.feel_words import explained, names_in_columns, remarks
from liveassist.arranging.feels import Feels, find_feel, load_feels
from liveassist.commands.layering import layers, read_text, stated
from liveassist.commands.own_feels import OwnFeels, own_feels, settings_folder
from liveassist.errors import PlayerError

ENDS = ".toml"
WELL, WRONG = 0, 1


def show(options: argparse.Namespace) -> int:
    """Run the command. Returns 0, or 1 where a file has something wrong with it."""
    own = own_feels()
    files = [name for name in options.names if name.casefold().endswith(ENDS)]
    if files and len(files) < len(options.names):
        raise PlayerError("say the name of one feel, or files to proof, but not both")
    hearing = options.hear or options.to or options.sound
    if hearing and (not options.names or len(files) > 1):
        raise PlayerError("say which feel to hear: liveassist feels waltz --hear --to waltz.wav")
    room = layers(("the command line", stated(options)), feels=own.feels).settings.room or CHURCH
    if files and not hearing:
        return max(_proofed(path, room) for path in files)
    if not options.names:
        return _list(own)
    feel = read_feel(read_text(files[0], "a feel's file"), files[0]) if files else _named(" ".join(options.names), own)
    if hearing:
        from liveassist.commands.hearing_feels import hear

        return hear(feel, options)
    print("\n".join(explained(feel)))
    if feel.name in own.sources:
        print(f"\nYours: {own.sources[feel.name]}")
    return WELL


def _list(own: OwnFeels) -> int:
    print("\n".join(names_in_columns(own.feels, own.sources)))
    print(f"\nliveassist feels NAME explains one. Your own go into {settings_folder()}, or into a folder")
    print('"feels" beside the chart; liveassist feels FILE.toml proofs one.')
    for problem in own.problems:
        print(f"wrong: {problem}")
    return WRONG if own.problems else WELL


def _named(name: str, own: OwnFeels) -> Feel:
    feel = find_feel(name, own.feels)
    if feel is None:
        raise PlayerError(f'"{name}" is not a feel I know; {_advice(name, own.feels)}')
    return feel


def _advice(name: str, feels: Feels) -> str:
    near = difflib.get_close_matches(" ".join(name.casefold().split()), feels, n=1)
    return f'did you mean "{near[0]}"?' if near else f"I can play {', '.join(sorted(feels))}"


def _proofed(path: str, room: float) -> int:
    """Everything that is wrong or odd about a file, as ``check`` does for charts."""
    text = read_text(path, "a feel's file")
    name = Path(path).name
    try:
        feel = read_feel(text, name)
    except FeelError as error:
        for problem in error.problems:
            print(f"wrong: {problem}")
        print(f"{path}: {len(error.problems)} wrong")
        return WRONG
    odd = remarks(feel, load_feels(), room)
    for remark in odd:
        print(f"look at: {name}: {remark}")
    print(f"{path}: {f'0 wrong, {len(odd)} worth a look' if odd else 'nothing to mend'}")
    return WELL
