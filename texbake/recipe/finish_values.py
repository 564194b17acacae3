"""What is done to the finished garment, as frozen values: shares 0 to 1, lengths in mm."""

from dataclasses import dataclass

from texbake.recipe.yarn_values import Colour


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """Dyeing and finish of one cloth; as it stands, none.

    Attributes
    ----------
    unlevel : float
        Coefficient of variation of the dye over the garment (dye clouds).
    unlevel_mm : float
        Size of the largest clouds.
    garment_dyed : float
        How much more dye thick and hollow places of the sewing hold, as a share.
    thread_dyed : float
        Share of the cloth's depth of shade that sewing thread takes along.
    faded : float
        Share of the dye that is lost where cloth faces the sky.
    faded_edges : float
        Share of the dye that is lost on folded edges and ridges of the sewing.
    stone_washed : float
        Share of the dye that is rubbed off the tops of yarns.
    core : Colour
        What comes to light where dye is rubbed off.
    pressed : float
        Share by which ridges and thick places shine, in squared GGX width.
    pills_per_dm2, pill_mm : float
        How many pills lie on a square decimetre; their diameter.
    """

    unlevel: float = 0.0
    unlevel_mm: float = 120.0
    garment_dyed: float = 0.0
    thread_dyed: float = 0.0
    faded: float = 0.0
    faded_edges: float = 0.0
    stone_washed: float = 0.0
    core: Colour = Colour((0.867, 0.839, 0.776))  # noqa: RUF009  # frozen: ecru, undyed cotton
    pressed: float = 0.0
    pills_per_dm2: float = 0.0
    pill_mm: float = 1.5

    @property
    def on_texels(self) -> bool:
        """Whether anything is to be done on texels; thread is dyed beforehand."""
        return self.by_edge or max(self.unlevel, self.faded, self.pills_per_dm2) > 0.0

    @property
    def by_edge(self) -> bool:
        """Whether it asks how far the sewing is."""
        return max(self.garment_dyed, self.faded_edges, self.stone_washed, self.pressed) > 0.0

    @property
    def undyed(self) -> "Finish":
        """What of it the filtered cloth depends on: whether tops of yarns are told apart."""
        return Finish(stone_washed=1.0 if self.stone_washed > 0.0 else 0.0)


NO_FINISH = Finish()
