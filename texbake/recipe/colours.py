"""Colours as they are written: ``#rrggbb``, ``#rgb``, a CSS name, or CIE ``lab(L a b)``.

Lab is that of CSS Color Module Level 4, section 9: white point D50, adapted to the D65 of sRGB
by the linear Bradford transform. The matrices are the ones of its section 18 (sample code).

What sRGB cannot show is brought to its border with L* and hue kept and chroma lowered: straight
chroma clipping, the best overall of five ways in E. D. Montag, M. D. Fairchild, "Gamut mapping:
evaluation of chroma clipping techniques for three destination gamuts", 6th Color Imaging
Conference, 1998. Even steps of L* so stay even.
"""

import math
import re

import numpy as np

from texbake.colour import delta_e00
from texbake.recipe.css_names import CSS_NAMES
from texbake.recipe.mistake import WrongValueError, advice, shown
from texbake.recipe.values import Colour, Triple, to_srgb

HEX = r"^#([0-9a-fA-F]{3}|[0-9a-fA-F]{6})$"
_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)"
LAB = rf"^\s*lab\(\s*{_NUMBER}%?\s+{_NUMBER}\s+{_NUMBER}\s*\)\s*$"
FORMS = '"#rrggbb", "#rgb", a CSS colour name, or lab(L a b)'

_D50 = (0.3457 / 0.3585, 1.0, (1.0 - 0.3457 - 0.3585) / 0.3585)
_BRADFORD_D50_TO_D65 = (
    (0.955473421488075, -0.02309845494876471, 0.06325924320057072),
    (-0.0283697093338637, 1.0099953980813041, 0.021041441191917323),
    (0.012314014864481998, -0.020507649298898964, 1.330365926242124),
)
_BRADFORD_D65_TO_D50 = (
    (1.0479297925449969, 0.022946870601609652, -0.05019226628920524),
    (0.02962780877005599, 0.9904344267538799, -0.017073799063418826),
    (-0.009243040646204504, 0.015055191490298152, 0.7518742814281371),
)
_LINEAR_SRGB_TO_XYZ = (
    (506752 / 1228815, 87881 / 245763, 12673 / 70218),
    (87098 / 409605, 175762 / 245763, 12673 / 175545),
    (7918 / 409605, 87881 / 737289, 1001167 / 1053270),
)
_XYZ_TO_LINEAR_SRGB = (
    (12831 / 3959, -329 / 214, -1974 / 3959),
    (-851781 / 878810, 1648619 / 878810, 36519 / 878810),
    (705 / 12673, -2585 / 12673, 705 / 667),
)
_KAPPA, _EPSILON = 24389 / 27, 216 / 24389  # CIE 15:2004, as CSS Color 4 has them
# Half a step of 8 bits: a Lab value copied from an 8-bit colour must come back inside.
_SLACK = 0.5 / 255


def parse_colour(text: str) -> Colour:
    """Return the colour that ``text`` names.

    Raises
    ------
    WrongValueError
        Not one of the forms, or no such name. Lab outside sRGB is brought to its border.

    >>> parse_colour("#36c").hex, parse_colour("teal").hex, parse_colour("lab(0 0 0)").hex
    ('#3366cc', '#008080', '#000000')
    """
    word = text.strip()
    if word.startswith("#"):
        return _from_hex(word)
    if word.lower().startswith("lab"):
        return _from_lab(word)
    if word.lower() in CSS_NAMES:
        return _from_hex(CSS_NAMES[word.lower()])
    fix = advice(word, CSS_NAMES, f"write {FORMS}")
    raise WrongValueError(f"{shown(text)} is no colour", fix=fix)


def lab_to_linear(lab: Triple) -> Triple:
    """Return linear sRGB of CIE Lab (D50); outside 0..1 where sRGB does not reach."""
    lightness, a, b = lab
    y = (lightness + 16.0) / 116.0
    x, z = y + a / 500.0, y - b / 200.0
    xyz = (
        _cube(x) * _D50[0],
        y**3 if lightness > _KAPPA * _EPSILON else lightness / _KAPPA,
        _cube(z) * _D50[2],
    )
    return _times(_XYZ_TO_LINEAR_SRGB, _times(_BRADFORD_D50_TO_D65, xyz))


def _cube(f: float) -> float:
    """Undo the cube root of Lab, with its straight part near black."""
    return f**3 if f**3 > _EPSILON else (116.0 * f - 16.0) / _KAPPA


def _times(matrix: tuple[Triple, Triple, Triple], v: Triple) -> Triple:
    """Multiply a 3 x 3 matrix by a vector."""
    (a, b, c), (d, e, f), (g, h, i) = matrix
    x, y, z = v
    return a * x + b * y + c * z, d * x + e * y + f * z, g * x + h * y + i * z


