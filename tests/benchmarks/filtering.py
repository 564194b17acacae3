"""How well cloth is filtered: figures for laws 4 and 5, structure by structure.

    python -m tests.benchmarks.filtering [FABRIC ...]

For yarns of 12 to 0.2 texels, against brute force (8 x 8 samples a texel): RMS of albedo in
levels of 255, of the normal in degrees, error of the mean roughness and its 95 % quantile, the
highest peak of the spectrum that the reference lacks, in % of the mean colour, and ns per texel.
"""

import sys
import time
from dataclasses import dataclass

import numpy as np

from tests.flat_cloth import FABRICS, Baked, all_texels, bake_flat, box_mean, flat, pitch_mm
from tests.laws.test_no_alias import OVER, SIZE, YARN_TEXELS, degrees, reference_roughness
from texbake import cloth
from texbake.arrays import F64

TIMED_PX = 512


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """One fabric at one size of yarn."""

    albedo: float
    normal_deg: float
    roughness_mean: float
    roughness_95: float
    peak: float
    ns: float


def measure(name: str, yarn_texels: float) -> Figures:
    fabric = FABRICS[name]
    texel = pitch_mm(fabric) / yarn_texels
    coarse = bake_flat(fabric, texel, SIZE, turn_rad=0.2)
    fine = bake_flat(fabric, texel / OVER, SIZE * OVER, turn_rad=0.2)
    albedo, slope = box_mean(fine.albedo, OVER), box_mean(fine.slope, OVER)
    got = np.minimum(coarse.alpha2 + 2.0 * coarse.variance, 1.0) ** 0.25
    want = reference_roughness(fine)
    return Figures(
        albedo=255.0 * float(np.sqrt(((coarse.albedo - albedo) ** 2).mean())),
        normal_deg=degrees(coarse.slope, slope),
        roughness_mean=float(got.mean() / want.mean()) - 1.0,
        roughness_95=float(np.quantile(np.abs(got / want - 1.0), 0.95)),
        peak=_peak(coarse, albedo),
        ns=_ns(name, texel),
    )


def _peak(coarse: Baked, albedo: F64) -> float:
    window = np.outer(np.hanning(SIZE), np.hanning(SIZE))
    spectra = [
        np.abs(np.fft.fft2((light - light.mean()) * window))
        for light in (coarse.albedo.mean(0), albedo.mean(0))
    ]
    over = (spectra[0] - spectra[1]).max()
    return float(over / (coarse.albedo.mean() * window.sum()))


def _ns(name: str, texel_mm: float) -> float:
    """Best of three."""
    layout = flat(texel_mm, TIMED_PX, turn_rad=0.2)
    shift = np.full((1, 2), 0.37, np.float32)
    weaver = cloth.prepare(FABRICS[name], layout, np.ones(1, np.bool_), shift, 1)
    texels = all_texels(layout)
    best = np.inf
    for _ in range(3):
        start = time.perf_counter()
        cloth.weave(weaver, texels)
        best = min(best, time.perf_counter() - start)
    return float(best / TIMED_PX**2 * 1e9)


def main() -> None:
    head = ("fabric", "yarn", "albedo", "normal", "rough mean", "rough 95", "peak", "ns/texel")
    sys.stdout.write("{:<12} {:>5} {:>7} {:>7} {:>11} {:>9} {:>7} {:>9}\n".format(*head))
    for name in sys.argv[1:] or FABRICS:
        for yarn_texels in YARN_TEXELS:
            f = measure(name, yarn_texels)
            sys.stdout.write(
                f"{name:<12} {yarn_texels:>5g} {f.albedo:>7.2f} {f.normal_deg:>7.2f}"
                f" {f.roughness_mean:>11.1%} {f.roughness_95:>9.1%} {f.peak:>7.2%} {f.ns:>9.0f}\n"
            )


if __name__ == "__main__":
    main()
