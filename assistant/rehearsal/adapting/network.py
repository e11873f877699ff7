"""The bundled encoder in PyTorch: sound [batch, samples] at 16 kHz -> [batch, frames, 288], 41.7 frames a second.

Knows the shapes of this one model. Refuses to know where weights come from.
"""

from __future__ import annotations

import torch
from torch import nn
from torch.nn import functional

WIDTH, HEADS, LAYERS, INNER, TURNED = 288, 8, 6, 1152, 32


class _Attention(nn.Module):  # type: ignore[misc]  # torch is not there when types are checked
    def __init__(self) -> None:
        super().__init__()
        for name in ("q_proj", "k_proj", "v_proj", "o_proj"):
            setattr(self, name, nn.Linear(WIDTH, WIDTH, bias=False))

    def forward(self, sound: torch.Tensor, cosine: torch.Tensor, sine: torch.Tensor) -> torch.Tensor:
        batch, frames, _ = sound.shape

        def heads(projection: nn.Module) -> torch.Tensor:
            return projection(sound).view(batch, frames, HEADS, WIDTH // HEADS).transpose(1, 2)

        def turned(part: torch.Tensor) -> torch.Tensor:
            turning, fixed = part[..., :TURNED], part[..., TURNED:]
            across = torch.stack((-turning[..., 1::2], turning[..., 0::2]), -1).flatten(-2)
            return torch.cat((turning * cosine + across * sine, fixed), -1).to(part.dtype)

        mixed = functional.scaled_dot_product_attention(
            turned(heads(self.q_proj)), turned(heads(self.k_proj)), heads(self.v_proj)
        )
        return self.o_proj(mixed.transpose(1, 2).reshape(batch, frames, WIDTH))


class _Inner(nn.Module):  # type: ignore[misc]  # torch is not there when types are checked
    def __init__(self) -> None:
        super().__init__()
        self.fc1, self.fc2 = nn.Linear(WIDTH, INNER), nn.Linear(INNER, WIDTH)

    def forward(self, sound: torch.Tensor) -> torch.Tensor:
        return self.fc2(functional.gelu(self.fc1(sound)))


class _Layer(nn.Module):  # type: ignore[misc]  # torch is not there when types are checked
    def __init__(self) -> None:
        super().__init__()
        self.input_layernorm = nn.LayerNorm(WIDTH, bias=False)
        self.post_attention_layernorm = nn.LayerNorm(WIDTH, bias=False)
        self.self_attn, self.mlp = _Attention(), _Inner()

    def forward(self, sound: torch.Tensor, cosine: torch.Tensor, sine: torch.Tensor) -> torch.Tensor:
        sound = sound + self.self_attn(self.input_layernorm(sound), cosine, sine)
        return sound + self.mlp(self.post_attention_layernorm(sound))


class Encoder(nn.Module):  # type: ignore[misc]  # torch is not there when types are checked
    """Sound float [batch, samples] -> float [batch, frames, 288]."""

    def __init__(self) -> None:
        super().__init__()
        self.conv1 = nn.Conv1d(1, WIDTH, 127, 64, bias=False)
        self.groupnorm = nn.GroupNorm(1, WIDTH, 1e-5)
        self.conv2, self.conv3 = nn.Conv1d(WIDTH, 2 * WIDTH, 7, 3), nn.Conv1d(2 * WIDTH, WIDTH, 3, 2)
        self.layers = nn.ModuleList([_Layer() for _ in range(LAYERS)])
        self.layer_norm = nn.LayerNorm(WIDTH, bias=False)
        turns = 1 / 10000 ** (torch.arange(0, TURNED, 2).float() / TURNED)
        self.register_buffer("turns", turns, persistent=False)

    def forward(self, samples: torch.Tensor) -> torch.Tensor:
        sound = self.groupnorm(torch.tanh(self.conv1(samples[:, None])))
        sound = functional.gelu(self.conv3(functional.gelu(self.conv2(sound)))).transpose(1, 2)
        angle = torch.arange(sound.shape[1], device=sound.device).float()[:, None] * self.turns[None]
        cosine, sine = angle.cos().repeat_interleave(2, -1), angle.sin().repeat_interleave(2, -1)
        for layer in self.layers:
            sound = layer(sound, cosine, sine)
        return self.layer_norm(sound)
