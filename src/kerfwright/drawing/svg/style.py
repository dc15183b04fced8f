"""CSS for drawings: which declarations reach an element, and in which order.

Presentation attributes come first, then style sheets by specificity and order, then the element's
own ``style``; ``!important`` turns the last two round (CSS Cascading 4, SVG 1.1 section 6.4).
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import cssselect
import tinycss2
from cssselect.parser import Class, Element, Hash, Selector
from cssselect.xpath import XPathExpr
from lxml import etree

from kerfwright.drawing.svg.text_style import TEXT_PROPERTIES, longhands
from kerfwright.drawing.svg.xml import local_name

GEOMETRY = frozenset(("width", "height", "x", "y", "cx", "cy", "r", "rx", "ry", "d"))
"""Sizes and places that CSS may give instead of attributes (SVG 2 chapter 7)."""

PROPERTIES = frozenset(
    {
        *("color", "fill", "fill-opacity", "fill-rule", "stop-color", "opacity", "vector-effect"),
        *("stroke", "stroke-dasharray", "stroke-dashoffset", "stroke-linecap", "stroke-opacity"),
        *("stroke-width", "font-size", "marker-start", "marker-mid", "marker-end"),
        *("clip-path", "clip-rule", "mask", "mask-type", "filter", "stop-opacity"),
        *("display", "visibility", "overflow"),
        *("transform", "transform-origin"),
        *GEOMETRY,
        *TEXT_PROPERTIES,
    }
)
"""What of CSS changes where a drawing's lines lie, whether they show, and how they are painted."""

_NOT_ATTRIBUTES = GEOMETRY | {"transform"}
"""Read from attributes by other rules than CSS's."""

_PATH = re.compile(r"path\(\s*([\"'])(.*)\1\s*\)", re.DOTALL | re.IGNORECASE)

_HARMLESS_AT_RULES = frozenset(("charset", "namespace", "font-face", "page", "keyframes"))

_SHOWN_MEDIA = frozenset(("all", "screen", "print", ""))


@dataclass(frozen=True, slots=True)
class _Declared:
    """One declaration and its place in the cascade; later ``rank`` wins."""

    rank: tuple[int, tuple[int, int, int], int]
    name: str
    value: str


_INLINE = (0, 0, 0)
_SHEET, _OWN, _SHEET_IMPORTANT, _OWN_IMPORTANT = range(4)


