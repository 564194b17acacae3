"""``recipes/NORMALS.md``: what the converter does, with its errors measured."""

from collections.abc import Iterable, Sequence
from typing import Final

from texbake.convert.measure import (
    ANGLES_DEG,
    WAVES,
    all_slopes,
    code_errors,
    jump_spill,
    mending,
    noise_gain,
    round_trip,
    wave_error_deg,
    worst_deg,
)
from texbake.convert.values import Bits, Edge

_HEAD: Final = """# Height to normal, and back

Written by `python -m texbake.convert`, which measures every table but the one of time and memory;
a test keeps it true.

```sh
texbake normal brick.png --depth 6mm --width 1m --edge wrap
texbake height brick_normal-up.png
texbake inspect somebody_elses_normal.png
texbake normal somebody_elses_normal.png --flip-green
```

The first writes `brick_normal-up.png` and `brick_normal-down.png`; `-o NAME` names them,
`--green up` writes one, and `-o NAME.png` then names the file. Several pictures and folders go in
one call, in parallel; `-o` is then a folder. No file is written over but those that this command
wrote, which carry a mark and their scale. A picture is written whole or not at all.

In Python: `height_to_normal`, `normal_to_height`, `flip_green` and `inspect` of `texbake.convert`.

## What is read

| format | samples |
| --- | --- |
| PNG | 1 to 16 bits; grey, grey and alpha, colour, palette |
| TIFF | 8 and 16 bits, 32-bit floats; more kinds if the tifffile package is there |
| EXR | half, float, whole numbers; scan lines, plain or ZIP; more if imageio has a plugin |
| PGM, PPM, PFM | all depths |

BMP, JPEG, WebP and others that Pillow reads work too, by name. Colour is turned into luminance
(Rec. 709), which is said. Of floats, 0 is black and 1 is white. Where alpha is under half there is
nothing: the normal is flat there, and the border makes no slope.

## Convention

glTF 2.0 (section 3.9.3 and its schema of materials): "The normal vectors use the convention +X is
right and +Y is up. +Z points toward the viewer." Red, green and blue from 0 to the maximum stand
for -1 to 1. That is `normal-up`, as in OpenGL; `normal-down` has green turned over, to the bit, as
in DirectX. Blue is never under the middle.

## Scale

| given | slope of one step from black to white over one texel |
| --- | --- |
| `--depth 2mm --texel 0.1mm` | depth over texel |
| `--depth 2mm --width 20cm` | the same; a texel is the width over the picture's |
| nothing, for heights of a bake or of `texbake height` | known from record or mark |
| `--strength 2`, by eye | black to white is 2 % of the longer side; 1 if nothing is known |

Lengths have units: mm, cm, m, in. A negative depth turns hills into hollows. The panels of a bake
may have texels of different size: the mean by area is taken, and if they differ by more than 10 %
that is said, as the normal maps that were baked are truer then.

## Borders

`--edge wrap` takes what lies past a border from the other side: the result tiles, and a picture
rolled before gives the result rolled, to the bit. `mirror` turns the picture over at its border.
`hold`, the default, turns it by half a turn about the border texel, so that slopes go on and a
plane stays a plane. If the borders meet and nothing was asked, that is said.

## Kernels

A sample is the mean height over its texel, and the normal is that of the mean slope over the
texel. So the ideal kernel smooths nothing. `true`, the default, comes near it for all waves that
texels can show, and yet leaves no false ridge beside a jump, since its guess of the height between
two texels is bounded by their neighbours. `even` (Farid and Simoncelli 2004, five taps) weakens
fine waves, but alike in all directions: for noise. `short` is half the difference of the two
neighbours. Sobel and Scharr are what others use.

Greatest angle between the normals found and the true ones, in degrees, over 16 directions and all
phases, for waves whose slopes reach 45 degrees:

"""

_MIDDLE: Final = """
The same for waves of 6 texels, by direction:

"""

_JUMP: Final = """
Beside a jump as high as a texel is wide, the steepest false slope in texels that do not touch it;
and the slope that noise of one texel makes, root mean square, which `--smooth` lowers:

"""

_MENDING: Final = """
## Noise and stair-steps

`--smooth TEXELS` puts a Gaussian of that standard deviation over the height first: it weakens
noise, and edges too. `--mend` is for pictures of too few levels, whose slopes have become
stair-steps; Texbake says when it sees them. It looks for a height that rounds to the same levels
and bends little, so no texel moves by more than half a level, and steps of two levels and more are
edges that stay.

Root mean square angle to the normals of the relief before it was rounded to levels, in degrees; a
relief 20 texels deep with hard edges:

"""

_CODES: Final = """
## Codes

Each component is rounded to the nearest code. Where three roundings make the vector's length wrong
by more than half a step, one of them goes the other way: the one that turns the vector least.
`--dither` spreads the rounding of red and green over neighbours, so that gentle slopes show no
bands; flat places stay clean. Slopes up to 85 degrees:

"""

