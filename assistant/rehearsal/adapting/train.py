"""Learning on one GPU: a student hears in noise what the frozen encoder hears clean, and learns its output.

    python -m assistant.rehearsal.adapting.train DATA ENCODER RESULT [--seconds 540] [--batch 256] [--device cuda]
        [--from STUDENT] [--taught TAUGHT.npz --decoder DECODER [--lessons 0.5]]

DATA: the folder of `speech`. ENCODER: the shipped encoder_model.ort. RESULT: an .npz of weights (running mean of the
student). With --taught half of the lessons are speech whose text is known (`mouths`): the frozen decoder
(decoder_model_merged.ort) must find that text likely in what the student hears. The error is relative to the variance
of the frozen encoder's output in each of its 288 dimensions.
Needs torch, numpy, soundfile, and onnxruntime with flatbuffers to read the shipped file. Runs of one seed and one time
differ slightly: how many steps the time allows differs.
"""

from __future__ import annotations

import argparse
import math
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from torch.nn import functional

from assistant.rehearsal.adapting import weights
from assistant.rehearsal.adapting.disturbance import RATE, Disturbance, unit
from assistant.rehearsal.adapting.network import Decoder, Encoder

LENGTHS = (16000, 28000, 48000, 80000, 144000)  # samples: 1 to 9 s
OFTEN = (0.2, 0.3, 0.2, 0.15, 0.15)
ROOM_SHARE, CLIPPED_SHARE, NARROW_SHARE = 0.35, 0.05, 0.1
LOUDEST_NOISE, FAINTEST_NOISE = -6.0, 25.0  # decibels, speech to noise
SYNTHETIC_SHARE = 0.35
TEST_SHARE = 0.03  # of each file, at its end, never trained on


def _read(path: str) -> NDArray[np.int16]:
    import soundfile

    sound, rate = soundfile.read(path, dtype="int16")
    if rate != RATE:
        raise ValueError(f"{path}: {rate} samples a second and not {RATE}")
    return np.asarray(sound, dtype=np.int16)


class TrainingSpeech:
    """All speech on the device, and clips of it; people and synthesis in fixed shares."""

    def __init__(self, folder: Path, device: str, chance: Disturbance) -> None:
        paths = sorted(folder.glob("*.ogg"))
        with ProcessPoolExecutor() as pool:
            sounds = list(pool.map(_read, map(str, paths)))
        self._chance, self._device = chance, device
        self.minutes = sum(map(len, sounds)) / RATE / 60
        self._all = torch.from_numpy(np.concatenate(sounds)).to(device)
        starts = np.concatenate([[0], np.cumsum([len(sound) for sound in sounds])])
        self._starts = torch.tensor(starts[:-1], device=device)
        self._lengths = torch.tensor([len(sound) for sound in sounds], device=device)
        made = np.array([path.name.startswith(("espeak", "festival")) for path in paths])
        share = np.array([len(sound) for sound in sounds], dtype=np.float64)
        if made.any() and not made.all():
            share[made] *= SYNTHETIC_SHARE / share[made].sum()
            share[~made] *= (1 - SYNTHETIC_SHARE) / share[~made].sum()
        self._share = torch.tensor(share, device=device, dtype=torch.float32)

    def clips(self, count: int, length: int, held_out: bool = False) -> torch.Tensor:
        """float [count, length], from anywhere in a file but its last 3 %, or from those alone."""
        which = torch.multinomial(self._share, count, replacement=True, generator=self._chance.chance)
        lengths = self._lengths[which]
        border = (lengths * (1 - TEST_SHARE)).long()
        low = border if held_out else torch.zeros_like(border)
        high = ((lengths if held_out else border) - length).clamp_min(low + 1)
        place = torch.rand(count, device=self._device, generator=self._chance.chance)
        start = self._starts[which] + low + (place * (high - low)).long()
        start = start.clamp_max(len(self._all) - length)
        return self._all[start[:, None] + torch.arange(length, device=self._device)].float() / 32768