class StyleSheet:
    """All ``<style>`` of one drawing, matched to its elements.

    ``not_understood`` holds the rules that could not be applied, for the user to know.
    """

    def __init__(self, root: etree._Element) -> None:
        self.not_understood: list[str] = []
        self._root = root
        self._by_element: dict[etree._Element, list[_Declared]] = defaultdict(list)
        self._own: dict[str, list[tuple[bool, str, str]]] = {}
        self._index: dict[tuple[str, str], list[etree._Element]] | None = None
        self._rules = 0
        for style in root.iter("{*}style"):
            kind, media = style.get("type", "text/css"), style.get("media", "")
            if local_name(style) == "style" and kind in {"text/css", ""} and _is_shown(media):
                self._read(tinycss2.parse_stylesheet("".join(style.itertext()), True, True))

    def declared(self, element: etree._Element) -> dict[str, str]:
        """Return what is declared for an element, by property; only :data:`PROPERTIES`."""
        out = {
            name: value.strip()
            for name, value in element.attrib.items()
            if name in PROPERTIES and name not in _NOT_ATTRIBUTES
        }
        matched = list(self._by_element.get(element, ()))
        text = element.get("style")
        if not (text or matched):
            return out
        if text:
            matched.extend(
                _Declared((_OWN_IMPORTANT if important else _OWN, _INLINE, 0), name, value)
                for important, name, value in self._own_declarations(text)
            )
        for declared in sorted(matched, key=lambda declared: declared.rank):
            out[declared.name] = declared.value
        return out

    @staticmethod
    def sized(element: etree._Element, declared: Mapping[str, str]) -> etree._Element:
        """Return an element with the sizes and places that CSS gives it as its attributes."""
        by_style = GEOMETRY.intersection(declared)
        if not by_style:
            return element
        sized = etree.Element(element.tag, dict(element.attrib))
        sized.sourceline = element.sourceline
        for name in by_style:
            found = _PATH.fullmatch(declared[name]) if name == "d" else None
            sized.set(name, found[2] if found else declared[name])
        return sized

    def _own_declarations(self, text: str) -> list[tuple[bool, str, str]]:
        found = self._own.get(text)
        if found is None:
            nodes = tinycss2.parse_declaration_list(text, True, True)
            found = self._own[text] = list(self._declarations(nodes))
        return found

    def _read(self, nodes: Sequence[Any]) -> None:
        for node in nodes:
            if node.type == "qualified-rule":
                self._read_rule(node)
            elif node.type == "at-rule" and node.lower_at_keyword == "media":
                if _is_shown(tinycss2.serialize(node.prelude)):
                    self._read(tinycss2.parse_rule_list(node.content or [], True, True))
            elif node.type == "at-rule" and node.lower_at_keyword in _HARMLESS_AT_RULES:
                continue
            else:
                self.not_understood.append(_first_line(node))

    def _read_rule(self, rule: Any) -> None:
        text = tinycss2.serialize(rule.prelude).strip()
        nodes = tinycss2.parse_declaration_list(rule.content, True, True)
        declarations = list(self._declarations(nodes))
        if not declarations:
            return
        self._rules += 1
        try:
            matches = [
                (selector.specificity(), self._matched(selector))
                for selector in cssselect.parse(text)
                if selector.pseudo_element is None
            ]
        except (cssselect.SelectorError, etree.XPathError, ValueError):
            self.not_understood.append(text)
            return
        for specificity, elements in matches:
            for important, name, value in declarations:
                layer = _SHEET_IMPORTANT if important else _SHEET
                declared = _Declared((layer, specificity, self._rules), name, value)
                for element in elements:
                    self._by_element[element].append(declared)

    def _declarations(self, nodes: Sequence[Any]) -> Iterator[tuple[bool, str, str]]:
        for node in nodes:
            if node.type != "declaration":
                self.not_understood.append(_first_line(node))
                continue
            value = tinycss2.serialize(node.value).strip()
            single = (
                [(f"marker-{end}", value) for end in ("start", "mid", "end")]
                if node.lower_name == "marker"
                else longhands(node.lower_name, value)
            )
            for name, single_value in single:
                if name in PROPERTIES:
                    yield node.important, name, single_value

    def _matched(self, selector: Selector) -> list[etree._Element]:
        """Return the elements of a selector; single class, id and type without XPath."""
        match selector.parsed_tree:
            case Class(selector=Element(element=None), class_name=name):
                return self._indexed("class", name)
            case Hash(selector=Element(element=None), id=name):
                return self._indexed("id", name)
            case Element(element=str(name)):
                return self._indexed("type", name)
        xpath = _SvgTranslator().selector_to_xpath(selector, prefix="descendant-or-self::")
        return list(etree.XPath(xpath)(self._root))

    def _indexed(self, key: str, name: str) -> list[etree._Element]:
        if self._index is None:
            self._index = defaultdict(list)
            for element in self._root.iter("*"):
                self._index["type", local_name(element)].append(element)
                self._index["id", element.get("id", "")].append(element)
                for word in set(element.get("class", "").split()):
                    self._index["class", word].append(element)
        return self._index.get((key, name), [])


class _SvgTranslator(cssselect.GenericTranslator):
    """Matches types by local name, since a drawing's elements have SVG's namespace."""

    def xpath_element(self, selector: Element) -> XPathExpr:
        expression = self.xpathexpr_cls(element="*")
        if selector.element:
            literal = self.xpath_literal(selector.element)
            expression.add_condition(f"local-name() = {literal}")
        return expression


def _is_shown(media: str) -> bool:
    return any(
        query.strip().lower().removeprefix("only ").strip() in _SHOWN_MEDIA
        for query in media.split(",")
    )


def _first_line(node: Any) -> str:
    text = node.message if node.type == "error" else node.serialize()
    line = " ".join(str(text).split())
    return line if len(line) <= 60 else f"{line[:57]}..."
