"""What the last bake says of this one: read, told, drawn, and kept for the next."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from texbake.arrays import I32, U8
from texbake.change.describe import SAME, Row, density_of, describe, sentences
from texbake.change.follow import (
    Comparison,
    Followed,
    follow,
    replay,
    same_entries,
    same_mesh,
)
from texbake.change.keep import as_read_now, keep
from texbake.change.store import BEFORE, layout_path, read_kept, write_kept
from texbake.errors import UserError, UserErrors
from texbake.garment.known import Known
from texbake.garment.raw import listed
from texbake.garment.values import Garment, Mesh
from texbake.recipe.canonical import digest
from texbake.recipe.values import Recipe

MOST_NUMBERS = 12


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Last:
    """What the last bake says of this one.

    Attributes
    ----------
    written : Recipe
        The recipe as its file has it, at the size of the maps.
    mesh_digest, mesh_key : str
        Digests of the mesh file, and of how it is read with it.
    mesh : Mesh or None
        As it is now, if it was read.
    followed : Followed or None
        None where the recipe means what it says: in a first bake, or as long as neither mesh nor
        panels are others.
    stale : bool
        What is kept is of another mesh, layout, size or recipe, or there is nothing yet.
    first : bool
        There is no layout record.
    """

    written: Recipe
    mesh_digest: str
    mesh_key: str
    mesh: Mesh | None = None
    followed: Followed | None = None
    stale: bool = True
    first: bool = False

    @property
    def known(self) -> Known | None:
        """Panels that are known."""
        return None if self.followed is None else self.followed.known

    @property
    def digest(self) -> str:
        """Digest of what is known; empty if nothing is."""
        return "" if self.followed is None else self.followed.digest()

    def apply(self, recipe: Recipe) -> Recipe:
        """Return a recipe, or a colourway of it, whose panels are those of the cloth."""
        return recipe if self.followed is None else self.followed.apply(recipe)


def look_back(
    out: Path,
    recipe: Recipe,
    mesh_digest: str,
    read: Callable[[Recipe], Mesh],
    *,
    draw: bool = True,
) -> Last:
    """Find the panels that were baked last on the mesh as it is now.

    Parameters
    ----------
    out : Path
        Where the sets are.
    recipe : Recipe
        As its file has it.
    mesh_digest : str
        Of the mesh file's bytes.
    read : callable
        Reads the mesh of a recipe: only done if it may have changed.
    draw : bool
        Whether to draw what is asked.

    Raises
    ------
    UserError
        If the layout record is damaged, if the mesh is another garment, and for whatever cannot be
        decided: all at once, with a picture. Nothing else is written then.
    """
    key = mesh_key(recipe, mesh_digest)
    kept = read_kept(layout_path(out, recipe.garment))
    if kept is None:
        return Last(written=recipe, mesh_digest=mesh_digest, mesh_key=key, first=True)
    same = same_entries(recipe, kept)
    if same and key == kept.mesh_key:
        followed = replay(recipe, kept) if kept.followed else None
        stale = recipe.size_px != kept.size_px
        return Last(
            written=recipe, mesh_digest=mesh_digest, mesh_key=key, followed=followed, stale=stale
        )
    mesh = read(recipe)
    if mesh_digest == kept.mesh_digest and (mesh.unit_mm, mesh.up) != (kept.unit_mm, kept.up):
        kept = as_read_now(kept, mesh)  # the recipe says otherwise what the numbers in it mean
    if same and not kept.followed and same_mesh(mesh, kept):
        return Last(written=recipe, mesh_digest=mesh_digest, mesh_key=key, mesh=mesh)
    from texbake.change.questions import questions

    found = follow(recipe, mesh, kept)
    asked = questions(found, recipe)
    if asked:
        where = picture_path(out, recipe.garment)
        if draw:
            from texbake.chart import write_picture

            write_picture(where, _picture_of_questions(found, mesh, recipe.size_px))
            asked = [_pointing(error, where) for error in asked]
        raise UserErrors(asked)
    return Last(written=recipe, mesh_digest=mesh_digest, mesh_key=key, mesh=mesh, followed=found)


def mesh_key(recipe: Recipe, mesh_digest: str) -> str:
    """Return a digest of a mesh and of how the recipe reads it."""
    options = (recipe.mesh_unit_mm, recipe.up, recipe.uv_set, recipe.tile, "tile" in recipe.lines)
    return digest((mesh_digest, *options))


def picture_path(out: Path, garment: str) -> Path:
    """Return where the picture of the change lies."""
    return out / garment / f"{garment}_change.png"


def tell(
    last: Last, garment: Garment, out: Path, *, silent: bool = False, draw: bool = True
) -> tuple[str, ...]:
    """Draw what changed, and return it as sentences; nothing if nothing did.

    Parameters
    ----------
    last : Last
    garment : Garment
        As it is baked now.
    out : Path
        Where the sets go.
    silent : bool
        Say nothing of island numbers that are others now: the recipe will be changed.
    draw : bool
        Whether to draw it as well.
    """
    followed, recipe = last.followed, last.written
    if followed is None:
        return ()
    told: tuple[str, ...] = ()
    if isinstance(followed, Comparison) and not same_mesh(garment.mesh, followed.kept):
        rows = describe(followed, garment, recipe.size_px)
        told = sentences(rows, garment.mesh.path.name)
        if draw:
            from texbake.chart import write_picture

            where = picture_path(out, recipe.garment)
            write_picture(where, change_picture(followed, garment, rows))
            told = (*told, f"picture of the change: {where}")
        if any(row.words != SAME for row in rows):
            told = (*told, *left_behind(recipe, layout_path(out, recipe.garment)))
    return told if silent else (*told, *repointed(followed, recipe, garment))


def left_behind(recipe: Recipe, layout: Path) -> tuple[str, ...]:
    """Say which prints do not follow the cloth: their pictures are of no mesh that is named."""
    return tuple(
        f"prints.{number}: {one.file.name} has no painted_on, so it is read in the layout as it is "
        "now; if it was painted on the layout before, add painted_on: OLD-MESH, or bring it along: "
        f"texbake carry {one.file} --from {layout.with_name(BEFORE)} --to {recipe.mesh} -o NEW.png"
        for number, one in enumerate(recipe.prints)
        if one.painted_on is None
    )


def repointed(followed: Followed, recipe: Recipe, garment: Garment) -> tuple[str, ...]:
    """Say which island numbers of the recipe are others now."""
    told = []
    for name in sorted(set(recipe.panels) - followed.literal):
        before = recipe.panels[name].islands
        now = {
            i
            for panel in garment.panels
            if followed.made_by.get(panel.name) == name
            for i in panel.islands
        }
        if before and now and set(before) != now:
            told.append(
                f"panels.{name}: {_islands(before)} of the recipe, from an earlier layout, "
                f"{'is' if len(before) == 1 else 'are'} {_islands(sorted(now))} now; "
                "--update-recipe writes that into the file"
            )
    return tuple(told)


def remember(last: Last, garment: Garment, out: Path) -> None:
    """Keep the layout that was baked; and the one before, for pictures that were painted on it.

    Parameters
    ----------
    last : Last
    garment : Garment
        As it was baked.
    out : Path
        Where the sets are.

    Raises
    ------
    MachineError
        If it cannot be written.
    """
    recipe = last.written
    kept = keep(
        garment,
        recipe.panels,
        name=recipe.garment,
        mesh_digest=last.mesh_digest,
        mesh_key=last.mesh_key,
        size_px=recipe.size_px,
        known=last.known,
        made_by=None if last.followed is None else last.followed.made_by,
    )
    path = layout_path(out, recipe.garment)
    earlier = read_kept(path)
    if earlier is not None and not same_mesh(garment.mesh, earlier):
        write_kept(path.with_name(BEFORE), earlier)
    write_kept(path, kept)


def change_picture(followed: Comparison, garment: Garment, rows: tuple[Row, ...]) -> U8:
    """Draw old and new layout side by side. (H, W, 3) uint8, sRGB."""
    number = {row.name: k for k, row in enumerate(rows)}
    now = np.array([*(number[panel.name] for panel in garment.panels), -1], np.int32)
    mesh = garment.mesh
    return _drawn(followed, mesh, now[garment.panel], garment.island, rows)


def _picture_of_questions(followed: Comparison, mesh: Mesh, size_px: int) -> U8:
    """Draw what is decided and, marked, what is open."""
    kept, decision = followed.kept, followed.decision
    owner = decision.face.copy()
    old, new = kept.points_mm[kept.faces], mesh.points_mm[mesh.faces]
    open_islands = [doubt.island for doubt in decision.doubts]
    owner[np.isin(followed.island, open_islands)] = -2
    rows = []
    for p, panel in enumerate(kept.panels):
        islands = tuple(np.unique(followed.island[owner == p]).tolist())
        asked = [doubt.island for doubt in decision.doubts if p in doubt.panels]
        words = [f"perhaps {_islands(asked)}"] if asked else []
        words += ["gone"] if p in decision.gone else []
        words += [_islands(islands)] if islands else []
        rows.append(
            Row(
                name=panel.name,
                before=panel.islands,
                now=islands,
                words=tuple(words) or ("not looked for",),
                texels_per_cm_before=density_of(old, kept.uv, kept.panel == p, size_px),
                texels_per_cm=density_of(new, mesh.uv, owner == p, size_px),
            )
        )
    return _drawn(followed, mesh, owner, followed.island, tuple(rows))


def _drawn(followed: Comparison, mesh: Mesh, owner: I32, island: I32, rows: tuple[Row, ...]) -> U8:
    from texbake.change.picture import Half, draw_change

    kept = followed.kept
    before = Half(
        title=f"as baked: {kept.mesh_name}",
        uv=kept.uv,
        owner=kept.panel,
        island=kept.island,
        texels_per_cm=[row.texels_per_cm_before for row in rows],
    )
    now = Half(
        title=f"now: {mesh.path.name}",
        uv=mesh.uv,
        owner=owner,
        island=island,
        texels_per_cm=[row.texels_per_cm for row in rows],
    )
    return draw_change(before, now, rows, f"{kept.garment}: the layout has changed")


def _pointing(error: UserError, where: Path) -> UserError:
    """Add to a complaint where its picture is."""
    fix = f"{error.fix}; see {where}"
    return UserError(error.what, fix=fix, path=error.path, line=error.line)


def _islands(numbers: tuple[int, ...] | list[int]) -> str:
    word = "island" if len(numbers) == 1 else "islands"
    return f"{word} {listed([str(i) for i in numbers], MOST_NUMBERS)}"
