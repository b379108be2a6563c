"""A voice for the calls: for each word a WAV file, found, or made while the band may play already.

First the player's own: a folder with files named after what is said (``chorus.wav``, ``verse 2.wav``, ``3.wav``; ``verse.wav``
serves for every verse). Then a speech engine, where the system has one: each word is rendered once and kept in the user's cache
folder. Where there is neither, no word; a sign is heard instead.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import threading
import wave
from array import array
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from queue import SimpleQueue

from platformdirs import user_cache_path

ENGINE = "espeak-ng"
"""Looked for by name; never needed."""
PACE = "165"
"""Words a minute."""
NOTHING = 0.02
"""Share of the loudest sample below which the ends of a word are silence."""
LONGEST = 10.0
"""Seconds of a word at most."""
WIDTHS = (1, 2, 3, 4)
"""Bytes of a sample that can be read."""
PATIENCE = 5.0
"""Seconds that one word may take to be rendered."""


Word = tuple[str, Path, float]
"""What is said, its WAV file, and how many seconds it takes."""


class Voice:
    """Finds or makes the sound of words."""

    def __init__(self, folder: str = "", language: str = "en", cache: Path | None = None) -> None:
        """
        Args:
            folder: the player's own WAV files; empty: none.
            language: the engine's name for the language to speak in.
            cache: where rendered words are kept; the user's cache folder by default.
        """
        self._own = _named(folder)
        self._language = language
        self._cache = cache or user_cache_path("liveassist") / "calls"
        self._engine = shutil.which(ENGINE)

    @property
    def own(self) -> tuple[str, ...]:
        """What the player's own files say."""
        return tuple(self._own)

    def word(self, text: str) -> Path | None:
        """The WAV file of a word; None where there is none and none can be made."""
        plain = text.casefold().strip()
        own = self._own.get(plain) or self._own.get(plain.rstrip("0123456789 "))
        return own or self._rendered(text.strip())

    def _rendered(self, text: str) -> Path | None:
        if not self._engine or not text:
            return None
        name = hashlib.sha256(f"{self._language}/{PACE}/{text}".encode()).hexdigest()[:24]
        path = self._cache / f"{name}.wav"
        if path.exists():
            return path
        draft = self._cache / f"{name}.{os.getpid()}-{threading.get_ident()}.wav"
        command = [self._engine, "-v", self._language, "-s", PACE, "--stdin", "-w", str(draft)]
        try:
            self._cache.mkdir(parents=True, exist_ok=True)
            subprocess.run(
                command,
                input=text.encode(),
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                timeout=PATIENCE,
                check=True,
            )
            os.replace(draft, path)  # whole or not at all
        except (OSError, subprocess.SubprocessError):
            draft.unlink(missing_ok=True)
            return None
        return path


def _named(folder: str) -> dict[str, Path]:
    """The WAV files of a folder by what they say."""
    try:
        files = sorted(Path(folder).expanduser().iterdir()) if folder else []
    except OSError:  # it is not there, or not ours to read
        return {}
    return {" ".join(file.stem.casefold().replace("_", " ").split()): file for file in files if _is_wav(file)}


def _is_wav(file: Path) -> bool:
    return file.suffix.casefold() == ".wav"


def seconds(path: Path) -> float | None:
    """How long the word in a WAV file is; None where it cannot be read. Without the silence at its ends where samples have
    16 bits, as the engine's do; whole otherwise."""
    try:
        with wave.open(str(path), "rb") as file:
            rate, frames, channels, width = file.getframerate(), *_shape(file)
            data = file.readframes(frames) if width == 2 else b""
    except (OSError, EOFError, wave.Error):
        return None
    if not rate or width not in WIDTHS:
        return None
    if width != 2:
        return frames / rate
    samples = array("h", data[: len(data) // 2 * 2])
    if sys.byteorder == "big":
        samples.byteswap()
    least = NOTHING * max(map(abs, samples), default=0)
    heard = [number for number, sample in enumerate(samples) if abs(sample) > least]
    return (heard[-1] - heard[0] + 1) / channels / rate if heard else 0.0


def _shape(file: wave.Wave_read) -> tuple[int, int, int]:
    """Frames, channels and bytes of a sample; no longer than is ever spoken."""
    return min(file.getnframes(), round(LONGEST * file.getframerate())), file.getnchannels(), file.getsampwidth()


def words(voice: Voice, texts: Sequence[str]) -> Iterator[Word]:
    """Text, file and length of each text that can be said, one after the other as they are made."""
    for text in dict.fromkeys(texts):
        path = voice.word(text)
        length = seconds(path) if path is not None else None
        if path is not None and length:
            yield text, path, length


def made_aside(make: Callable[[], Iterable[Word]]) -> SimpleQueue[Word]:
    """The same, made by a thread of its own: an engine may take its time over every word, and nobody who plays waits for it."""
    made: SimpleQueue[Word] = SimpleQueue()

    def work() -> None:
        for word in make():
            made.put(word)

    threading.Thread(target=work, name="words", daemon=True).start()
    return made
