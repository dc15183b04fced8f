"""What a DXF entity inherits: its layer, its colour, and whether it is seen at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from ezdxf.colors import BYBLOCK, BYLAYER, aci2rgb, int2rgb
from ezdxf.document import Drawing as Document
from ezdxf.entities.dxfentity import DXFEntity, DXFTagStorage
from ezdxf.entities.layer import Layer
from ezdxf.lldxf.encoding import decode_dxf_unicode, decode_mif_to_unicode

INK = "#000000"
"""Colour number 7 is white on a black screen and black on paper; the work is on paper."""

_UNBROKEN = frozenset(("CONTINUOUS", "BYLAYER", "BYBLOCK"))


@dataclass(frozen=True, slots=True)
class LayerState:
    """A layer as the file's table has it."""

    name: str
    colour: str = INK
    off: bool = False
    frozen: bool = False
    plotted: bool = True
    dashed: bool = False

    @property
    def drawn(self) -> bool:
        """Whether what is on it can be seen and is plotted."""
        return self.plotted and not (self.off or self.frozen)


@dataclass(frozen=True, slots=True)
class Inherited:
    """What the entities of a block take from the INSERT that places it.

    ``trail`` names the INSERTs, ``blocks`` are those that are open, so that none goes round in
    a circle.
    """

    layer: LayerState | None = None
    colour: str = INK
    dashed: bool = False
    trail: str = ""
    blocks: frozenset[str] = frozenset()


class Layers:
    """The layer and line type tables of a file, in which upper and lower case are alike."""

    def __init__(self, document: Document) -> None:
        self._dashed = {
            linetype.dxf.name.upper()
            for linetype in document.linetypes
            if linetype.dxf.name.upper() not in _UNBROKEN
            and len(linetype.simplified_line_pattern()) > 0
        }
        self._encoding = document.encoding if document.dxfversion < "AC1021" else "utf-8"
        self._layers: dict[str, LayerState] = {}
        self._met: dict[object, LayerState] = {}
        for layer in document.layers:
            self._layers[layer.dxf.name.lower()] = self._state(layer)

    def _as_text(self, name: str) -> str:
        return as_text(name, self._encoding)

    def _state(self, layer: Layer) -> LayerState:
        rgb = layer.rgb
        return LayerState(
            name=self._as_text(layer.dxf.name),
            colour=hex_of(rgb) if rgb is not None else _number_colour(layer.color) or INK,
            off=layer.is_off(),
            frozen=layer.is_frozen(),
            plotted=bool(layer.dxf.get("plot", 1)),
            dashed=layer.dxf.get("linetype", "").upper() in self._dashed,
        )

    def layer_of(self, entity: DXFEntity, inherited: Inherited) -> LayerState:
        """Layer of an entity; layer 0 in a block is the layer of the INSERT."""
        return self.layer_named(properties_of(entity).get("layer", "0"), inherited)

    def layer_named(self, name: object, inherited: Inherited) -> LayerState:
        """Layer of an entity that names it; layer 0 in a block is the layer of the INSERT."""
        if name == "0" and inherited.layer is not None:
            return inherited.layer
        state = self._met.get(name)
        if state is None:
            words = str(name)
            state = self._layers.get(words.lower()) or LayerState(self._as_text(words))
            self._layers[words.lower()] = self._met[name] = state
        return state

    def colour_of(self, entity: DXFEntity, layer: LayerState, inherited: Inherited) -> str:
        """Colour of an entity as ``#rrggbb``: its own, its layer's or its INSERT's."""
        own = vars(entity.dxf)
        true_colour = own.get("true_color")
        if true_colour is not None:
            return hex_of(int2rgb(true_colour & 0xFFFFFF))
        number = own.get("color", BYLAYER)
        return (
            layer.colour if number == BYLAYER else self.number_colour_of(number, layer, inherited)
        )

    def number_colour_of(self, number: int, layer: LayerState, inherited: Inherited) -> str:
        """Colour of a colour number as ``#rrggbb``."""
        if number == BYBLOCK:
            return inherited.colour
        return _number_colour(number) or layer.colour

    def is_dashed(self, entity: DXFEntity, layer: LayerState, inherited: Inherited) -> bool:
        """Whether an entity is drawn with a broken line."""
        name = vars(entity.dxf).get("linetype")
        if name is None:
            return layer.dashed
        name = str(name).upper()
        if name == "BYLAYER":
            return layer.dashed
        return inherited.dashed if name == "BYBLOCK" else name in self._dashed


def properties_of(entity: DXFEntity) -> Mapping[str, Any]:
    """Attributes that an entity has in the file, also of kinds that are kept as bare tags."""
    if isinstance(entity, DXFTagStorage):
        return entity.graphic_properties()
    return vars(entity.dxf)


def as_text(name: str, encoding: str) -> str:
    """A name as it was meant: escapes decoded, UTF-8 recognised, unprintable bytes replaced.

    Files before release 2007 state a code page, yet many programs write UTF-8 all the same; text
    in a code page is next to never valid UTF-8.
    """
    if name.isascii() and "\\" not in name:
        return name
    name = decode_mif_to_unicode(decode_dxf_unicode(name))
    if not name.isascii():
        try:
            name = name.encode(encoding, "surrogateescape").decode("utf-8")
        except UnicodeError:
            # bytes that were no text come as lone surrogates, which nobody can print
            name = name.encode("utf-8", "replace").decode("utf-8")
    return name


def hex_of(rgb: tuple[int, int, int]) -> str:
    """Write a colour as ``#rrggbb``."""
    return "#{:02x}{:02x}{:02x}".format(*rgb)


@cache
def _number_colour(number: int) -> str | None:
    if number == 7:
        return INK
    return hex_of(aci2rgb(number)) if 1 <= number <= 255 else None
