"""Prompts rendered by the real synthesiser, and what happens when it misbehaves."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from voicecheck.errors import VoicecheckError
from voicecheck.voice import speaker as room
from voicecheck.voice.cache import PromptCache
from voicecheck.voice.process import VoiceUnavailable
from voicecheck.voice.speaker import Speaker, estimate, trimmed

RATE = 16_000


@pytest.fixture
def speaker(tmp_path: Path) -> Iterator[Speaker]:
    speaker = Speaker(cache_dir=tmp_path / "prompts")
    yield speaker
    speaker.close()


def child(speaker: Speaker) -> int:
    assert speaker._process is not None
    return speaker._process.pid


def gone(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    return False


def test_a_prompt_is_speech_without_silence_at_its_ends(speaker: Speaker) -> None:
    sound = speaker.render("Landing gear. Call the lights.")
    assert sound.dtype == np.int16
    assert sound.ndim == 1
    assert 1.0 < len(sound) / RATE < 4.0
    assert abs(int(sound[0])) >= 64
    assert abs(int(sound[-1])) >= 64
    # Speech: most of its energy lies below 4 kHz.
    power = np.abs(np.fft.rfft(sound)) ** 2
    assert power[: len(power) // 2].sum() > 0.8 * power.sum()
    assert "espeak" in speaker.engine


def test_it_is_the_synthesisers_own_sound(speaker: Speaker, tmp_path: Path) -> None:
    # Against espeak-ng's own command at the same speed: same length but for the pauses at
    # the ends, which it keeps.
    path = tmp_path / "direct.wav"
    text = "Fire warning. Which one is dark?"
    subprocess.run(["espeak-ng", "-v", "en-gb", "-s", "150", "-w", str(path), text], check=True)
    asked = subprocess.run(["soxi", "-D", str(path)], capture_output=True, text=True, check=True)
    assert len(speaker.render(text)) / RATE == pytest.approx(float(asked.stdout), abs=0.5)


def test_slower_takes_longer_and_quieter_is_quieter(speaker: Speaker) -> None:
    text = "Confirm both horns silent."
    usual = speaker.render(text)
    slow, quiet = Speaker(rate=90), Speaker(volume=0.4)
    try:
        assert len(slow.render(text)) > 1.3 * len(usual)
        assert np.abs(quiet.render(text)).max() < 0.6 * np.abs(usual).max()
    finally:
        slow.close()
        quiet.close()


def test_estimate_is_near_the_truth(speaker: Speaker) -> None:
    # Doc 9432 2.2.1 d) (F2): 100 words a minute at most; five words then last 3 s.
    assert estimate("gear, three green, one red", 100) == pytest.approx(3.0)
    text = "Stall warning test. Move the vane up and call what you hear."
    assert estimate(text, 150) == pytest.approx(len(speaker.render(text)) / RATE, rel=0.35)


def test_many_prompts_in_a_row_and_from_many_threads(speaker: Speaker) -> None:
    # Where pyttsx3 used in one process would hang: repeated and concurrent use.
    texts = [f"item {count}" for count in range(40)]
    got: dict[str, int] = {}
    threads = [
        threading.Thread(target=lambda t=text: got.update({t: len(speaker.render(t))}))
        for text in texts
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert set(got) == set(texts)
    assert got["item 11"] != got["item 7"]


def test_what_is_needed_now_goes_before_what_was_prepared(speaker: Speaker) -> None:
    speaker.prepare([f"prepared prompt number {count}" for count in range(200)])
    began = time.monotonic()
    speaker.render("Stop.")
    assert time.monotonic() - began < 1.0
    assert "prepared prompt number 199" not in speaker._memory


def test_prepared_prompts_are_ready(speaker: Speaker) -> None:
    speaker.prepare(["first prompt", "second prompt"])
    deadline = time.monotonic() + 10
    while "second prompt" not in speaker._memory and time.monotonic() < deadline:
        time.sleep(0.01)
    os.kill(child(speaker), signal.SIGSTOP)
    assert len(speaker.render("second prompt")) > 0


def test_the_disk_cache_spares_the_synthesiser(tmp_path: Path) -> None:
    first = Speaker(cache_dir=tmp_path)
    sound = first.render("Say again.")
    first.close()
    second = Speaker(cache_dir=tmp_path)
    try:
        os.kill(child(second), signal.SIGSTOP)
        assert np.array_equal(second.render("Say again."), sound)
    finally:
        second.close()
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize("damage", ["cut", "flipped", "emptied", "folder"])
def test_a_damaged_cache_file_is_made_again(tmp_path: Path, damage: str) -> None:
    first = Speaker(cache_dir=tmp_path)
    sound = first.render("Say again.")
    first.close()
    [path] = tmp_path.iterdir()
    content = bytearray(path.read_bytes())
    if damage == "cut":
        path.write_bytes(content[:-100])
    elif damage == "flipped":
        content[len(content) // 2] ^= 1
        path.write_bytes(content)
    elif damage == "emptied":
        path.write_bytes(b"")
    else:
        path.unlink()
        path.mkdir()
    second = Speaker(cache_dir=tmp_path)
    try:
        assert np.array_equal(second.render("Say again."), sound)
    finally:
        second.close()
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
    assert damage == "folder" or len(path.read_bytes()) == 32 + 2 * len(sound)


def test_the_cache_tells_voices_apart(tmp_path: Path) -> None:
    for settings in ({}, {"rate": 120}, {"voice": "en-us"}, {"volume": 0.5}):
        speaker = Speaker(cache_dir=tmp_path, **settings)  # type: ignore[arg-type]
        speaker.render("Say again.")
        speaker.close()
    assert len(list(tmp_path.iterdir())) == 4


def test_a_killed_synthesiser_is_replaced(speaker: Speaker) -> None:
    pid = child(speaker)
    os.kill(pid, signal.SIGKILL)
    assert len(speaker.render("Say again.")) > 0
    assert child(speaker) != pid


def test_a_hanging_synthesiser_is_replaced(
    speaker: Speaker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(room, "_RENDER_SECONDS", 0.5)
    pid = child(speaker)
    os.kill(pid, signal.SIGSTOP)
    assert len(speaker.render("Say again.")) > 0
    assert gone(pid)


def test_close_frees_whoever_waits_and_leaves_no_process(speaker: Speaker) -> None:
    pid = child(speaker)
    os.kill(pid, signal.SIGSTOP)
    caught: list[BaseException] = []

    def wait(text: str) -> None:
        try:
            speaker.render(text)
        except VoiceUnavailable as error:
            caught.append(error)

    # The first is at the synthesiser, the others are in the queue behind it.
    crowd = [
        threading.Thread(target=wait, args=(f"never said {n}",), daemon=True) for n in range(3)
    ]
    for waiting in crowd:
        waiting.start()
    time.sleep(0.2)
    speaker.close()
    for waiting in crowd:
        waiting.join(5)
    assert len(caught) == 3
    assert gone(pid)
    with pytest.raises(VoiceUnavailable, match="closed"):
        speaker.render("too late")


@pytest.mark.parametrize("text", ["", "...", " "])
def test_a_text_without_sound_is_an_error(speaker: Speaker, text: str) -> None:
    with pytest.raises(VoiceUnavailable, match="made no sound"):
        speaker.render(text)
    assert len(speaker.render("Say again.")) > 0


def test_an_unknown_voice_is_refused_with_those_there_are() -> None:
    with pytest.raises(VoiceUnavailable, match=r"no voice 'martian'.*en-gb.*en-us"):
        Speaker(voice="martian")


@pytest.mark.parametrize(
    ("broken", "told"),
    [
        # What pyttsx3 raises at import where libespeak-ng is missing.
        ("raise RuntimeError('you do not have eSpeak-ng installed!')", "not have eSpeak-ng"),
        ("import os; os._exit(9)", "its process ended"),
        ("import time; time.sleep(60)", "no answer within 1 s"),
    ],
)
def test_no_voice_is_told_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: str, told: str
) -> None:
    (tmp_path / "pyttsx3.py").write_text(broken)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setattr("voicecheck.voice.process._START_SECONDS", 1.0)
    with pytest.raises(VoiceUnavailable, match=told) as caught:
        Speaker()
    assert "apt-get install libespeak-ng1" in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("settings", [{"rate": 79}, {"rate": 451}, {"volume": 0}, {"volume": 1.1}])
def test_impossible_settings(settings: dict[str, float]) -> None:
    with pytest.raises(VoicecheckError, match="is not possible; give"):
        Speaker(**settings)  # type: ignore[arg-type]


def test_standard_output_stays_clean(tmp_path: Path) -> None:
    program = "from voicecheck.voice.speaker import Speaker as S; s=S(); s.render('one'); s.close()"
    ran = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )
    assert (ran.stdout, ran.stderr) == (b"", b"")


def test_trimming() -> None:
    sound = np.array([0, 63, -63, 64, 0, 0, -64, 63], np.int16)
    assert trimmed(sound).tolist() == [64, 0, 0, -64]
    assert len(trimmed(sound[:3])) == 0


def test_every_new_synthesiser_says_the_same_from_the_first_word() -> None:
    # Under load espeak's own thread used to lose the rate, or all of the prompt, in about one
    # of ten starts; so several start at once.
    lengths: set[int] = set()

    def say() -> None:
        speaker = Speaker(rate=120)
        try:
            lengths.update((len(speaker.render("Say again.")), len(speaker.render("Stand by."))))
        finally:
            speaker.close()

    for _ in range(4):
        threads = [threading.Thread(target=say) for _ in range(6)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(30)
    assert len(lengths) == 2


def test_the_latest_wish_replaces_those_before_it(speaker: Speaker) -> None:
    stale = [f"stale number {n} of many that nobody will ever need" for n in range(40)]
    speaker.prepare(stale)
    speaker.prepare(["wanted soon"])
    speaker.render("needed now")
    deadline = time.monotonic() + 20
    while speaker._kept("wanted soon") is None and time.monotonic() < deadline:
        time.sleep(0.02)
    assert speaker._kept("wanted soon") is not None
    assert sum(speaker._kept(text) is not None for text in stale) < 5


def test_memory_is_bounded_and_what_fell_out_is_made_again(
    speaker: Speaker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicecheck.voice.speaker._MEMORY_BYTES", 100_000)
    first = speaker.render("one of a kind")
    for number in range(8):
        speaker.render(f"another {number} of the others")
    assert speaker._held <= 100_000
    assert sum(sound.nbytes for sound in speaker._memory.values()) == speaker._held
    assert (speaker.render("one of a kind") == first).all()


def test_the_disk_cache_is_bounded_too(tmp_path: Path) -> None:
    cache = PromptCache(tmp_path)
    for number in range(6):
        cache.write(f"{number}", np.zeros(1000, np.int16))
        os.utime(tmp_path / f"{number}.prompt", (number, number))
    size = (tmp_path / "0.prompt").stat().st_size
    PromptCache(tmp_path, limit=3 * size)
    assert sorted(path.stem for path in tmp_path.glob("*.prompt")) == ["3", "4", "5"]
