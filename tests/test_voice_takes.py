"""A voice learned from takes: trimming, names of files, the regression, and the command as a creator runs it."""

from __future__ import annotations

import io
import json
import os
import random
import re
import wave
from array import array
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from episodekit.base.time import Ms
from episodekit.formats.voice_profile import read_voices, voice_lines, with_voice
from episodekit.job.model import Voice
from episodekit.job.reader import read_plan
from episodekit.outside.dictionary import load_dictionary
from episodekit.outside.media.probing.audio import NotHeard, loudness
from episodekit.timing.learn import FEWEST, _least_squares, fit_voice, learn
from episodekit.timing.speech import length_of, spoken_length, voice_times
from episodekit.timing.takes import Told, beat_of
from episodekit.timing.trim import levels, speech_span
from episodekit.timing.words import content
from tests.conftest import LAMP, JobFolder, Run
from tests.voices import heard
from tests.voices.make_dictionary import table, words


@pytest.fixture(autouse=True)
def own_voices(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A voices.yaml of the test's own."""
    path = tmp_path / "settings" / "voices.yaml"
    monkeypatch.setenv("EPISODEKIT_VOICES", str(path))
    return path


def noise(chance: random.Random, seconds: float, amplitude: int, rate: int = 16_000) -> array[int]:
    return array("h", (chance.randint(-amplitude, amplitude) for _ in range(round(seconds * rate))))


def recording(*stretches: tuple[float, int], rate: int = 16_000) -> bytes:
    """A WAV of noise: seconds and loudness of each stretch."""
    chance = random.Random(3)
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(rate)
        for seconds, amplitude in stretches:
            out.writeframes(noise(chance, seconds, amplitude, rate).tobytes())
    return file.getvalue()


def take_of(seconds: float) -> bytes:
    """A room, words for so many seconds with a pause among them, and the room again."""
    return recording((0.7, 40), (seconds / 2 - 0.25, 6000), (0.5, 40), (seconds / 2 - 0.25, 6000), (0.9, 40))


# -- trimming


@pytest.mark.parametrize("room", [0, 40, 600])
def test_silence_at_both_ends_is_left_out_and_pauses_inside_are_kept(room: int) -> None:
    chance = random.Random(1)
    samples = array("h")
    for seconds, amplitude in ((0.8, room), (1.5, 6000), (0.6, room), (2.0, 4000), (1.1, room)):
        samples += noise(chance, seconds, amplitude)
    span = speech_span(levels(samples, 16_000))
    assert span is not None
    assert abs(span[0] * 10 - 800) <= 20
    assert abs(span[1] * 10 - 4900) <= 20


def test_a_click_away_from_the_words_is_no_speech() -> None:
    loud = [-70.0] * 30 + [-10.0] * 3 + [-70.0] * 60 + [-20.0] * 200 + [-70.0] * 50
    assert speech_span(loud) == (93, 293)


def test_loudness_is_that_of_numpy() -> None:
    samples = noise(random.Random(2), 0.5, 20_000)
    frames = np.asarray(samples, dtype=float).reshape(-1, 160) / 32768
    expected = 10 * np.log10((frames**2).mean(axis=1))
    assert np.allclose(levels(samples, 16_000), expected)


@pytest.mark.parametrize(("name", "codec", "rate"), [("a.m4a", "aac", 44_100), ("a.flac", "flac", 48_000)])
def test_any_common_format_is_measured(name: str, codec: str, rate: int, tmp_path: Path) -> None:
    raw = recording((0.5, 30), (2.0, 8000), (0.5, 30), rate=rate)
    path = tmp_path / name
    with av.open(io.BytesIO(raw)) as source, av.open(str(path), "w") as target:
        stream = target.add_stream(codec, rate=rate)
        for frame in source.decode(audio=0):
            target.mux(stream.encode(frame))  # type: ignore[arg-type,attr-defined]  # PyAV's stub of add_stream
        target.mux(stream.encode(None))  # type: ignore[attr-defined]
    span = speech_span(loudness(path))
    assert span is not None
    assert abs((span[1] - span[0]) * 10 - 2000) <= 60  # the encoder may add a block of its own


def test_a_file_that_is_no_recording_says_so(tmp_path: Path) -> None:
    for name, raw in (("empty.wav", b""), ("text.wav", b"not a sound at all" * 50)):
        (tmp_path / name).write_bytes(raw)
        with pytest.raises(NotHeard):
            loudness(tmp_path / name)


# -- names


@pytest.mark.parametrize(
    ("stem", "beat"),
    [
        ("screen.2", "screen.2"),
        ("Screen.2-take3", "screen.2"),
        ("screen.20", "screen.20"),
        ("screen.20 b", "screen.20"),
        ("screen.2_final.mix", "screen.2"),
        ("screen", None),  # it has several beats
        ("open", "open.1"),  # it has one
        ("open take 2", "open.1"),
        ("opening", None),
        ("other.1", None),
    ],
)
def test_a_take_is_known_by_the_start_of_its_name(stem: str, beat: str | None) -> None:
    assert beat_of(stem, ["open.1", "screen.1", "screen.2", "screen.20"]) == beat


# -- learning


def made(voice: Voice, count: int, noise_share: float, seed: int = 5) -> list[Told]:
    chance = random.Random(seed)
    dictionary = load_dictionary()
    told = []
    for index, line in enumerate(heard.beats()[:count]):
        said = content((line,), dictionary)
        length = length_of(said, voice) * (1 + chance.gauss(0, noise_share))
        told.append(Told(f"b.{index}", said, Ms(round(length)), (f"takes/b.{index}.wav",)))
    return told


def test_a_voice_of_known_pace_is_found_again() -> None:
    learned = learn(made(Voice(pace=173), 8, 0.02))
    assert abs(learned.voice.pace - 173) < 3
    assert learned.voice.stop is None
    assert learned.error < 0.03


def test_pauses_are_learned_from_many_beats() -> None:
    true = Voice(pace=140, stop=Ms(900), comma=Ms(250))
    learned = learn(made(true, 40, 0.03))
    assert learned.voice.stop is not None
    assert abs(learned.voice.stop - 900) < 150
    assert learned.voice.comma is not None
    assert abs(learned.voice.comma - 250) < 100
    assert abs(learned.voice.pace / 140 - 1) < 0.03


def test_one_fluffed_line_does_not_bend_the_rest() -> None:
    told = made(Voice(pace=150), 10, 0.02)
    fluffed = [*told[:9], Told("b.9", told[9].said, Ms(told[9].length * 3 // 2), ("takes/b.9.wav",))]
    learned = learn(fluffed)
    assert abs(fit_voice(fluffed).pace / 150 - 1) < 0.05
    assert [one.told.beat for one in learned.outliers] == ["b.9"]
    plain = sum(one.length for one in fluffed) / sum(length_of(one.said, Voice(pace=150)) for one in fluffed)
    assert abs(float(fit_voice(fluffed).pace) / 150 - 1) < abs(1 / plain - 1)


def test_errors_are_of_beats_held_out() -> None:
    # With pauses of pure chance, what is learned in sample must look better than what is reported.
    told = made(Voice(pace=150), 14, 0.12)
    learned = learn(told)
    inside = [abs(length_of(one.said, learned.voice) / one.length - 1) for one in told]
    assert learned.error > sum(inside) / len(inside)
    with pytest.raises(ValueError, match="too few"):
        learn(told[: FEWEST - 1])


def test_regression_is_that_of_numpy() -> None:
    chance = random.Random(8)
    lines = [
        ([chance.random() for _ in range(3)], chance.random(), chance.uniform(0.1, 2)) for _ in range(30)
    ]
    weights = np.sqrt([w for _, _, w in lines])
    expected = np.linalg.lstsq(
        np.array([x for x, _, _ in lines]) * weights[:, None],
        np.array([y for _, y, _ in lines]) * weights,
        rcond=None,
    )[0]
    assert np.allclose(_least_squares(lines), expected)


def test_longer_pauses_leave_the_pace_as_it_is() -> None:
    slow, quick = Voice(pace=150, stop=Ms(1200), comma=Ms(700)), Voice(pace=150, stop=Ms(200), comma=Ms(100))
    assert voice_times(slow).k < voice_times(quick).k
    prose = " ".join(heard.beats())
    # Commas are more frequent in these beats than in ordinary narration, so the lengths differ a little.
    lengths = [spoken_length((prose,), voice, load_dictionary()).length for voice in (slow, quick)]
    assert abs(lengths[0] / lengths[1] - 1) < 0.06


# -- profiles


def test_a_profile_is_written_as_it_is_read() -> None:
    voice = Voice(pace=Fraction(1584, 10), stop=Ms(420), spread=Fraction(11, 100))
    text = with_voice("# my voices\nbo: {pace: 140 wpm}\n", "Ana at-the desk", voice)
    voices, found = read_voices(text, "voices.yaml")
    assert not found
    assert voices["ana at the desk"] == voice
    assert voices["bo"].pace == 140
    assert text.startswith("# my voices\n")
    again = with_voice(text, "ana at the desk", Voice(pace=150))
    assert read_voices(again, "voices.yaml")[0]["ana at the desk"].pace == 150
    assert len(read_voices(again, "voices.yaml")[0]) == 2
    assert voice_lines(voice) == ["pace: 158.4 wpm", "stop: 420 ms", "spread: 11%"]


def test_the_job_comes_before_its_profile(job: JobFolder, run: Callable[..., Run], own_voices: Path) -> None:
    own_voices.parent.mkdir()
    own_voices.write_text("ana: {pace: 100 wpm, breath: 2 s}\n")
    run("plan", job.root)
    average = (job.root / "out" / "plan.json").read_text()
    job.write(
        "job.md", LAMP.replace("frame rate: 25", "frame rate: 25\nvoice: {profile: Ana, pace: 150 wpm}")
    )
    run("plan", job.root)
    assert (job.root / "out" / "plan.json").read_text() == average  # no step has two beats
    job.write("job.md", LAMP.replace("frame rate: 25", "frame rate: 25\nvoice: {profile: Ana}"))
    run("plan", job.root)
    assert (job.root / "out" / "plan.json").read_text() != average


def test_unknown_profile_names_the_nearest(job: JobFolder, run: Callable[..., Run], own_voices: Path) -> None:
    own_voices.parent.mkdir()
    own_voices.write_text("anna: {pace: 100 wpm}\n")
    job.write("job.md", LAMP.replace("frame rate: 25", "frame rate: 25\nvoice: {profile: ana}"))
    done = run("check", job.root)
    assert done.status == 1
    assert "job.md:6:18: error TIME-PROFILE" in done.out
    assert "voices.yaml" in run("explain", "TIME-PROFILE").out
    assert "Did you mean 'anna'?" in done.out
    own_voices.write_text("bo: {pace: 900 wpm}\n")  # two mistakes, and both are told
    done = run("check", job.root)
    assert done.out.count("TIME-PROFILE") == done.out.count("TIME-VOICES") == 1
    own_voices.unlink()
    assert "voice fit JOB --save ana" in run("check", job.root).out


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (b"ana: {pace: 100}\n", 1),
        (b"bo: {pace: 100 wpm}\nana: {paice: 100 wpm}\n", 2),
        (b"ana: 150 wpm\n", 1),
        (b"- ana\n", 1),
        (b"ana: {pace: 100 wpm\n", None),
        (b"ana: {profile: bo}\nbo: {pace: 100 wpm}\n", 1),
        (b"ana: {stop: 9 s}\n", 1),
        (b"ana: {pace: 100 wpm, comma: 7 s}\n", 1),
        (b"ana:\n", 1),
        (b"a\x00na: {pace: 100 wpm}\n", 1),
        (b"\xff\xfe\x00", None),
        (b"x" * 300_000, None),
    ],
)
def test_broken_voices_file_is_found_at_its_place(
    text: bytes, line: int | None, job: JobFolder, run: Callable[..., Run], own_voices: Path
) -> None:
    own_voices.parent.mkdir()
    own_voices.write_bytes(text)
    job.write("job.md", LAMP.replace("frame rate: 25", "frame rate: 25\nvoice: {profile: ana}"))
    done = run("check", job.root)
    assert done.status == 1
    assert "TIME-VOICES" in done.out
    # one mistake, one finding: a voice that cannot be read is not told to be missing as well
    assert done.out.count("TIME-") == 1
    for jargon in ("put should be", "front matter", "valid", "5000"):
        assert jargon not in done.out
    if line is not None:
        assert f"voices.yaml:{line}:" in done.out


# -- the command


def lengths_of(pace: int) -> dict[str, float]:
    """How long each beat of the lamp job takes at a pace, in seconds."""
    plan, _ = read_plan(LAMP.encode())
    assert plan is not None
    return {
        beat.id: spoken_length(beat.paragraphs, Voice(pace=pace), load_dictionary()).length / 1000
        for step in plan.all_steps()
        for beat in step.beats
    }


def test_fit_learns_saves_and_the_saved_voice_is_used(
    job: JobFolder, run: Callable[..., Run], own_voices: Path
) -> None:
    for name, seconds in lengths_of(180).items():
        job.write(f"takes/{name}.wav", take_of(seconds))
    job.write("takes/solder.1-take2.wav", take_of(lengths_of(180)["solder.1"] + 0.2))
    job.write("takes/.hidden.wav", b"x")
    job.write("takes/session.rpp", b"x")
    done = run("voice", "fit", job.root, "--save", "ana")
    assert done.status == 0, done.text
    assert "Learned from 6 beats in 7 takes." in done.out
    pace = re.search(r"^  pace: ([\d.]+) wpm$", done.out, re.M)
    assert pace is not None
    assert abs(float(pace[1]) - 180) < 2
    assert re.search(r"off by [0-2]\.\d% on average", done.out)
    assert "pace" in own_voices.read_text()
    job.write("job.md", LAMP.replace("frame rate: 25", "frame rate: 25\nvoice: {profile: ana}"))
    assert "TIME" not in run("check", job.root).out


def test_wrong_takes_are_named_and_left_out(job: JobFolder, run: Callable[..., Run]) -> None:
    lengths = lengths_of(150)
    for name, seconds in lengths.items():
        job.write(f"takes/{name}.wav", take_of(seconds))
    job.write("takes/board.1.wav", take_of(lengths["board.1"] * 2.2))  # somebody talked on
    job.write("takes/result.1-b.wav", take_of(0.9))
    job.write("takes/scrws.1.wav", take_of(3))
    job.write("takes/open.1-b.wav", b"no sound")
    job.write("takes/open.1-c.wav", b"")
    job.write("takes/solder.1-b.wav", recording((3, 50)))
    done = run("voice", "fit", job.root)
    assert done.status == 0
    for code, file in (
        ("TIME-TAKE-BEAT", "takes/scrws.1.wav"),
        ("TIME-TAKE-UNREADABLE", "takes/open.1-b.wav"),
        ("TIME-TAKE-UNREADABLE", "takes/open.1-c.wav"),
        ("TIME-TAKE-SILENT", "takes/solder.1-b.wav"),
        ("TIME-TAKE-LENGTH", "takes/board.1.wav"),
        ("TIME-TAKE-LENGTH", "takes/result.1-b.wav"),
    ):
        assert re.search(rf"^{re.escape(file)}\S*: warning {code}:", done.err, re.M), (code, file, done.err)
    assert "Did you mean 'screws.1'?" in done.err
    assert "Learned from 5 beats in 5 takes." in done.out


def test_a_voice_with_one_bad_value_keeps_its_others(
    job: JobFolder, run: Callable[..., Run], own_voices: Path
) -> None:
    own_voices.parent.mkdir()
    plans = []
    for text in ("ana: {pace: 100 wpm}\n", "ana: {pace: 100 wpm, comma: 7 s}\n"):
        own_voices.write_text(text)
        job.write("job.md", LAMP.replace("frame rate: 25", "frame rate: 25\nvoice: {profile: ana}"))
        done = run("plan", job.root)
        plans.append(json.loads((job.root / "out" / "plan.json").read_text())["runtime_ms"])
    assert plans[0] == plans[1]
    assert "ana.comma: it is longer than 5 s. Write at most 5 s." in done.err


def test_odd_files_among_the_takes_stop_nothing(job: JobFolder, run: Callable[..., Run]) -> None:
    lengths = lengths_of(150)
    for name, seconds in lengths.items():
        job.write(f"takes/{name}.wav", take_of(seconds))
    job.write("takes/open.1 b.wav", recording())  # a header and no sound
    (job.root / "takes" / "open.1 c.wav").symlink_to("nowhere.wav")
    job.write("takes/take\udcff.wav", take_of(3))
    os.mkfifo(job.root / "takes" / "open.1 d.wav")  # nothing may wait for somebody to write into it
    done = run("plan", job.root)
    told = dict(re.findall(r"^(takes/.*\.wav): warning TIME-TAKE-UNREADABLE: (.*?\.)", done.err, re.M))
    assert told == {
        "takes/open.1 b.wav": "The file holds no sound.",
        "takes/open.1 c.wav": "The file is gone, or it is a link that leads nowhere.",
        "takes/open.1 d.wav": "The file is empty.",
        "takes/take\\udcff.wav": "Its name is not valid text.",
    }
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    takes = {beat["id"]: beat["take"] for step in plan["steps"] for beat in step["beats"]}
    assert takes == {name: f"takes/{name}.wav" for name in lengths}


def test_too_few_takes_say_what_to_record(job: JobFolder, run: Callable[..., Run]) -> None:
    done = run("voice", "fit", job.root)
    assert done.status == 1
    (told,) = re.findall(r"^takes: error (\S+):", done.err, re.M)
    assert told == "TIME-NO-VOICE"
    assert "The job has no takes/ folder. Make it, read beats aloud" in done.err
    assert "open.1.wav" in done.err
    (job.root / "takes").mkdir()
    assert "takes/ holds no recordings. Read" in run("voice", "fit", job.root).err
    job.write("takes/open.1.wav", b"not a sound")
    done = run("voice", "fit", job.root)
    assert done.status == 1
    assert "Of 1 file in takes/ none can be used. Read" in done.err
    lengths = lengths_of(150)
    for name in list(lengths)[:2]:
        job.write(f"takes/{name}.wav", take_of(lengths[name]))
    done = run("voice", "fit", job.root)
    assert done.status == 1  # nothing was learned, and an error says so
    assert "error TIME-NO-VOICE: 2 beats can be measured; it takes 3 to learn, 5 to trust it." in done.err
    for name in list(lengths)[:3]:
        job.write(f"takes/{name}.wav", take_of(lengths[name]))
    done = run("voice", "fit", job.root)
    assert done.status == 0
    assert "TIME-FEW-TAKES" in done.err
    assert "pace: 1" in done.out
    assert (job.root / "takes").is_dir()


def test_a_bad_name_or_a_broken_voices_file_saves_nothing(
    job: JobFolder, run: Callable[..., Run], own_voices: Path
) -> None:
    for name, seconds in lengths_of(150).items():
        job.write(f"takes/{name}.wav", take_of(seconds))
    assert run("voice", "fit", job.root, "--save", "a: b").status == 2
    assert not own_voices.exists()
    own_voices.parent.mkdir()
    own_voices.write_text("ana: [\n")
    done = run("voice", "fit", job.root, "--save", "ana")
    assert done.status == 3
    assert "The voice was not saved: YAML cannot be read" in done.err
    assert f"{own_voices}:2:1" in done.err
    assert own_voices.read_text() == "ana: [\n"
    own_voices.unlink()
    own_voices.mkdir()
    done = run("voice", "fit", job.root, "--save", "ana")
    assert done.status == 3
    assert "The voice was not saved: voices.yaml cannot be read (is a directory). Paste the lines" in done.err
    assert f"File: {own_voices}" in done.err
    own_voices.rmdir()
    (own_voices.parent / ".voices.yaml.part").mkdir()  # in the way of what is written first
    done = run("voice", "fit", job.root, "--save", "ana")
    assert done.status == 3
    assert "The voice was not saved: is a directory. Paste the lines above" in done.err
    assert f"File: {own_voices}" in done.err


def test_a_machine_voice_reads_the_takes_and_its_next_beats_are_predicted(
    job: JobFolder, run: Callable[..., Run], tmp_path: Path
) -> None:
    if not heard.is_here("pico"):
        pytest.skip(f"{heard.NEEDS['pico']} is not installed")
    lines = heard.beats()[:20]
    job.write("job.md", "---\ntitle: A\n---\n# A {#a}\n" + "\n\n".join(f"> {line}" for line in lines) + "\n")
    rows = heard.said_by(("pico", "en-GB", "1.0"), lines, tmp_path / "said")
    for index in range(14):
        job.write(f"takes/a.{index + 1}.wav", (tmp_path / "said" / f"{index:04}.wav").read_bytes())
    done = run("voice", "fit", job.root, "--save", "machine")
    assert done.status == 0
    assert "stop:" in done.out
    job.write(
        "job.md", (job.root / "job.md").read_text().replace("title: A", "title: A\nvoice: {profile: machine}")
    )
    run("plan", job.root)
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    planned = {beat["id"]: beat["length_ms"] for step in plan["steps"] for beat in step["beats"]}
    errors = [planned[f"a.{number}"] / 1000 / rows[number - 1][1] - 1 for number in range(15, 21)]
    assert sum(map(abs, errors)) / len(errors) < 0.08
    assert max(map(abs, errors)) < 0.18


def test_the_dictionary_is_made_as_it_says() -> None:
    text = "lamp L AE M P\nlamp(2) L AE M\nlamp's L AE M P S\nday D EY\n'em AH M\n"
    assert words(text) == {"lamp": (4, 0), "day": (2, 1)}
    assert table(words(text)) == table(words(text))
    shipped = load_dictionary()
    assert len(shipped) > 100_000
    assert shipped["capacitor"] == (
        8,
        1,
    )  # K AH P AE S AH T ER: by the CMU dictionary, ER is one phone; S is long