class Taught:
    """Clips whose written pieces are known, on the device. start, end: the pieces that a text begins and ends with."""

    def __init__(self, path: Path, device: str, chance: Disturbance, start: int = 1, end: int = 2) -> None:
        with np.load(path) as kept:
            starts, pieces, counts = (kept[name] for name in ("starts", "pieces", "counts"))
        sound = _read(str(path.with_suffix(".ogg")))
        self._chance, self._device = chance, device
        self._all = torch.from_numpy(sound).to(device)
        self._starts = torch.from_numpy(starts[:-1].astype(np.int64)).to(device)
        self._lengths = torch.from_numpy(np.diff(starts).astype(np.int64)).to(device)
        longest = int(counts.max()) + 2
        texts = np.full((len(counts), longest), -100, dtype=np.int64)  # what cross entropy leaves out
        at = 0
        for row, count in enumerate(counts):
            texts[row, : count + 2] = [start, *pieces[at : at + count], end]
            at += count
        self._texts = torch.from_numpy(texts).to(device)
        order = np.random.default_rng(1).permutation(len(counts))
        kept_for_test = torch.zeros(len(counts), dtype=torch.bool)
        kept_for_test[order[: round(len(counts) * TEST_SHARE)]] = True
        self._test = kept_for_test.to(device)

    def clips(self, count: int, length: int, held_out: bool = False) -> tuple[torch.Tensor, torch.Tensor]:
        """float [count, length], each clip whole and somewhere in silence; pieces [count, most], -100 after the end."""
        fits = (self._lengths < 0.92 * length) & (self._lengths > 0.3 * length) & (self._test == held_out)
        # Long ones are rare; those that fit are drawn alike.
        which = torch.multinomial(fits.float(), count, replacement=True, generator=self._chance.chance)
        lengths = self._lengths[which]
        room = (length - lengths) * torch.rand(count, device=self._device, generator=self._chance.chance)
        place = torch.arange(length, device=self._device)[None] - room.long()[:, None]
        inside = (place >= 0) & (place < lengths[:, None])
        sound = self._all[(self._starts[which][:, None] + place).clamp(0, len(self._all) - 1)].float() / 32768
        return torch.where(inside, sound, 0.0), self._texts[which]


