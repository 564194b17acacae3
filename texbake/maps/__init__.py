"""From the composed surface to whole images of 8 and 16 bits."""

from texbake.maps.fill import blank_ground, fill, survey
from texbake.maps.halving import Shrink, eight_bits, shrink, smaller, to_eight
from texbake.maps.values import HEIGHT_STEPS, MapArrays, blank
from texbake.maps.write import height_codes, normal_codes, roughness_codes, write_albedo, write_band

__all__ = [
    "HEIGHT_STEPS",
    "MapArrays",
    "Shrink",
    "blank",
    "blank_ground",
    "eight_bits",
    "fill",
    "height_codes",
    "normal_codes",
    "roughness_codes",
    "shrink",
    "smaller",
    "survey",
    "to_eight",
    "write_albedo",
    "write_band",
]
