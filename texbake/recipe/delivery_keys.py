"""The keys of a recipe that say which files a set has."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Annotated, Any, ClassVar, Final

from pydantic import BeforeValidator, Field, model_validator

from texbake.recipe import words
from texbake.recipe.delivery_values import (
    ALL,
    COLOURS,
    CONSTANTS,
    FORMATS,
    IN_THREE,
    LEAST_PX,
    MAPS,
    PARTS,
    Delivery,
    Packed,
    Source,
)
from texbake.recipe.keys import NONE, Keys, key
from texbake.recipe.kinds import Choice, Flag, Json, Kind, Whole
from texbake.recipe.mistake import WrongValueError, advice, nearest, shown

_PX = Whole(low=LEAST_PX, high=16384, powers=True)
_BITS = Whole(low=8, high=32, only=(8, 16, 32))
_FORMAT = Choice(of={name: name for name in FORMATS})
_ORM: Final = Packed(
    name="occlusion-roughness-metal",
    channels=MappingProxyType(
        dict(
            zip(COLOURS, (Source(map=m) for m in ("occlusion", "roughness", "metal")), strict=True)
        )
    ),
)
_GLTF: Final = Delivery(maps=("albedo", "normal-up", "opacity"), packed=(_ORM,))
# Ready-made ones, and what each is for.
READY: Final[Mapping[str, tuple[Delivery, str]]] = MappingProxyType(
    {
        "everything": (Delivery(), "every map in a file of its own, PNG, at the recipe's size"),
        "gltf": (
            _GLTF,
            "albedo, normals green up; occlusion, roughness and metal in one file (glTF 2.0)",
        ),
        "small": (replace(_GLTF, sizes=(1024,)), "as gltf, at 1024 px at most"),
        "near-and-far": (
            replace(_GLTF, sizes=("full", "quarter")),
            "as gltf, at the recipe's size and at a quarter of it",
        ),
        "deep": (
            Delivery(
                format=MappingProxyType({ALL: "tiff", "height": "exr"}),
                bits=MappingProxyType({ALL: 16, "height": 32}),
            ),
            "every map for further work: TIFF of 16 bits, height in mm as EXR",
        ),
    }
)


@dataclass(frozen=True, slots=True, eq=False)
class MapNames(Kind):
    """Which maps."""

    def parse(self, value: object) -> tuple[str, ...]:
        """Return them in the order of `MAPS`."""
        if value in (ALL, NONE):
            return MAPS if value == ALL else ()
        names = value if isinstance(value, list) else [value]
        for k, name in enumerate(names):
            at = (k,) if isinstance(value, list) else ()
            if name not in MAPS:
                fix = advice(str(name), MAPS, f"allowed: {', '.join(MAPS)}")
                raise WrongValueError(f"{shown(name)} is no map", fix=fix, at=at)
            if name in names[:k]:
                raise WrongValueError(f"map {name!r} stands twice", fix="name it once", at=at)
        return tuple(name for name in MAPS if name in names)

    def json(self) -> Json:
        """One, a list, all or none."""
        listed = {"type": "array", "items": {"enum": list(MAPS)}, "uniqueItems": True}
        return {"anyOf": [{"enum": [ALL, NONE, *MAPS]}, listed]}

    @property
    def words(self) -> str:
        """The form."""
        return f"a list of {', '.join(MAPS)}; or all; or none"


@dataclass(frozen=True, slots=True, eq=False)
class Sizes(Kind):
    """One size or several."""

    def parse(self, value: object) -> tuple[int | str, ...]:
        """Return them as a tuple."""
        sizes = value if isinstance(value, list) else [value]
        if not sizes:
            raise WrongValueError("found an empty list", fix=f"write {self.words}")
        found: list[int | str] = []
        for k, size in enumerate(sizes):
            at = (k,) if isinstance(value, list) else ()
            found.append(self._one(size, at))
            if found[-1] in found[:-1]:
                raise WrongValueError(f"size {size} stands twice", fix="name it once", at=at)
        return tuple(found)

    def _one(self, size: object, at: tuple[int, ...]) -> int | str:
        if not isinstance(size, str):
            return _PX.checked(size, at)
        if size not in PARTS:
            fix = advice(size, PARTS, f"allowed: {self.words}")
            raise WrongValueError(f"{shown(size)} is no size", fix=fix, at=at)
        return size

    def json(self) -> Json:
        """One, or a list."""
        one = {"anyOf": [_PX.json(), {"enum": list(PARTS)}]}
        return {"anyOf": [one, {"type": "array", "items": one, "minItems": 1}]}

    @property
    def words(self) -> str:
        """The form."""
        return f"{', '.join(PARTS)}, or a {_PX.words}; or a list of such"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PerMap(Kind):
    """One value for all maps, or a mapping of maps to values."""

    each: Choice | Whole

    def parse(self, value: object) -> dict[str, Any]:
        """Return a mapping; "all" stands for those that are not named."""
        if not isinstance(value, dict):
            return {ALL: self.each.parse(value)}
        found = {}
        for name, one in value.items():
            try:
                found[name] = self.each.parse(one)
            except WrongValueError as error:
                raise WrongValueError(error.what, fix=error.fix, at=(name,)) from error
        return found

    def json(self) -> Json:
        """One, or a mapping."""
        one = self.each.json()
        return {"anyOf": [one, {"type": "object", "additionalProperties": one}]}

    @property
    def words(self) -> str:
        """The form."""
        return f"{self.each.words}; or a mapping of maps to such, all for the rest"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sourced(Kind):
    """What goes into a channel; ``whole``: into three of them."""

    whole: bool = False

    def parse(self, value: object) -> Source:
        """Return where it is from."""
        parts = value.split() if isinstance(value, str) else []
        inverted = parts[:1] == ["inverted"]
        name, part = (*parts[inverted:], "", "")[:2]
        if self.whole:
            if name not in IN_THREE or len(parts) != 1:
                fix = f"write {self.words}"
                raise WrongValueError(f"{shown(value)} has not three channels", fix=fix)
            return Source(map=name)
        known = (*MAPS, *CONSTANTS)
        if name not in known or len(parts) - inverted > 2:
            fix = advice(name, known, f"write {self.words}")
            raise WrongValueError(f"{shown(value)} is no map or channel of one", fix=fix)
        if name in IN_THREE and part not in COLOURS:
            fix = f"say which: {', '.join(f'{name} {c}' for c in COLOURS)}"
            raise WrongValueError(f"{name} has three channels", fix=fix)
        if name not in IN_THREE and part:
            raise WrongValueError(f"{name} has no channel {part!r}", fix=f"write {name}")
        return Source(map=name, channel=COLOURS.index(part) if part else 0, inverted=inverted)

    def json(self) -> Json:
        """Return text with a pattern."""
        if self.whole:
            return {"enum": list(IN_THREE)}
        ones = "|".join(name for name in (*MAPS, *CONSTANTS) if name not in IN_THREE)
        three = f"({'|'.join(IN_THREE)}) ({'|'.join(COLOURS)})"
        return {"type": "string", "pattern": f"^(inverted )?({ones}|{three})$"}

    @property
    def words(self) -> str:
        """The form."""
        if self.whole:
            return " or ".join(IN_THREE)
        return "a map, or one channel of it (normal-up red), or inverted and such; black or white"


_SOURCE = Sourced()


class PackedKeys(Keys):
    """Several maps as the channels of one file; channels that are left out are black."""

    noun: ClassVar[str] = "packed map"
    colour: Annotated[Source | None, Sourced(whole=True)] = key(
        None, "What red, green and blue are together.", "albedo", "normal-up"
    )
    grey: Annotated[Source | None, _SOURCE] = key(
        None, "Instead of colours: the one channel.", "inverted roughness"
    )
    red: Annotated[Source | None, _SOURCE] = key(None, "The red channel.", "occlusion")
    green: Annotated[Source | None, _SOURCE] = key(None, "The green channel.", "roughness")
    blue: Annotated[Source | None, _SOURCE] = key(None, "The blue channel.", "metal")
    alpha: Annotated[Source | None, _SOURCE] = key(None, "The alpha channel.", "opacity", "height")

    @model_validator(mode="after")
    def _once(self) -> "PackedKeys":
        """Refuse a channel that gets two things, and a file without channels."""
        single = [name for name in COLOURS if getattr(self, name) is not None]
        if self.grey is not None and (self.colour is not None or single or self.alpha is not None):
            other = "colour" if self.colour is not None else (*single, "alpha")[0]
            fix = "keep one: a grey file has one channel"
            raise WrongValueError(f"both grey and {other}", fix=fix, at=("grey",))
        if self.colour is not None and single:
            fix = "keep one: colour is red, green and blue together"
            what = f"the channel {single[0]} is used twice: by colour and by {single[0]}"
            raise WrongValueError(what, fix=fix, at=(single[0],))
        if self.grey is None and self.colour is None and not single:
            fix = "say what is in red, green and blue, as in red: occlusion"
            raise WrongValueError("nothing says what is in its channels", fix=fix)
        return self

    def packed(self, name: str) -> Packed:
        """Return the value."""
        if self.grey is not None:
            return Packed(name=name, channels=MappingProxyType({"grey": self.grey}))
        black = Source(map="black")
        found = {part: getattr(self, part) or black for part in COLOURS}
        if self.colour is not None:
            found = {part: replace(self.colour, channel=k) for k, part in enumerate(COLOURS)}
        if self.alpha is not None:
            found["alpha"] = self.alpha
        return Packed(name=name, channels=MappingProxyType(found))


def _ready_word(value: Any) -> Any:  # noqa: ANN401  # as pydantic passes it
    """Read ``delivery: small`` as a delivery of which nothing else is said."""
    return {"ready": value} if isinstance(value, str) else value


class DeliveryKeys(Keys):
    """The files of a set; the name of a ready-made delivery may stand for the whole."""

    noun: ClassVar[str] = "delivery"
    ready: Annotated[str, Choice(of={name: name for name in READY})] = key(
        "everything", "A ready-made delivery, over which the other keys lie.", "gltf"
    )
    maps: Annotated[tuple[str, ...] | None, MapNames()] = key(
        None, "Maps with a file of their own.", ["albedo", "normal-up"], NONE
    )
    sizes: Annotated[tuple[int | str, ...] | None, Sizes()] = key(
        None,
        "Sizes, of the recipe's or smaller; the file names of several have {size}.",
        ["full", 512],
    )
    format: Annotated[dict[str, str] | None, PerMap(each=_FORMAT)] = key(
        None, "File format; EXR holds light, vectors and mm.", "tiff", {"height": "exr"}
    )
    bits: Annotated[dict[str, int] | None, PerMap(each=_BITS)] = key(
        None,
        "Bits per channel: PNG and TIFF 8 or 16, EXR 16 (half) or 32 (float).",
        16,
        {"albedo": 16},
    )
    packed: dict[Annotated[str, words.FileWord()], PackedKeys] | None = Field(
        default=None,
        description="Maps packed into one file, by the name that stands for {map}.",
        examples=[{"orm": {"red": "occlusion", "green": "roughness", "blue": "metal"}}],
    )
    zip: Annotated[bool, Flag()] = key(False, "Also the whole set as one zip.", "true")

    @model_validator(mode="after")
    def _fits(self) -> "DeliveryKeys":
        """Refuse what no file can be."""
        for found in (*self._packed_names(), *self._named(), *self._held()):
            raise found
        if not self.value.names(holes=True):
            fix = "name a map, or a packed map"
            raise WrongValueError("no map is delivered", fix=fix, at=("maps",))
        return self

    @property
    def value(self) -> Delivery:
        """The delivery that the keys describe."""
        base, _ = READY[self.ready]
        packed = base.packed
        if self.packed is not None:
            packed = tuple(self.packed[name].packed(name) for name in sorted(self.packed))
        return Delivery(
            maps=base.maps if self.maps is None else self.maps,
            sizes=self.sizes or base.sizes,
            format=_over(base.format, self.format),
            bits=_over(base.bits, self.bits),
            packed=packed,
        )

    def _packed_names(self) -> Iterator[WrongValueError]:
        """Find packed maps whose files would have the name of others."""
        taken = dict.fromkeys(MAPS, "the name of a map")
        taken |= dict.fromkeys(("view", "sheet"), "the name of a picture beside the maps")
        for name in self.packed or ():
            if name.lower() in taken:
                what = f"{name!r} is {taken[name.lower()]}: two files would have one name"
                yield WrongValueError(what, fix="choose another name", at=("packed", name))
            taken[name.lower()] = "the name of another packed map"

    def _named(self) -> Iterator[WrongValueError]:
        """Find values for maps that there are not."""
        there = (ALL, *MAPS, *(one.name for one in self.value.packed))
        for at in ("format", "bits"):
            for name in getattr(self, at) or ():
                if name not in there:
                    near = nearest(name, there)
                    fix = f"{f'did you mean {near!r}? ' if near else ''}it has: {', '.join(there)}"
                    yield WrongValueError(f"{name!r} is no map", fix=fix, at=(at, name))

    def _held(self) -> Iterator[WrongValueError]:
        """Find bits that a format does not hold."""
        value, files = self.value, self.value.names(holes=True)
        for name, bits in (self.bits or {}).items():
            formats = [value.format_of(one) for one in (files if name == ALL else (name,))]
            if formats and not any(bits in FORMATS[one] for one in formats):
                held = " or ".join(map(str, FORMATS[formats[0]]))
                what = f"{formats[0].upper()} has no {bits} bits"
                fix = f"write {held}, or another format"
                yield WrongValueError(what, fix=fix, at=("bits", *(() if name == ALL else (name,))))


def _over(base: Mapping[str, Any], own: Mapping[str, Any] | None) -> Mapping[str, Any]:
    """Lay a recipe's values over those of a ready-made delivery."""
    own = own or {}
    return MappingProxyType({**({} if ALL in own else base), **own})


DeliveryValue = Annotated[
    DeliveryKeys,
    BeforeValidator(_ready_word, json_schema_input_type=DeliveryKeys | str),
]


def refuse_files(keys: DeliveryKeys, size_px: int, file_name: str | None) -> None:
    """Refuse sizes that are not baked, and a pattern that gives two files one name.

    Parameters
    ----------
    keys : DeliveryKeys
    size_px : int
        What the recipe says.
    file_name : str or None
        The pattern, if one is written.
    """
    sizes = keys.sizes or ()
    for k, size in enumerate(sizes):
        if isinstance(size, int) and size > size_px:
            fix = f"write {size_px} or less, or bake at a larger size: size: {size}"
            what = f"{size} px is more than the size that is baked, {size_px} px"
            at = ("delivery", "sizes", *((k,) if len(sizes) > 1 else ()))
            raise WrongValueError(what, fix=fix, at=at)
    if file_name is None or "{size}" in file_name:
        return
    if len(keys.value.sizes_px(size_px)) > 1:
        fix = "put {size} in: without it the maps of several sizes would have one name"
        raise WrongValueError(f"{file_name!r} has no {{size}}", fix=fix, at=("file_name",))
