"""The keys of a budget file, as a pydantic model: the one source of what may be written."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, ClassVar

from texbake.advice import Limits
from texbake.check.budget import Budget
from texbake.recipe import units
from texbake.recipe.keys import Keys, key
from texbake.recipe.kinds import Amount, Choice, Number, Whole

_MAY: Mapping[str, object] = MappingProxyType({"allowed": True, "refused": False})
_BYTES = units.Quantity(
    name="file size",
    units=MappingProxyType(
        {"MB": 1e6, "kB": 1e3, "GB": 1e9, "MiB": 2.0**20, "KiB": 2.0**10, "bytes": 1.0}
    ),
    shown="MB",
)
Share = Annotated[float, Amount(of=units.SHARE, low=0.0, high=1.0, example="50 %")]
Strain = Annotated[float, Amount(of=units.SHARE, low=0.0, high=10.0, example="4 %")]
Ratio = Annotated[float, Number(low=1.0, high=1000.0)]
May = Annotated[bool, Choice(of=_MAY)]
Bytes = Annotated[float, Amount(of=_BYTES, low=1.0, high=1e12, example="20 MB")]
Difference = Annotated[float, Number(low=0.0, high=100.0)]


class BudgetKeys(Keys):
    """Limits that ``texbake check`` holds a garment against."""

    noun: ClassVar[str] = "budget"
    triangles: Annotated[int, Whole(low=1, high=10_000_000)] = key(4000, "Triangles, at most.")
    mip_level: Annotated[int, Whole(low=0, high=8)] = key(
        4, "Islands stay apart up to this mip level: the gutter is 2 to its power."
    )
    in_square: May = key("refused", "Islands off the UV square.")
    overlaps: May = key("refused", "Islands over one another.")
    folded: May = key("refused", "Islands that are turned over in part.")
    mirrored: May = key("allowed", "Islands that lie mirrored.")
    unused: Share = key("50 %", "Share of the sheet that no island covers, at most.")
    density_spread: Ratio = key(1.5, "Texels per cm, densest panel by coarsest.")
    density_spread_panel: Ratio = key(1.5, "The same inside a panel.")
    uv_stretch_mean: Ratio = key(1.3, "Longest by shortest step of a texel on the cloth, mean.")
    uv_stretch: Ratio = key(2, "The same, of all but the worst 1 % of a panel.")
    stretch: Strain = key("4 %", "Flat pattern against the cloth, root mean square.")
    stretch_max: Strain = key("25 %", "The same, at the worst edge.")
    map_size: Annotated[int, Whole(low=16, high=16384, powers=True)] = key(
        4096, "Width and height of a map, px, at most."
    )
    file_size: Bytes = key("50 MB", "A file of a set, at most.")
    set_size: Bytes = key("200 MB", "All files of a set together, at most.")
    missing: May = key("refused", "Sets that are not baked, maps that are not there.")
    stale: May = key("refused", "Sets baked from another recipe or mesh than now.")
    changed: May = key("refused", "Files that were changed since they were baked.")
    albedo_low: Share = key("1 %", "The darkest that cloth is: luminance, linear light.")
    albedo_high: Share = key("90 %", "The lightest that cloth is.")
    albedo_outside: Share = key("1 %", "Share of the texels that may lie outside of that.")
    normal_length: Annotated[float, Number(low=0.0, high=1.0)] = key(
        0.02, "How far the length of a normal may be from 1."
    )
    normal_tilt: Annotated[float, Amount(of=units.ANGLE, low=0.0, high=1.6, example="3 deg")] = key(
        "3 deg", "How far the mean of all normals may lean."
    )
    height_used: Share = key("25 %", "Share of the height map's codes that are used, at least.")
    identical: May = key("refused", "Colourways with the same colours.")
    apart: Difference = key(2, "Least difference of two colourways, dE00.")
    thread_contrast: Difference = key(
        10, "Least difference of a thread that has a colour of its own and its cloth, dE00."
    )

    def budget(self) -> Budget:
        """Return the values that the rest of the program uses."""
        limits = {name: getattr(self, name) for name in Limits.__dataclass_fields__}
        same = {
            name: getattr(self, name)
            for name in Budget.__dataclass_fields__
            if name in BudgetKeys.model_fields
        }
        tilt = self.normal_tilt
        return Budget(layout=Limits(**limits), normal_tilt_rad=tilt, **same)
