"""Train the listener on one or several accelerators, while speech is still being made.

    python -m voicecheck.training.train SPEECH MOONSHINE WEIGHTS SECONDS [BATCH [SHARE [START]]]

The loss is CTC over phones, plus SHARE times the distance to what the published encoder makes of
the same speech without noise: that holds on to what it learnt from people. Each accelerator draws
its own batches; their gradients are averaged. WEIGHTS gets the moving average of the parameters as
half floats, every minute and at the end. START: an earlier round to go on from, its weights or
its exported ONNX file.
"""

from __future__ import annotations

import math
import os
import sys
import time
from contextlib import nullcontext
from pathlib import Path
from typing import Any, Final

import torch
import torch.nn.functional as F
from torch import Tensor

from voicecheck.training.bank import Bank
from voicecheck.training.encoder import pretrained
from voicecheck.training.head import Head, Listener
from voicecheck.training.reopen import parameters

RATES: Final = {"head": 1.4e-3, "encoder": 3e-4}
"""Highest learning rates."""
_AGAIN: Final = 0.6
"""Share of these where training goes on from an earlier round."""
_WARM_SECONDS: Final = 20.0
_TELL_SECONDS: Final = 60.0
_LEAST: Final = 2_000
"""Utterances to begin with."""
_CAPACITY: Final = 6_000_000_000
_PORT: Final = "29511"