def _from_hex(word: str) -> Colour:
    if not re.match(HEX, word):
        raise WrongValueError(f"{shown(word)} is no colour", fix=_hex_fix(word))
    digits = word[1:] if len(word) == 7 else "".join(2 * c for c in word[1:])
    r, g, b = (int(digits[k : k + 2], 16) / 255.0 for k in (0, 2, 4))
    return Colour((r, g, b))


def _hex_fix(word: str) -> str:
    if re.match(r"^#([0-9a-fA-F]{4}|[0-9a-fA-F]{8})$", word):
        return "leave the last part out: cloth has no transparency; write #rrggbb or #rgb"
    return "write # and 6 or 3 digits out of 0-9 and a-f"


def _from_lab(word: str) -> Colour:
    lab = _lab_of(word)
    return _encode(lab) or _into_gamut(lab)


def _lab_of(word: str) -> Triple:
    if not re.match(LAB, word, re.IGNORECASE):
        fix = "write lab(L a b) with three numbers, as in lab(46.3 -47.6 48.6)"
        raise WrongValueError(f"{shown(word)} is no colour", fix=fix)
    lightness, a, b = (float(n) for n in re.findall(_NUMBER, word))
    if not 0.0 <= lightness <= 100.0:
        raise WrongValueError(
            f"{shown(word)}: L is {lightness:g}", fix="L goes from 0 (black) to 100 (white)"
        )
    return lightness, a, b


def lost_in_gamut(text: object) -> tuple[Colour, float] | None:
    """Return what stands for a Lab value that sRGB cannot show, and how far off it is.

    Parameters
    ----------
    text : object
        A value of a recipe.

    Returns
    -------
    (Colour, float) or None
        The colour of the same lightness and hue, and the CIEDE2000 between the two; None for what
        is no Lab value, or inside sRGB.
    """
    if not isinstance(text, str) or not re.match(LAB, text.strip(), re.IGNORECASE):
        return None
    lab = _lab_of(text.strip())
    if _encode(lab) is not None:
        return None
    colour = _into_gamut(lab)
    return colour, float(delta_e00(np.array(lab), np.array(lab_of(colour))))


def lab_of(colour: Colour) -> Triple:
    """Return CIE Lab of a colour, as ``lab(L a b)`` would write it (D50).

    >>> [round(v, 2) for v in lab_of(parse_colour("lab(46.3 -20 10)"))]
    [46.3, -20.0, 10.0]
    """
    return linear_to_lab(colour.linear)


def linear_to_lab(linear: Triple) -> Triple:
    """Return CIE Lab (D50) of linear sRGB, inside 0..1 or not: undoes `lab_to_linear`."""
    xyz = _times(_BRADFORD_D65_TO_D50, _times(_LINEAR_SRGB_TO_XYZ, linear))
    x, y, z = (_root(v / white) for v, white in zip(xyz, _D50, strict=True))
    return 116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)


def lab_text(lab: Triple) -> str:
    """Write a Lab value as a recipe would; L outside 0 to 100 is black or white.

    >>> lab_text((46.3, -47.6, 1e-9))
    'lab(46.3 -47.6 0)'
    """
    numbers = (min(max(lab[0], 0.0), 100.0), *lab[1:])
    l, a, b = (f"{v:.5f}".rstrip("0").rstrip(".") for v in numbers)  # noqa: E741 - its name
    return f"lab({l} {a} {b})".replace("-0 ", "0 ").replace("-0)", "0)")


def _root(t: float) -> float:
    """Return the cube root of Lab, with its straight part near black."""
    return math.cbrt(t) if t > _EPSILON else (_KAPPA * t + 16.0) / 116.0


def _encode(lab: Triple) -> Colour | None:
    """Return the sRGB colour of a Lab value, or None when it is outside."""
    r, g, b = (to_srgb(max(c, -0.01)) for c in lab_to_linear(lab))
    if min(r, g, b) < -_SLACK or max(r, g, b) > 1.0 + _SLACK:
        return None
    return Colour((_clip(r), _clip(g), _clip(b)))


def _clip(channel: float) -> float:
    return min(max(channel, 0.0), 1.0)


def _into_gamut(lab: Triple) -> Colour:
    """Lower the chroma until sRGB holds the colour: lightness and hue stay (30 halvings)."""
    lightness, a, b = lab
    best, low, high = Colour((0.0, 0.0, 0.0)), 0.0, 1.0
    for _ in range(30):
        share = (low + high) / 2.0
        found = _encode((lightness, a * share, b * share))
        if found is None:
            high = share
        else:
            best, low = found, share
    return best
