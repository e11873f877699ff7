"""Learning on one GPU: a student hears in noise what the frozen encoder hears clean, and learns its output.

    python -m assistant.rehearsal.adapting.train DATA ENCODER RESULT [--seconds 540] [--batch 256] [--device cuda]

DATA: the folder of `speech`. ENCODER: the shipped encoder_model.ort. RESULT: an .npz of weights (running mean of the
student). The error is relative to the variance of the frozen encoder's output in each of its 288 dimensions.
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
from assistant.rehearsal.adapting.network import Encoder

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


class Speech:
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


def _noises(noise: Disturbance, speech: Speech, count: int, length: int) -> torch.Tensor:
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
    noise: Disturbance, speech: Speech, count: int, length: int, clean_share: float, held_out: bool = False
) -> tuple[torch.Tensor, ...]:
    """What the frozen encoder hears and what the student hears, float [count, samples]; samples is near `length`."""
    clean = speech.clips(count, length * 6 // 5, held_out)
    speed = float(noise.uniform(0.85, 1.18, 1))
    clean = functional.interpolate(clean[:, None], scale_factor=1 / speed, mode="linear")[:, 0, :length]
    length = clean.shape[1]
    place = torch.arange(length, device=noise.device)
    before, after = noise.uniform(0, 0.3, count, 1) * length, length - noise.uniform(0, 0.3, count, 1) * length
    quiet = (noise.uniform(0, 1, count, 1) < 0.6) & ((place < before) | (place >= after))
    clean = torch.where(quiet, 0.0, clean) * 10 ** (noise.uniform(-14, 12, count, 1) / 20)
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
    parser.add_argument("--from", dest="student", type=Path, help="weights that the student starts with")
    options = parser.parse_args()
    device: str = options.device
    torch.manual_seed(options.seed)
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    lengths = np.random.default_rng(options.seed)

    def encoder(path: Path) -> Encoder:
        made = Encoder().to(device)
        made.load_state_dict({name: torch.from_numpy(array) for name, array in weights.load(path).items()})
        return made  # type: ignore[no-any-return]  # torch is not there when types are checked

    begun = time.monotonic()
    frozen = encoder(options.encoder).eval().requires_grad_(False)
    student, average = (encoder(options.student or options.encoder) for _ in range(2))
    average.requires_grad_(False)
    with torch.no_grad():
        noise = Disturbance(device, options.seed, options.banks)
        speech = Speech(options.data, device, noise)
        print(f"{speech.minutes:.0f} minutes of speech, ready in {time.monotonic() - begun:.0f} s", flush=True)
        tests = [_batch(noise, speech, options.batch, length, 0.15, held_out=True) for length in (32000, 32000, 96000)]
        wanted = [frozen(clean) for clean, _ in tests]
        variance = torch.cat([output.reshape(-1, output.shape[-1]) for output in wanted]).var(0)

        def errors(model: Encoder) -> str:
            figures = []
            for (clean, noisy), output in zip(tests, wanted, strict=True):
                for sound in (noisy, clean):
                    figures.append(f"{float(((model(sound) - output) ** 2 / variance).mean()):.4f}")
            return " ".join(figures)

        print("error in noise and clean, 2 s, 2 s, 6 s:", errors(frozen), flush=True)
    learning = torch.optim.AdamW(student.parameters(), lr=options.rate, betas=(0.9, 0.98), weight_decay=0.01)
    begun, step = time.monotonic(), 0
    while (gone := time.monotonic() - begun) < options.seconds:
        rate = options.rate * min(1, (step + 1) / 300) * 0.5 * (1 + math.cos(math.pi * gone / options.seconds)) + 1e-6
        for group in learning.param_groups:
            group["lr"] = rate
        length = int(lengths.choice(LENGTHS, p=OFTEN))
        with torch.no_grad():
            clean, noisy = _batch(noise, speech, max(16, int(options.batch * 32000 / length)), length, options.clean)
            output = frozen(clean)
        with torch.autocast(device, torch.bfloat16):
            heard = student(noisy)
        error = (heard.float() - output) ** 2 / variance
        # The root of each frame's error as well: frames that are already good should become better still.
        loss = error.mean() + 0.5 * torch.sqrt(error.mean(-1) + 1e-6).mean()
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
