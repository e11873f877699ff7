"""What comes between a mouth and the encoder, for training: engines and other noise, rooms, distance, clipping.

Everything is made in batches on one device from one generator. The noises are wider than those of `rehearsal.noise`
and share no code with it, so that measuring with that one measures on noise that was not learnt.
Refuses to know speech and learning.
"""

from __future__ import annotations

import math

import torch

RATE = 16000


class Disturbance:
    """Noises float [count, length] and what rooms do to sound, drawn from one generator."""

    def __init__(self, device: str, seed: int, banks: int, bank_seconds: float = 10.0) -> None:
        self.device = device
        self.chance = torch.Generator(device=device)
        self.chance.manual_seed(seed)
        length = round(bank_seconds * RATE)
        self.engines = torch.cat([self._engines(64, length) for _ in range(banks)])

    def uniform(self, low: float, high: float, *shape: int) -> torch.Tensor:
        return low + (high - low) * torch.rand(*shape, device=self.device, generator=self.chance)

    def whole(self, low: int, high: int, *shape: int) -> torch.Tensor:
        return torch.randint(low, high, shape, device=self.device, generator=self.chance)

    def normal(self, *shape: int) -> torch.Tensor:
        return torch.randn(*shape, device=self.device, generator=self.chance)

    def _time(self, length: int) -> torch.Tensor:
        return torch.arange(length, device=self.device) / RATE

    def _convolved(self, sound: torch.Tensor, response: torch.Tensor) -> torch.Tensor:
        length = sound.shape[1]
        size = length + response.shape[1]
        size += -size % 1024
        return torch.fft.irfft(torch.fft.rfft(sound, size) * torch.fft.rfft(response, size), size)[:, :length]

    def coloured(self, count: int, length: int) -> torch.Tensor:
        """Steady noise: any slope, three broad bumps, sometimes a cut of the high or the low part."""
        size = length + (-length % 1024)
        spectrum = torch.view_as_complex(self.normal(count, size // 2 + 1, 2))
        place = torch.linspace(1 / size, 1, size // 2 + 1, device=self.device)[None]
        shape = place ** (-0.5 * self.uniform(-0.3, 2.2, count, 1))
        for _ in range(3):
            middle, width = self.uniform(0, 1, count, 1) ** 2, self.uniform(0.005, 0.2, count, 1)
            shape = shape * (1 + self.uniform(0, 6, count, 1) * torch.exp(-(((place - middle) / width) ** 2)))
        cut = self.uniform(0.05, 2.0, count, 1)
        shape = shape / (1 + (place / cut) ** 6)
        return _unit(torch.fft.irfft(spectrum * shape, size)[:, :length])

    def _engines(self, count: int, length: int) -> torch.Tensor:
        """Four-stroke engines of 1 to 4 cylinders: hunting idle, rated, or turned by the starter motor."""
        time = self._time(length)
        state = self.uniform(0, 1, count, 1)
        speed = torch.where(state < 0.5, self.uniform(1300, 3700, count, 1), self.uniform(600, 1300, count, 1))
        cranking = state > 0.88
        speed = torch.where(cranking, self.uniform(120, 320, count, 1), speed)
        cylinders = self.whole(1, 5, count, 1).float()
        hunting = self.uniform(0.001, 0.03, count, 1) * torch.sin(
            2 * math.pi * self.uniform(0.1, 2.5, count, 1) * time + self.uniform(0, 6.28, count, 1)
        )
        turns = torch.cumsum(speed / 60 * (1 + hunting), 1) / RATE
        firing = turns * cylinders / 2
        falling = self.uniform(0.3, 1.6, count, 1)
        corner = self.uniform(60, 600, count, 1)
        tones = torch.zeros(count, length, device=self.device)
        for order in range(1, 64):
            hertz = order / 2 * speed / 60
            stands_out = torch.where(order % cylinders == 0, 1.0, self.uniform(0.05, 0.7, count, 1))
            strength = stands_out * self.uniform(0.2, 1.2, count, 1) / (1 + (hertz / corner) ** falling)
            tones += (strength * (hertz < 7400)) * torch.sin(math.pi * order * turns + self.uniform(0, 6.28, count, 1))
        since = firing % 1
        pulses = torch.exp(-since * self.uniform(2, 14, count, 1))
        pulses = pulses * (1 + 0.5 * torch.sin(2 * math.pi * firing * 0.5 + self.uniform(0, 6.28, count, 1)))
        deep = self.uniform(0, 1, count, 1)
        clatter = self.coloured(count, length) * (1 - deep + deep * pulses)
        rumble = self.coloured(count, length)
        whine = torch.sin(2 * math.pi * torch.cumsum((1 + hunting) * self.uniform(300, 3500, count, 1), 1) / RATE)
        whine = whine * torch.where(
            cranking, self.uniform(0.2, 1.0, count, 1), self.uniform(-1, 0.3, count, 1).clamp_min(0)
        )
        return _unit(
            self.uniform(0.1, 1.2, count, 1) * _unit(tones)
            + self.uniform(0.1, 1.2, count, 1) * _unit(clatter)
            + self.uniform(0, 0.7, count, 1) * rumble
            + 0.5 * whine
        )

    def engine(self, count: int, length: int) -> torch.Tensor:
        """Pieces of the engines that were made at the start."""
        which = self.whole(0, len(self.engines), count)
        start = self.whole(0, self.engines.shape[1] - length + 1, count)
        return self.engines[which[:, None], start[:, None] + torch.arange(length, device=self.device)]

    def fan(self, count: int, length: int) -> torch.Tensor:
        """Blades: tones of the blade rate, air whose loudness beats with it."""
        rate = self.uniform(30, 400, count, 1) * (
            1 + 0.01 * torch.sin(self.uniform(1, 6, count, 1) * self._time(length))
        )
        turn = torch.cumsum(rate, 1) / RATE
        tones = torch.zeros(count, length, device=self.device)
        for order in range(1, 9):
            tones += self.uniform(0, 1, count, 1) / order * torch.sin(2 * math.pi * order * turn)
        air = self.coloured(count, length) * (1 + self.uniform(0, 0.8, count, 1) * torch.sin(2 * math.pi * turn))
        return self.uniform(0, 1, count, 1) * _unit(tones) + _unit(air)

    def _struck(self, count: int, length: int, most: float, response: torch.Tensor) -> torch.Tensor:
        blows = torch.rand(count, length, device=self.device, generator=self.chance)
        blows = (blows < self.uniform(0.5, most, count, 1) / RATE).float() * self.uniform(0.2, 1, count, length)
        return self._convolved(blows, response)

    def impacts(self, count: int, length: int) -> torch.Tensor:
        """Things that fall and knock, dull or sharp."""
        time = self._time(4800)
        response = self.normal(count, 4800) * torch.exp(-time / self.uniform(0.005, 0.06, count, 1))
        return _unit(self._struck(count, length, 8, response)) + self.uniform(0.02, 0.3, count, 1) * self.coloured(
            count, length
        )

    def clatter(self, count: int, length: int) -> torch.Tensor:
        """Metal that rings."""
        time = self._time(8000)
        response = torch.zeros(count, 8000, device=self.device)
        for _ in range(5):
            ringing = torch.exp(-time / self.uniform(0.01, 0.2, count, 1)) * self.uniform(0.2, 1, count, 1)
            response += ringing * torch.sin(2 * math.pi * self.uniform(300, 7000, count, 1) * time)
        return _unit(self._struck(count, length, 10, response)) + self.uniform(0.02, 0.3, count, 1) * self.coloured(
            count, length
        )

    def water(self, count: int, length: int) -> torch.Tensor:
        """Drops, each a short rising or falling tone, over a hiss."""
        time = self._time(3200)
        drops = torch.zeros(count, length, device=self.device)
        for _ in range(4):
            tone = self.uniform(400, 4000, count, 1) * (1 + self.uniform(-3, 8, count, 1) * time)
            response = torch.sin(2 * math.pi * torch.cumsum(tone, 1) / RATE) * torch.exp(
                -time / self.uniform(0.004, 0.03, count, 1)
            )
            drops += _unit(self._struck(count, length, 60, response))
        return _unit(drops) + self.uniform(0.1, 1.5, count, 1) * self.coloured(count, length)

    def in_room(self, sound: torch.Tensor) -> torch.Tensor:
        """Sound heard in a hard-walled room from near or far: echoes, a tail, less of the high part with distance."""
        count, size = sound.shape[0], 8000
        time = self._time(size)
        tail = self.normal(count, size) * torch.exp(-6.9 * time / self.uniform(0.08, 0.7, count, 1))
        tail = tail * self.uniform(0.01, 0.25, count, 1) * (time > self.uniform(0.001, 0.012, count, 1))
        walls = torch.zeros(count, size, device=self.device)
        for _ in range(6):
            walls.scatter_add_(1, self.whole(16, 640, count, 1), self.uniform(-0.5, 0.5, count, 1))
        response = tail + walls
        response[:, 0] = 1
        smoothing = self.uniform(0, 0.6, count, 1) ** torch.arange(32, device=self.device)
        smoothing = smoothing / smoothing.sum(1, keepdim=True)
        return self._convolved(self._convolved(sound, response), smoothing)


def _unit(sound: torch.Tensor) -> torch.Tensor:
    """Scaled to root mean square 1; silence stays silent."""
    return sound / (sound.pow(2).mean(1, keepdim=True).sqrt() + 1e-6)


unit = _unit