_BACK: Final = """
## Back to height

`texbake height` finds the height whose slopes are nearest to the normals', by least squares: in
frequencies for a map that wraps (Frankot and Chellappa 1988), by Poisson's equation with a cosine
transform (Simchony, Chellappa and Shao 1990) for one that does not, and by conjugate gradients
where alpha leaves parts out. It says what black to white is. The convention and the border are
what the map itself tells, if they are not given.

Reliefs 10 texels deep, to normals and back; 1 is perfect:

"""

_END: Final = """
## Inspect

The slopes of a height have no curl: how the slope across changes downwards is how the slope down
changes across. Only one sign of green fits, and `texbake inspect` tells which. It also says how far
lengths are from 1, the mean, the steepest angle, what is clipped, and whether opposite borders
differ by more than neighbours do. Relief that is straight along the axes everywhere fits both.

## Time and memory

Measured on two cores of an Intel Xeon (Sapphire Rapids), Python 3.11, numpy 2.4, from file to both
files. `python -m tests.benchmarks.convert` measures anew.

{figures}

Bands of rows are converted and written as they come, so that beyond the picture as it is decoded
and a copy of it there is little. What Pillow needs to decode a 16-bit picture of 16384 x 16384 is
543 MiB, of the figure above. `texbake height` holds the whole map: about 55 bytes a texel, and 100
where alpha leaves parts out.
"""

# Seconds and MiB, by side and bits; see tests/benchmarks/convert.py.
FIGURES: Final = (
    (4096, 8, 2.0, 116),
    (8192, 8, 6.5, 308),
    (16384, 8, 22.0, 1089),
    (16384, 16, 40.0, 1089),
)

_LEVELS: Final = (24, 64, 256)
_RELIEFS: Final = (16.0, 40.0, 80.0)


def normals_markdown() -> str:
    """Return the whole document."""
    return "".join(
        (
            _HEAD,
            _kernel_table(),
            _MIDDLE,
            _angle_table(),
            _JUMP,
            _jump_table(),
            _MENDING,
            _mending_table(),
            _CODES,
            _code_table(),
            _BACK,
            _back_table(),
            _END.format(figures=_figures().rstrip()),
        )
    )


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a Markdown table."""
    lines = [head, ["---"] + ["---:"] * (len(head) - 1), *rows]
    return "".join(f"| {' | '.join(line)} |\n" for line in lines)


def _kernel_table() -> str:
    """Return the errors of all kernels by the length of waves."""
    kernels = dict(all_slopes())
    return _table(
        ["texels a wave", *kernels],
        ([f"{w:g}", *(f"{worst_deg(k, w):.2f}" for k in kernels.values())] for w in WAVES),
    )


def _angle_table() -> str:
    """Return the errors of all kernels by direction."""
    kernels = dict(all_slopes())
    return _table(
        ["direction, degrees", *kernels],
        (
            [f"{a:g}", *(f"{wave_error_deg(k, 6.0, a):.2f}" for k in kernels.values())]
            for a in ANGLES_DEG
        ),
    )


def _jump_table() -> str:
    """Return what kernels do to jumps and to noise."""
    return _table(
        ["kernel", "false slope", "slope of noise"],
        ([name, f"{jump_spill(k):.2f}", f"{noise_gain(k):.2f}"] for name, k in all_slopes()),
    )


def _mending_table() -> str:
    """Return what mending does."""
    return _table(
        ["finest waves, texels", "levels", "as it is", "`--mend`", "`--smooth 1`", "`--smooth 2`"],
        (
            [
                f"{texels:g}",
                f"{levels}",
                f"{mending(texels, levels, mend=False):.1f}",
                f"{mending(texels, levels, mend=True):.1f}",
                *(
                    f"{mending(texels, levels, mend=False, smooth_texels=s):.1f}"
                    for s in (1.0, 2.0)
                ),
            ]
            for texels in _RELIEFS
            for levels in _LEVELS
        ),
    )


def _code_table() -> str:
    """Return what rounding to codes does."""
    rows = []
    for bits in _bits():
        for dither in (False, True):
            length, worst, usual = code_errors(bits, dither=dither)
            name = f"{bits} bits{', `--dither`' if dither else ''}"
            digits = 2 if bits == 8 else 4
            rows.append([name, f"{length:.2f}", f"{worst:.{digits}f}", f"{usual:.{digits}f}"])
    return _table(
        ["output", "length off by, steps", "turned by at most, degrees", "root mean square"], rows
    )


def _bits() -> tuple[Bits, ...]:
    """Return the depths of codes."""
    return (8, 16)


def _back_table() -> str:
    """Return how near heights come to themselves."""
    edges: tuple[Edge, ...] = ("wrap", "mirror", "hold")
    rows = []
    for edge in edges:
        for bits in _bits():
            correlation, slope = round_trip(edge, bits, 12.0)
            rows.append([edge, f"{bits}", f"{correlation:.5f}", f"{slope:.4f}"])
    return _table(["edge", "bits", "correlation", "slope"], rows)


def _figures() -> str:
    """Return the table of time and memory."""
    return _table(
        ["side, texels", "bits of the normals", "seconds", "peak memory, MiB"],
        ([f"{side}", f"{bits}", f"{s:g}", f"{mib}"] for side, bits, s, mib in FIGURES),
    )
