"""Seconds and memory of height to normal: python -m tests.benchmarks.convert [SIDE].

On arrays, side by side in one run: ours, and the same conversion with OpenCV's Sobel, once with
normalising in whole arrays as it is usually written, once with every care (in place, no copies).
Rounds alternate, so that what else the machine does meets all alike; the best round counts. The
memory of each is that of a process of its own, over what the packages and the height need.

From file to both files: seconds and peak of the whole process, and what Pillow alone needs to
decode the picture. Not a test.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.bake import peak_mib
from texbake.arrays import F32, bands

Codes = NDArray[np.uint8]
Heights = NDArray[np.uint16]
ROUNDS = 7
DEPTH_MM, TEXEL_MM = 1.0, 0.1


def waves(side: int, rows: slice) -> Heights:
    """Some rows of a relief, 16 bits."""
    across = np.linspace(0.0, 200.0, side, dtype=np.float32)
    down = (np.arange(rows.start, rows.stop, dtype=np.float32) * (200.0 / side))[:, None]
    height = np.sin(across + np.sin(down)) * np.cos(1.3 * down)
    codes: Heights = (32767.5 + 32767.0 * height).astype(np.uint16)
    return codes


def relief(side: int) -> Heights:
    """A whole relief, made in bands, so that the making needs little memory."""
    height: Heights = np.empty((side, side), np.uint16)
    for band in bands(side, 64):
        height[band] = waves(side, band)
    return height


def ours(height: Heights) -> Codes:
    """Convert with texbake, on two threads."""
    from texbake.convert import height_to_normal

    return height_to_normal(height, depth_mm=DEPTH_MM, texel_mm=TEXEL_MM, threads=2)  # type: ignore[return-value]


def sobel(height: Heights) -> Codes:
    """Convert with OpenCV's Sobel, normalising in whole arrays."""
    import cv2

    cv2.setNumThreads(2)
    mm: F32 = height.astype(np.float32) * np.float32(DEPTH_MM / 65535.0 / TEXEL_MM)
    across = cv2.Sobel(mm, cv2.CV_32F, 1, 0, ksize=3, scale=1.0 / 8.0)
    down = cv2.Sobel(mm, cv2.CV_32F, 0, 1, ksize=3, scale=1.0 / 8.0)
    normal = np.dstack([-across, down, np.ones_like(across)])
    normal = normal / np.linalg.norm(normal, axis=2, keepdims=True)
    codes: Codes = ((normal * 0.5 + 0.5) * 255.0 + 0.5).astype(np.uint8)
    return codes


def careful_sobel(height: Heights) -> Codes:
    """Convert with OpenCV's Sobel in as few whole arrays as there can be."""
    import cv2

    cv2.setNumThreads(2)
    samples, scale = height.astype(np.float32), DEPTH_MM / 65535.0 / TEXEL_MM / 8.0
    across: Any = cv2.Sobel(samples, cv2.CV_32F, 1, 0, ksize=3, scale=scale)
    down: Any = cv2.Sobel(samples, cv2.CV_32F, 0, 1, ksize=3, scale=scale)
    length: F32 = np.multiply(across, across, out=samples)
    length += down * down
    length += 1.0
    np.sqrt(length, out=length)
    np.divide(127.5, length, out=length)
    codes: Codes = np.empty((*height.shape, 3), np.uint8)
    across *= length
    codes[..., 0] = np.subtract(128.0, across, out=across)
    down *= length
    down += 128.0
    codes[..., 1] = down
    length += 128.0
    codes[..., 2] = length
    return codes


WAYS: dict[str, Callable[[Heights], Codes]] = {
    "texbake": ours,
    "OpenCV Sobel, whole arrays": sobel,
    "OpenCV Sobel, with care": careful_sobel,
}


def race(side: int) -> list[float]:
    """Seconds of the best round of each way."""
    height = relief(side)
    best = dict.fromkeys(WAYS, float("inf"))
    for _ in range(ROUNDS):
        for name, way in WAYS.items():
            start = time.perf_counter()
            way(height)
            best[name] = min(best[name], time.perf_counter() - start)
    return list(best.values())


def memory(name: str, side: int) -> float:
    """MiB that a conversion needs beyond the packages and the height."""
    WAYS[name](waves(64, slice(0, 64)))
    height = relief(side)
    before = peak_mib()
    WAYS[name](height)
    return peak_mib() - before


def from_file(side: int, bits: int) -> tuple[float, float, float]:
    """Seconds and MiB from file to both files, and MiB to decode alone."""
    from texbake.deliver.png import write_png_rows

    with tempfile.TemporaryDirectory() as folder:
        picture = Path(folder) / "height.png"
        with picture.open("wb") as file:
            write_png_rows(file, lambda band: waves(side, band), (side, side, 1), bits=16)
        (decode,) = alone("decode", str(picture))
        seconds, peak = alone("convert", str(picture), str(bits))
        return seconds, peak, decode


def alone(*words: str) -> list[float]:
    """Run one measurement in a process of its own.

    The parent stays small: on Linux a child's peak begins at that of its parent.
    """
    command = [sys.executable, "-m", "tests.benchmarks.convert", "--alone", *words]
    run = subprocess.run(command, check=True, capture_output=True, text=True)
    result: list[float] = json.loads(run.stdout)
    return result


def measure_alone(words: list[str]) -> list[float]:
    """Measure what a process of its own was started for."""
    if words[0] == "race":
        return race(int(words[1]))
    if words[0] == "memory":
        return [memory(words[1], int(words[2]))]
    if words[0] == "decode":
        from texbake.convert.decode import opened

        with opened(Path(words[1])) as image:
            image.load()
        return [peak_mib()]
    from texbake.convert.from_height import Asked, convert_heights
    from texbake.convert.scale import AskedScale

    scale = AskedScale(depth="1mm", texel="0.1mm")
    start = time.perf_counter()
    convert_heights([Path(words[1])], Asked(scale=scale, bits=8 if words[2] == "8" else 16))
    return [time.perf_counter() - start, peak_mib()]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("side", nargs="?", type=int, default=4096)
    parser.add_argument("--files", nargs="*", type=int, default=[4096], metavar="SIDE")
    parser.add_argument("--alone", nargs="+", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.alone:
        print(json.dumps(measure_alone(asked.alone)))
        return
    print(f"{asked.side} x {asked.side}, 16 bits to 8, two threads")
    for name, seconds in zip(WAYS, alone("race", str(asked.side)), strict=True):
        (mib,) = alone("memory", name, str(asked.side))
        print(f"  {name:<28} {seconds:6.3f} s {mib:7.0f} MiB")
    for side in asked.files:
        for bits in (8, 16):
            seconds, peak, decode = from_file(side, bits)
            print(
                f"{side} from file to both files, {bits} bits: {seconds:.1f} s, peak "
                f"{peak:.0f} MiB; decoding alone {decode:.0f}"
            )


if __name__ == "__main__":
    main()