def _noises(noise: Disturbance, speech: TrainingSpeech, count: int, length: int) -> torch.Tensor:
    """Every kind of noise, shuffled, level 1; a quarter of them two kinds at once."""
    part = max(1, count // 16)
    babble = torch.zeros(2 * part, length, device=noise.device)
    for _ in range(4):
        babble += unit(speech.clips(2 * part, length)) * noise.uniform(0.2, 1, 2 * part, 1)
    kinds = [
        noise.coloured(2 * part, length), babble, noise.impacts(part, length), noise.clatter(part, length),
        noise.fan(part, length), noise.water(part, length),
    ]  # fmt: skip
    kinds.append(noise.engine(max(1, count - sum(map(len, kinds))), length))
    every = torch.cat([unit(kind) for kind in kinds])
    every = every[torch.randperm(len(every), device=noise.device, generator=noise.chance)][:count]
    second = every.roll(1, 0) * noise.uniform(0.1, 1, count, 1) * (noise.uniform(0, 1, count, 1) < 0.25)
    return unit(every + second)


def _batch(
    noise: Disturbance, speech: TrainingSpeech, count: int, length: int, clean_share: float, held_out: bool = False
) -> tuple[torch.Tensor, ...]:
    """What the frozen encoder hears and what the student hears, float [count, samples]; samples is near `length`."""
    clean = _at_speed(speech.clips(count, length * 6 // 5, held_out), noise)[:, :length]
    length = clean.shape[1]
    place = torch.arange(length, device=noise.device)
    before, after = noise.uniform(0, 0.3, count, 1) * length, length - noise.uniform(0, 0.3, count, 1) * length
    quiet = (noise.uniform(0, 1, count, 1) < 0.6) & ((place < before) | (place >= after))
    return _disturbed(torch.where(quiet, 0.0, clean), noise, speech, clean_share)


def _taught_batch(
    noise: Disturbance,
    speech: TrainingSpeech,
    taught: Taught,
    count: int,
    length: int,
    clean_share: float,
    held_out: bool = False,
) -> tuple[torch.Tensor, ...]:
    """The same of whole clips, and their pieces, int [count, most]."""
    clean, pieces = taught.clips(count, length * 5 // 6, held_out)  # longer, when slowed down
    most = int((pieces >= 0).sum(1).max())
    return *_disturbed(_at_speed(clean, noise), noise, speech, clean_share), pieces[:, :most]


def _at_speed(clean: torch.Tensor, noise: Disturbance) -> torch.Tensor:
    speed = float(noise.uniform(0.85, 1.18, 1))
    return functional.interpolate(clean[:, None], scale_factor=1 / speed, mode="linear")[:, 0]


def _disturbed(
    clean: torch.Tensor, noise: Disturbance, speech: TrainingSpeech, clean_share: float
) -> tuple[torch.Tensor, torch.Tensor]:
    """Clean sound at some level and width, and the same in a room, in noise, clipped; float [count, length]."""
    count, length = clean.shape
    clean = clean * 10 ** (noise.uniform(-14, 12, count, 1) / 20)
    narrow = noise.uniform(0, 1, count, 1) < NARROW_SHARE  # telephones; the frozen encoder hears the same
    spectrum = torch.fft.rfft(clean)
    hertz = torch.linspace(0, RATE / 2, spectrum.shape[1], device=noise.device)
    clean = torch.where(narrow, torch.fft.irfft(spectrum * (hertz < 3700), length), clean)

    frames = functional.avg_pool1d(clean.pow(2)[:, None], 320, 320)[:, 0]
    heard = frames >= frames.amax(1, keepdim=True) * 10**-3.5
    level = ((frames * heard).sum(1, keepdim=True) / heard.sum(1, keepdim=True)).sqrt().clamp_min(1e-3)
    in_room = noise.uniform(0, 1, count, 1) < ROOM_SHARE
    heard_sound = torch.where(in_room, noise.in_room(clean), clean)
    decibels = noise.uniform(LOUDEST_NOISE, FAINTEST_NOISE, count, 1)
    noisy = (noise.uniform(0, 1, count, 1) >= clean_share).float()
    heard_sound = heard_sound + noisy * _noises(noise, speech, count, length) * level * 10 ** (-decibels / 20)
    clipped = noise.uniform(0, 1, count, 1) < CLIPPED_SHARE
    ceiling = heard_sound.abs().amax(1, keepdim=True) * noise.uniform(0.15, 0.7, count, 1)
    heard_sound = torch.where(clipped, heard_sound.clamp(-ceiling, ceiling), heard_sound)
    peak = heard_sound.abs().amax(1, keepdim=True).clamp_min(1)
    return clean.clamp(-1, 1), heard_sound / peak


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("data", type=Path)
    parser.add_argument("encoder", type=Path)
    parser.add_argument("result", type=Path)
    parser.add_argument("--seconds", type=float, default=540)
    parser.add_argument("--batch", type=int, default=256, help="clips of two seconds; fewer of longer ones")
    parser.add_argument("--rate", type=float, default=3e-4, help="of learning, at its peak")
    parser.add_argument("--clean", type=float, default=0.15, help="share of clips without noise")
    parser.add_argument("--banks", type=int, default=32, help="times 64 engines")
    parser.add_argument("--device", default="cuda")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--from", dest="student", help="weights that the student starts with, FILE or FILE@SHARE")
    parser.add_argument("--lessons", type=float, default=0.5, help="share of the lessons that are clips with texts")
    parser.add_argument("--taught", type=Path, help="clips with their texts, the taught.npz of `mouths`")
    parser.add_argument("--decoder", type=Path, help="the shipped decoder_model_merged.ort")
    parser.add_argument("--text", type=float, default=1.0, help="weight of the text beside the frozen encoder's output")
    options = parser.parse_args()
    device: str = options.device
    torch.manual_seed(options.seed)
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    lengths = np.random.default_rng(options.seed)

    def encoder(given: weights.Weights) -> Encoder:
        made = Encoder().to(device)
        made.load_state_dict({name: torch.from_numpy(array) for name, array in given.items()})
        return made  # type: ignore[no-any-return]  # torch is not there when types are checked

    begun = time.monotonic()
    given = shipped = weights.load(options.encoder)
    if options.student is not None:
        given = weights.student(options.student, shipped)
    frozen = encoder(shipped).eval().requires_grad_(False)
    student, average = (encoder(given) for _ in range(2))
    average.requires_grad_(False)
    with torch.no_grad():
        noise = Disturbance(device, options.seed, options.banks)
        speech = TrainingSpeech(options.data, device, noise)
        taught = None if options.taught is None else Taught(options.taught, device, noise)
        decoder = Decoder().to(device).eval().requires_grad_(False)
        if taught is not None:
            written = weights.shipped_decoder(options.decoder)
            decoder.load_state_dict({name: torch.from_numpy(array) for name, array in written.items()})
        print(f"{speech.minutes:.0f} minutes of speech, ready in {time.monotonic() - begun:.0f} s", flush=True)
        tests = [_batch(noise, speech, options.batch, length, 0.15, held_out=True) for length in (32000, 32000, 96000)]
        wanted = [frozen(clean) for clean, _ in tests]
        variance = torch.cat([output.reshape(-1, output.shape[-1]) for output in wanted]).var(0)

        def errors(model: Encoder) -> str:
            figures = []
            for (clean, noisy), output in zip(tests, wanted, strict=True):
                for sound in (noisy, clean):
                    figures.append(f"{float(((model(sound) - output) ** 2 / variance).mean()):.4f}")
            for clean, noisy, pieces in texts:
                for sound in (noisy, clean):
                    figures.append(f"{float(unlikely(model(sound), pieces)):.4f}")
            return " ".join(figures)

        def unlikely(heard: torch.Tensor, pieces: torch.Tensor) -> torch.Tensor:
            """Mean log probability of the pieces that should follow, negated."""
            scores = decoder(pieces[:, :-1].clamp_min(0), heard)
            return functional.cross_entropy(scores.flatten(0, 1).float(), pieces[:, 1:].flatten())

        texts = []
        if taught is not None:
            texts = [_taught_batch(noise, speech, taught, 64, length, 0.0, held_out=True) for length in (32000, 48000)]

        print("error in noise and clean, 2 s, 2 s, 6 s; text unlikely the same:", errors(frozen), flush=True)
    learning = torch.optim.AdamW(student.parameters(), lr=options.rate, betas=(0.9, 0.98), weight_decay=0.01)
    begun, step = time.monotonic(), 0
    while (gone := time.monotonic() - begun) < options.seconds:
        rate = options.rate * min(1, (step + 1) / 300) * 0.5 * (1 + math.cos(math.pi * gone / options.seconds)) + 1e-6
        for group in learning.param_groups:
            group["lr"] = rate
        length = int(lengths.choice(LENGTHS, p=OFTEN))
        count = max(16, int(options.batch * 32000 / length))
        with torch.no_grad():
            pieces = None
            if taught is None or lengths.random() >= options.lessons:
                clean, noisy = _batch(noise, speech, count, length, options.clean)
            else:
                length = max(length, 28000)
                clean, noisy, pieces = _taught_batch(noise, speech, taught, count, length, options.clean)
            output = frozen(clean)
        with torch.autocast(device, torch.bfloat16):
            heard = student(noisy)
            text = 0.0 if pieces is None else options.text * unlikely(heard, pieces)
        error = (heard.float() - output) ** 2 / variance
        # The root of each frame's error as well: frames that are already good should become better still.
        loss = error.mean() + 0.5 * torch.sqrt(error.mean(-1) + 1e-6).mean() + text
        learning.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(student.parameters(), 1.0)
        learning.step()
        keep = min(0.999, (1 + step) / (10 + step))
        with torch.no_grad():
            for mean, new in zip(average.parameters(), student.parameters(), strict=True):
                mean.lerp_(new, 1 - keep)
        step += 1
        if step % 500 == 0:
            with torch.no_grad():
                print(f"step {step}, {gone:.0f} s, loss {loss.item():.4f}, errors {errors(average)}", flush=True)
    with torch.no_grad():
        print(f"{step} steps, errors {errors(average)}")
    weights.save({name: array.cpu().float().numpy() for name, array in average.state_dict().items()}, options.result)


if __name__ == "__main__":
    main()
