"""From the composed surface to whole images of 8 and 16 bits."""

from texbake.maps.fill import fill
from texbake.maps.values import HEIGHT_STEPS, MapArrays, blank
from texbake.maps.write import height_codes, normal_codes, roughness_codes, write_albedo, write_band

__all__ = [
    "HEIGHT_STEPS",
    "MapArrays",
    "blank",
    "fill",
    "height_codes",
    "normal_codes",
    "roughness_codes",
    "write_albedo",
    "write_band",
]
