"""All speech in the accelerator's memory; batches of it as a cockpit's microphone hears them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from voicecheck.training import noises, shards, wires
from voicecheck.training.noises import GRAIN, RATE, decibels, some, uniform, unit
from voicecheck.training.throats import throat

LEVEL_DBFS: Final = -23.0
WATCHED: Final = 71
"""Each so-manieth utterance is kept from training, to watch how it goes."""
_WEIGHTS: Final = {"kokoro": 3.0, "hibari": 0.6, "espeak": 0.8}
"""How readily an engine's utterances are drawn."""
_PAIRS: Final = 0.2
"""Share of examples with two utterances one after another: no word tells what the next will be."""
_CUT: Final = 0.3
"""Share of examples whose soft ends are cut off, as whoever finds words in noise does."""
_DEPTHS_DB: Final = (26.0, 38.0)
"""What lies so far under the loudest is cut there."""


@dataclass(frozen=True, slots=True)
class Batch:
    """sound, clean: (count, samples); labels: all joined; lengths: of each."""

    sound: Tensor
    clean: Tensor
    labels: Tensor
    lengths: Tensor


class Bank:
    """Finds shards while they are being made."""

    def __init__(self, folder: Path, capacity: int, device: torch.device, seed: int) -> None:
        """capacity: samples of 2 bytes."""
        self._folder, self._device = folder, device
        self._pcm = torch.zeros(capacity, dtype=torch.int16, device=device)
        self._used = 0
        self._seen: set[Path] = set()
        self._starts: list[int] = []
        self._sizes: list[int] = []
        self._louder: list[tuple[int, int]] = []
        self._kinds: list[str] = []
        self.labels: list[list[int]] = []
        self._chance = np.random.default_rng(seed)
        self.sizes = np.zeros(0, np.int64)
        self._begins = np.zeros(0, np.int64)
        self._loud = np.zeros((0, 2), np.int64)
        self._ready: dict[str, NDArray[np.int64]] = {}

    def scan(self) -> None:
        """Take in what is new."""
        for path in sorted(self._folder.glob("*.npy")):
            if path in self._seen:
                continue
            sound = shards.read(path.with_suffix(""))
            if self._used + len(sound) > self._pcm.numel():
                return
            self._seen.add(path)
            place = torch.from_numpy(sound).to(self._device)
            self._pcm[self._used : self._used + len(sound)] = place
            at = self._used
            for entry in shards.entries_of(path.with_suffix("")):
                self._starts.append(at)
                self._sizes.append(entry["samples"])
                depth = self._chance.uniform(*_DEPTHS_DB)
                self._louder.append(shards.louder(sound, at - self._used, entry["samples"], depth))
                self._kinds.append(path.name.split("_")[0])
                self.labels.append(entry["label"])
                at += entry["samples"]
            self._used += len(sound)
        self.sizes = np.array(self._sizes, np.int64)
        self._begins = np.array(self._starts, np.int64)
        self._loud = np.array(self._louder, np.int64).reshape(-1, 2)
        kinds, numbers = np.array(self._kinds), np.arange(len(self._kinds))
        self._ready = {
            str(kind): numbers[(kinds == kind) & (numbers % WATCHED != 0)]
            for kind in np.unique(kinds)
        }

    def __len__(self) -> int:
        return len(self._sizes)

    @property
    def hours(self) -> float:
        """Speech taken in."""
        return self._used / RATE / 3600

    def watched(self, kind: str, count: int) -> NDArray[np.int64]:
        """Utterances of one engine that nothing is trained with, shortest first."""
        kinds, numbers = np.array(self._kinds), np.arange(len(self._kinds))
        found = numbers[(kinds == kind) & (numbers % WATCHED == 0)][:count]
        return found[np.argsort(self.sizes[found])]

    @property
    def engines(self) -> list[str]:
        """Those there is speech of."""
        return list(self._ready)

    def _draw(self, count: int) -> NDArray[np.int64]:
        engines = self.engines
        weights = np.array([len(self._ready[e]) * _WEIGHTS.get(e, 1.0) for e in engines]) ** 0.7
        chosen = self._chance.choice(len(engines), count, p=weights / weights.sum())
        picks = [self._ready[engines[e]] for e in chosen]
        return np.array([own[self._chance.integers(len(own))] for own in picks])

    def _alike(self, count: int) -> NDArray[np.int64]:
        """Of about the same length, so that little of a batch is padding."""
        drawn = self._draw(4 * count)
        drawn = drawn[np.argsort(self.sizes[drawn])]
        quarter = int(self._chance.integers(4))
        return drawn[quarter * count : (quarter + 1) * count]

    def _placed(
        self,
        which: NDArray[np.int64],
        lead: Tensor,
        pace: Tensor,
        samples: int,
        cut: NDArray[np.bool_] | None = None,
    ) -> Tensor:
        """(count, samples) at RMS 1 while it sounds; lead: samples before; pace: 1 as it is.

        cut: whose soft ends are left out.
        """
        first, count = np.zeros(len(which), np.int64), self.sizes[which]
        if cut is not None:
            first = np.where(cut, self._loud[which, 0], 0)
            count = np.where(cut, self._loud[which, 1], count)
        starts = torch.tensor(self._begins[which] + first, device=self._device)[:, None]
        sizes = torch.tensor(count, device=self._device)[:, None]
        places = torch.arange(samples, device=self._device, dtype=torch.float32)[None]
        places = (places - lead[:, None]) * pace[:, None]
        below = places.floor()
        part, index = places - below, below.long()
        inside = (index >= 0) & (index < sizes - 1)
        at = (starts + index.clamp(min=0)).clamp(max=max(self._used - 2, 0))
        sound = self._pcm[at].float() * (1 - part) + self._pcm[at + 1].float() * part
        sound = sound * inside
        power = sound.pow(2).sum(1) / inside.sum(1).clamp(min=1)
        return sound / (power.sqrt()[:, None] + 1e-3)

    def _people(self, count: int, samples: int, voices: int) -> Tensor:
        """Other people talking, at RMS 1."""
        sound = torch.zeros(count, samples, device=self._device)
        for _ in range(voices):
            lead = uniform(-8000, samples * 0.7, count, self._device)
            pace = uniform(0.85, 1.2, count, self._device)
            level = uniform(0.3, 1.0, count, self._device)[:, None]
            sound = sound + self._placed(self._draw(count), lead, pace, samples) * level
        return unit(sound)

    def batch(self, count: int) -> Batch:
        """Examples to train with."""
        device, which = self._device, self._alike(count)
        pace = torch.where(
            torch.rand(count, device=device) < 0.8,
            uniform(0.82, 1.2, count, device),
            torch.ones(count, device=device),
        )
        lead = uniform(0.06, 0.6, count, device) * RATE
        ends = lead + torch.tensor(self.sizes[which], device=device) / pace
        labels = [self.labels[i] for i in which]
        second = None
        if self._chance.random() < _PAIRS:
            second = self._alike(count)
            later = ends + uniform(0.02, 0.4, count, device) * RATE
            more = uniform(0.85, 1.18, count, device)
            ends = later + torch.tensor(self.sizes[second], device=device) / more
            labels = [[*one, *self.labels[i]] for one, i in zip(labels, second, strict=True)]
        samples = int(ends.max().item() + self._chance.uniform(0.06, 0.5) * RATE)
        samples = -(-samples // GRAIN) * GRAIN
        sound = self._placed(which, lead, pace, samples, self._chance.random(count) < _CUT)
        if second is not None:
            sound = sound + self._placed(second, later, more, samples)
        sound = some(0.5, throat(sound), sound)
        clean = sound * 10 ** (LEVEL_DBFS / 20) + torch.randn_like(sound) * 10 ** (-70 / 20)
        heard = self._heard(sound)
        flat = torch.tensor([number for one in labels for number in one])
        return Batch(heard, clean.clamp(-1, 1), flat, torch.tensor([len(one) for one in labels]))

    def _heard(self, sound: Tensor) -> Tensor:
        """Through room, noise, microphone and wire."""
        count, samples = sound.shape
        device = self._device
        sound = some(0.35, noises.room(sound), sound)
        sound = some(0.5, noises.microphone(sound), sound)
        active = sound.abs() > 1e-5
        power = (sound.pow(2) * active).sum(1, keepdim=True) / active.sum(1, keepdim=True).clamp(1)
        sound = sound / power.sqrt().clamp(min=1e-4)
        sound = self._among_noise(sound, count, samples)
        if self._chance.random() < 0.4:  # a prompt leaks in, or somebody far away speaks
            leak = noises.room(self._people(count, samples, 1))
            leak = leak * decibels(-uniform(8, 24, count, device))
            sound = some(0.4, sound + leak, sound)
        hiss = torch.randn_like(sound) * decibels(-uniform(32, 60, count, device))
        sound = some(0.45, noises.band(sound + hiss), sound + hiss)
        return self._over_the_wire(sound)

    def _among_noise(self, sound: Tensor, count: int, samples: int) -> Tensor:
        device = self._device
        quiet = torch.rand(count, device=device) < 0.18
        ratio = torch.where(quiet, uniform(22, 45, count, device), uniform(-4, 20, count, device))
        noise = noises.cockpit(count, samples, device)
        kind = self._chance.random()
        if kind < 0.4:
            people = unit(self._people(count, samples, 3) + 0.3 * noise)
            noise = some(0.35, people, noise)
        elif kind < 0.65:
            others = wires.radio(self._people(count, samples, 1))
            level = decibels(-uniform(4, 20, count, device))
            sound = some(0.35, sound + others * level, sound)
        return sound + noise * decibels(-ratio)

    def _over_the_wire(self, sound: Tensor) -> Tensor:
        kind = self._chance.random()
        if kind < 0.25:
            sound = some(0.35, wires.coarse(sound), sound)
        elif kind < 0.5:
            sound = some(0.35, wires.thinned(sound), sound)
        elif kind < 0.7:
            sound = some(0.35, wires.levelled(sound), sound)
        elif kind < 0.8:
            sound = some(0.35, wires.broken(sound), sound)
        sound = sound * decibels(uniform(-36, -14, len(sound), self._device))
        driven = torch.tanh(sound * 6) / 6
        return some(0.08, driven, sound).clamp(-1, 1)

    def plain(self, which: NDArray[np.int64], ratio: float) -> Tensor:
        """Utterances over noise at one ratio in dB, without anything else."""
        count = len(which)
        lead = torch.full((count,), 0.4 * RATE, device=self._device)
        samples = -(-int(0.8 * RATE + self.sizes[which].max()) // GRAIN) * GRAIN
        pace = torch.ones(count, device=self._device)
        sound = self._placed(which, lead, pace, samples)
        noise = noises.cockpit(count, samples, self._device) * 10 ** (-ratio / 20)
        return ((sound + noise) * 10 ** (LEVEL_DBFS / 20)).clamp(-1, 1)