class Training:
    """One process, one accelerator."""

    def __init__(self, rank: int, count: int, arguments: list[str]) -> None:
        speech, moonshine, weights, seconds, batch, share, start = arguments
        self._rank, self._count = rank, count
        there = torch.cuda.is_available()
        self._device = torch.device("cuda", rank) if there else torch.device("cpu")
        if there:
            torch.cuda.set_device(rank)
            torch.backends.cuda.matmul.allow_tf32 = True
            torch.backends.cudnn.allow_tf32 = True
        if count > 1:
            os.environ |= {"MASTER_ADDR": "127.0.0.1", "MASTER_PORT": _PORT}
            torch.distributed.init_process_group("nccl", rank=rank, world_size=count)
        torch.manual_seed(0)
        net = Listener(pretrained(Path(moonshine)), Head())
        if start:
            net.load_state_dict(_begun(Path(start)))
        self._net = net.to(self._device)
        self._teacher = pretrained(Path(moonshine)).to(self._device).eval().requires_grad_(False)
        self._average = {k: v.detach().clone() for k, v in self._net.state_dict().items()}
        torch.manual_seed(100 + rank)
        capacity = _CAPACITY if there else 50_000_000
        self._bank = Bank(Path(speech), capacity, self._device, 200 + rank)
        self._weights, self._batch, self._share = Path(weights), int(batch), float(share)
        self._seconds, self._began = float(seconds), time.monotonic()
        parts = {"head": self._net.head, "encoder": self._net.encoder}
        much = _AGAIN if start else 1.0
        self._groups = [
            {"params": list(part.parameters()), "lr": RATES[name], "top": much * RATES[name]}
            for name, part in parts.items()
        ]
        self._optimiser = torch.optim.AdamW(
            self._groups, weight_decay=0.01, betas=(0.9, 0.98), fused=there
        )

    def _half(self) -> Any:
        if self._device.type == "cuda":
            return torch.autocast("cuda", dtype=torch.bfloat16)
        return nullcontext()

    def run(self) -> None:
        """Until the time is up on the first process."""
        while True:
            self._bank.scan()
            if len(self._bank) >= _LEAST or self._device.type == "cpu":
                break
            time.sleep(3)
        self._net.train()
        step, told, scanned, kept = 0, time.monotonic(), time.monotonic(), time.monotonic()
        first = time.monotonic()
        losses = torch.zeros(2, device=self._device)
        since = 0
        while self._going(step):
            self._schedule(time.monotonic() - first)
            losses += self._step()
            step += 1
            since += 1
            self._follow(min(0.9985, (1 + step) / (10 + step)))
            now = time.monotonic()
            if now - scanned > 30:
                self._bank.scan()
                scanned = time.monotonic()
            if self._rank == 0 and (now - told > _TELL_SECONDS or step == 20):
                self._tell(step, losses / since)
                losses.zero_()
                since, told = 0, time.monotonic()
            if self._rank == 0 and now - kept > 60:
                self.save()
                kept = time.monotonic()
        if self._rank == 0:
            self.save()
            self._tell(step, losses / max(1, since))

    def _elapsed(self) -> float:
        return (time.monotonic() - self._began) / self._seconds

    def _going(self, step: int) -> bool:
        if self._count == 1:
            return self._elapsed() < 1
        if step % 10:
            return True
        flag = torch.tensor([float(self._elapsed() < 1)], device=self._device)
        torch.distributed.broadcast(flag, 0)
        return bool(flag.item())

    def _schedule(self, running: float) -> None:
        warm = min(1.0, running / _WARM_SECONDS + 0.02)
        fall = 0.02 + 0.98 * 0.5 * (1 + math.cos(math.pi * min(1.0, self._elapsed())))
        for group in self._optimiser.param_groups:
            group["lr"] = group["top"] * warm * fall

    def _step(self) -> Tensor:
        batch = self._bank.batch(self._batch)
        with self._half():
            layers, last = self._net.encoder(batch.sound)
            posteriors = self._net.head(layers, last)
            with torch.no_grad():
                wanted = self._teacher(batch.clean)[1].float()
        far = (last.float() - wanted).pow(2).mean() / wanted.pow(2).mean()
        frames = torch.full((self._batch,), posteriors.shape[1], dtype=torch.long)
        ctc = F.ctc_loss(
            posteriors.transpose(0, 1),
            batch.labels.to(self._device),
            frames,
            batch.lengths,
            reduction="sum",
            zero_infinity=True,
        )
        ctc = ctc / batch.lengths.sum()
        self._optimiser.zero_grad(set_to_none=False)
        (ctc + self._share * far).backward()
        self._join()
        if bool(torch.isfinite(torch.nn.utils.clip_grad_norm_(self._net.parameters(), 1.0))):
            self._optimiser.step()
        return torch.stack((ctc.detach(), far.detach()))

    def _join(self) -> None:
        """The mean of all processes' gradients."""
        if self._count == 1:
            return
        gradients = [p.grad for p in self._net.parameters() if p.grad is not None]
        flat = torch.cat([gradient.reshape(-1) for gradient in gradients])
        torch.distributed.all_reduce(flat)
        flat /= self._count
        at = 0
        for gradient in gradients:
            gradient.copy_(flat[at : at + gradient.numel()].view_as(gradient))
            at += gradient.numel()

    @torch.no_grad()
    def _follow(self, stay: float) -> None:
        state = self._net.state_dict()
        kept = [self._average[k] for k, v in state.items() if v.dtype.is_floating_point]
        now = [v for v in state.values() if v.dtype.is_floating_point]
        torch._foreach_lerp_(kept, now, 1 - stay)

    def save(self) -> None:
        """Write the averaged weights, whole or not at all."""
        state = {
            k: v.half() if v.dtype == torch.float32 and "frequencies" not in k else v
            for k, v in self._average.items()
        }
        fresh = self._weights.with_suffix(".part")
        torch.save(state, fresh)
        fresh.rename(self._weights)

    @torch.no_grad()
    def _tell(self, step: int, losses: Tensor) -> None:
        own = {k: v.clone() for k, v in self._net.state_dict().items()}
        self._net.load_state_dict(self._average)
        self._net.eval()
        rates = {
            f"{engine} {ratio}": round(self._errors(engine, float(ratio)), 1)
            for engine in self._bank.engines
            for ratio in (40, 10, 0)
        }
        self._net.load_state_dict(own)
        self._net.train()
        passed = time.monotonic() - self._began
        print(
            f"{passed:.0f} s, step {step}, loss {losses[0]:.3f}, far {losses[1]:.3f}, "
            f"{len(self._bank)} utterances, {self._bank.hours:.1f} h; phone errors % {rates}",
            flush=True,
        )

    def _errors(self, engine: str, ratio: float) -> float:
        which = self._bank.watched(engine, 64)
        if not len(which):
            return math.nan
        with self._half():
            best = self._net(self._bank.plain(which, ratio)).argmax(-1)
        wrong = total = 0
        for row, number in zip(best.cpu().tolist(), which, strict=True):
            heard = [p for at, p in enumerate(row) if p and (at == 0 or row[at - 1] != p)]
            wrong += distance(heard, self._bank.labels[number])
            total += len(self._bank.labels[number])
        return 100 * wrong / max(1, total)


def distance(one: list[int], other: list[int]) -> int:
    """Exchanges, omissions and insertions between two lists."""
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, 1):
        before, row[0] = row[0], i
        for j, b in enumerate(other, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (a != b))
    return row[-1]


def _begun(start: Path) -> dict[str, Tensor]:
    if start.suffix == ".onnx":
        return parameters(start)
    state = torch.load(start, map_location="cpu", weights_only=True)
    return {name: value.float() for name, value in state.items()}


def _process(rank: int, count: int, arguments: list[str]) -> None:
    Training(rank, count, arguments).run()
    if count > 1:
        torch.distributed.destroy_process_group()


def main(*arguments: str) -> None:
    """As many processes as there are accelerators; one without any."""
    given = [*arguments, *("128", "0.4", "")[len(arguments) - 4 :]]
    count = max(1, torch.cuda.device_count())
    if count == 1:
        _process(0, 1, given)
    else:
        torch.multiprocessing.spawn(_process, (count, given), nprocs=count)


if __name__ == "__main__":
    main(*sys.argv[1:])
