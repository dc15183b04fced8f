"""What a DXF entity inherits: its layer, its colour, and whether it is seen at all."""

from __future__ import annotations

from dataclasses import dataclass

from ezdxf.colors import BYBLOCK, BYLAYER, aci2rgb, int2rgb
from ezdxf.document import Drawing as Document
from ezdxf.entities.dxfentity import DXFEntity, DXFTagStorage
from ezdxf.entities.layer import Layer

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
        self._layers: dict[str, LayerState] = {}
        for layer in document.layers:
            self._layers[layer.dxf.name.lower()] = self._state(layer)

    def _state(self, layer: Layer) -> LayerState:
        rgb = layer.rgb
        return LayerState(
            name=_as_text(layer.dxf.name),
            colour=hex_of(rgb) if rgb is not None else _number_colour(layer.color) or INK,
            off=layer.is_off(),
            frozen=layer.is_frozen(),
            plotted=bool(layer.dxf.get("plot", 1)),
            dashed=layer.dxf.get("linetype", "").upper() in self._dashed,
        )

    def layer_of(self, entity: DXFEntity, inherited: Inherited) -> LayerState:
        """Layer of an entity; layer 0 in a block is the layer of the INSERT."""
        name = str(attribute_of(entity, "layer", "0"))
        if name == "0" and inherited.layer is not None:
            return inherited.layer
        state = self._layers.get(name.lower())
        if state is None:
            state = self._layers[name.lower()] = LayerState(_as_text(name))
        return state

    def colour_of(self, entity: DXFEntity, layer: LayerState, inherited: Inherited) -> str:
        """Colour of an entity as ``#rrggbb``: its own, its layer's or its INSERT's."""
        true_colour = entity.dxf.get("true_color")
        if true_colour is not None:
            return hex_of(int2rgb(true_colour & 0xFFFFFF))
        number = entity.dxf.get("color", BYLAYER)
        if number == BYBLOCK:
            return inherited.colour
        return _number_colour(number) or layer.colour

    def is_dashed(self, entity: DXFEntity, layer: LayerState, inherited: Inherited) -> bool:
        """Whether an entity is drawn with a broken line."""
        name = str(entity.dxf.get("linetype", "BYLAYER")).upper()
        if name == "BYLAYER":
            return layer.dashed
        return inherited.dashed if name == "BYBLOCK" else name in self._dashed


def attribute_of(entity: DXFEntity, name: str, default: object) -> object:
    """Value of an attribute, also of kinds that the DXF library keeps as bare tags."""
    if isinstance(entity, DXFTagStorage):
        return entity.graphic_properties().get(name, default)
    return entity.dxf.get(name, default) if entity.dxf.is_supported(name) else default


def _as_text(name: str) -> str:
    """Replace bytes that were no text: they come as lone surrogates, which nobody can print."""
    return name.encode("utf-8", "replace").decode("utf-8")


def hex_of(rgb: tuple[int, int, int]) -> str:
    """Write a colour as ``#rrggbb``."""
    return "#{:02x}{:02x}{:02x}".format(*rgb)


def _number_colour(number: int) -> str | None:
    if number == 7:
        return INK
    return hex_of(aci2rgb(number)) if 1 <= number <= 255 else None
