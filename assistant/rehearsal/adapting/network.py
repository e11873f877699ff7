"""The bundled model in PyTorch: the encoder, sound [batch, samples] at 16 kHz -> [batch, frames, 288], 41.7 frames a
second; and the decoder, which judges written pieces by that.

Knows the shapes of this one model. Refuses to know where weights come from.
"""

from __future__ import annotations

import torch
from torch import nn
from torch.nn import functional

from assistant.rehearsal.adapting.weights import HEADS, TURNED, WIDTH

LAYERS, INNER, PIECES = 6, 1152, 32768


def _turned(part: torch.Tensor, turn: tuple[torch.Tensor, torch.Tensor]) -> torch.Tensor:
    """Queries or keys, their first numbers turned by their place in time."""
    turning, fixed = part[..., :TURNED], part[..., TURNED:]
    across = torch.stack((-turning[..., 1::2], turning[..., 0::2]), -1).flatten(-2)
    return torch.cat((turning * turn[0] + across * turn[1], fixed), -1).to(part.dtype)


def _turns(length: int, turns: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
    angle = torch.arange(length, device=turns.device).float()[:, None] * turns[None]
    return angle.cos().repeat_interleave(2, -1), angle.sin().repeat_interleave(2, -1)


class _Attention(nn.Module):  # type: ignore[misc]  # torch is not there when types are checked
    def __init__(self) -> None:
        super().__init__()
        for name in ("q_proj", "k_proj", "v_proj", "o_proj"):
            setattr(self, name, nn.Linear(WIDTH, WIDTH, bias=False))

    def forward(
        self,
        asking: torch.Tensor,
        answering: torch.Tensor,
        turn: tuple[torch.Tensor, torch.Tensor] | None,
        causal: bool = False,
    ) -> torch.Tensor:
        """What is attended to.

        asking: [batch, length, width].
        answering: [batch, other length, width].
        causal: nobody looks ahead.
        """

        def heads(value: torch.Tensor, projection: nn.Module) -> torch.Tensor:
            return projection(value).view(len(value), -1, HEADS, WIDTH // HEADS).transpose(1, 2)

        query, key = heads(asking, self.q_proj), heads(answering, self.k_proj)
        if turn is not None:
            query, key = _turned(query, turn), _turned(key, turn)
        content = heads(answering, self.v_proj)
        mixed = functional.scaled_dot_product_attention(query, key, content, is_causal=causal)
        return self.o_proj(mixed.transpose(1, 2).reshape(len(asking), -1, WIDTH))


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

    def forward(self, sound: torch.Tensor, turn: tuple[torch.Tensor, torch.Tensor]) -> torch.Tensor:
        calm = self.input_layernorm(sound)
        sound = sound + self.self_attn(calm, calm, turn)
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
        turn = _turns(sound.shape[1], self.turns)
        for layer in self.layers:
            sound = layer(sound, turn)
        return self.layer_norm(sound)


class _GatedInner(nn.Module):  # type: ignore[misc]  # torch is not there when types are checked
    def __init__(self) -> None:
        super().__init__()
        self.fc1, self.fc2 = nn.Linear(WIDTH, 2 * INNER), nn.Linear(INNER, WIDTH)

    def forward(self, written: torch.Tensor) -> torch.Tensor:
        value, gate = self.fc1(written).chunk(2, -1)
        return self.fc2(functional.silu(gate) * value)


class _WritingLayer(nn.Module):  # type: ignore[misc]  # torch is not there when types are checked
    def __init__(self) -> None:
        super().__init__()
        for name in ("input_layernorm", "post_attention_layernorm", "final_layernorm"):
            setattr(self, name, nn.LayerNorm(WIDTH, bias=False))
        self.self_attn, self.encoder_attn, self.mlp = _Attention(), _Attention(), _GatedInner()

    def forward(
        self, written: torch.Tensor, heard: torch.Tensor, turn: tuple[torch.Tensor, torch.Tensor]
    ) -> torch.Tensor:
        calm = self.input_layernorm(written)
        written = written + self.self_attn(calm, calm, turn, causal=True)
        written = written + self.encoder_attn(self.post_attention_layernorm(written), heard, None)
        return written + self.mlp(self.final_layernorm(written))


class Decoder(nn.Module):  # type: ignore[misc]  # torch is not there when types are checked
    """Pieces written so far, int [batch, length], and what the encoder heard -> scores of the next, [..., 32768]."""

    def __init__(self) -> None:
        super().__init__()
        self.embed_tokens = nn.Embedding(PIECES, WIDTH)
        self.layers = nn.ModuleList([_WritingLayer() for _ in range(LAYERS)])
        self.norm = nn.LayerNorm(WIDTH, bias=False)
        self.proj_out = nn.Linear(WIDTH, PIECES, bias=False)
        turns = 1 / 10000 ** (torch.arange(0, TURNED, 2).float() / TURNED)
        self.register_buffer("turns", turns, persistent=False)

    def forward(self, pieces: torch.Tensor, heard: torch.Tensor) -> torch.Tensor:
        written = self.embed_tokens(pieces)
        turn = _turns(pieces.shape[1], self.turns)
        for layer in self.layers:
            written = layer(written, heard, turn)
        return self.proj_out(self.norm(written))
