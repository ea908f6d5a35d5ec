"""Shares of gardens that kill or hold up whoever works on them; as real ones may, at a bad time."""

from __future__ import annotations

import os
import signal
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

from harvestcast.gardens.sources import Opener, Share


@dataclass(frozen=True, slots=True, kw_only=True)
class Perilous:
    """A share whose garden ``victim`` kills its process ``deaths`` times, or waits for a file."""

    inner: Share
    victim: str
    diary: Path
    """Folder that counts the deaths."""
    deaths: int = 0
    wait_for: str = ""

    @property
    def label(self) -> str:
        return self.inner.label

    @property
    def size(self) -> int:
        return self.inner.size

    def names(self) -> list[str]:
        return self.inner.names()

    def fingerprint(self, today: str) -> str:
        return self.inner.fingerprint(today)

    def load(self, today: str) -> list[tuple[str, Opener]]:
        return [
            (name, _Peril(opener=opener, share=self) if name == self.victim else opener)
            for name, opener in self.inner.load(today)
        ]

    def split(self) -> list[Share]:
        return [replace(self, inner=one) for one in self.inner.split()]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Peril:
    opener: Opener
    share: Perilous

    def __call__(self):
        died = len(list(self.share.diary.glob("death-*")))
        if died < self.share.deaths:
            (self.share.diary / f"death-{died}").touch()
            os.kill(os.getpid(), signal.SIGKILL)
        while self.share.wait_for and not (self.share.diary / self.share.wait_for).exists():
            time.sleep(0.02)
        return self.opener()


def main() -> None:
    """Run the gardens of a dataset, the last share waiting for a file that never comes."""
    from harvestcast.gardens.dataset import dataset_shares
    from harvestcast.gardens.run import run_gardens

    root, out, diary, workers = Path(sys.argv[1]), sys.argv[2], Path(sys.argv[3]), sys.argv[4]
    shares = dataset_shares(root)
    last = shares[-1]
    held = Perilous(inner=last, victim=last.names()[-1], diary=diary, wait_for="go on")
    run_gardens([*shares[:-1], held], out, draws=100, workers=int(workers))


if __name__ == "__main__":
    main()
