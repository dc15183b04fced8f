"""Gives every shape its process: by the order's rules, then by layer names and paint."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fnmatch import fnmatchcase

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.findings import Finding, Severity
from kerfwright.parts.gathered import counted, names_of
from kerfwright.parts.layer_words import process_of_layer
from kerfwright.parts.model import ProcessedShape
from kerfwright.parts.paper import WHITE, patterns, white_over_dark, wide_lines
from kerfwright.shop.order import Rule
from kerfwright.toolpath import Process

SHAPES = ("shape is", "shapes are")


def give_processes(
    drawing: Drawing, rules: Sequence[Rule], *, item_rules: int = 0
) -> tuple[tuple[ProcessedShape, ...], tuple[Finding, ...]]:
    """Give each shape a process; the first rule whose tests all match decides.

    ``rules`` are the item's followed by the order's; ``item_rules`` says how many are the item's,
    for naming them. A shape that no rule matches goes by the words of its layer's name, then by
    its paint: filled is engraved, a line alone is cut. Shapes that would show nothing on white
    paper are left out and reported. Colours mean nothing here except through a rule.
    """
    processed: list[ProcessedShape] = []
    invisible: list[Shape] = []
    both: list[Shape] = []
    ambiguous: list[Shape] = []
    for shape in drawing.shapes:
        by_rule = _by_rule(shape, rules, item_rules)
        if by_rule is not None:
            processed.append(by_rule)
            continue
        by_layer, several = process_of_layer(shape.layer)
        if not shows(shape.paint) and not (by_layer is Process.CUT and shape.paint.fill):
            invisible.append(shape)
            continue
        if several:
            ambiguous.append(shape)
        if by_layer is not None:
            processed.append(ProcessedShape(shape, by_layer, f'default: layer "{shape.layer}"'))
        elif is_filled(shape.paint):
            if shape.paint.stroke is not None:
                both.append(shape)
            processed.append(ProcessedShape(shape, Process.ENGRAVE, "default: filled"))
        else:
            processed.append(ProcessedShape(shape, Process.CUT, "default: line without fill"))
    findings = [
        *_paint_findings(drawing, invisible, both),
        *_ambiguous_finding(drawing, ambiguous),
        *white_over_dark(drawing.shapes, processed, drawing.name),
        *wide_lines(processed, drawing.name),
        *patterns(processed, drawing.name),
    ]
    return tuple(processed), tuple(findings)


def shows(paint: Paint) -> bool:
    """Whether paint shows on white paper; a white line counts, since screens draw it on black."""
    return paint.stroke is not None or is_filled(paint)


def is_filled(paint: Paint) -> bool:
    """Whether a fill is meant to be seen; white is paper showing through."""
    return paint.fill is not None and paint.fill != WHITE


def rule_name(number: int, rule: Rule, item_rules: int = 0) -> str:
    """How a rule is named to the user; ``number`` counts from 0 through item's and order's."""
    owner, own = ("item", number) if number < item_rules else ("order", number - item_rules)
    return f"{owner} rule {own + 1} ({_tests(rule)})"


def unused_rules(
    rules: Sequence[Rule], shapes: Iterable[ProcessedShape], *, item_rules: int = 0
) -> tuple[Finding, ...]:
    """Report rules that decided nothing in all the drawings they are meant for.

    ``rules`` and ``item_rules`` as for :func:`give_processes`; ``shapes`` are those of every
    drawing that the rules were given for.
    """
    shapes = tuple(shapes)
    used = {shape.rule for shape in shapes}
    layers = sorted({shape.shape.layer for shape in shapes if shape.shape.layer})
    there = f"The layers are {names_of(layers)}." if layers else "No shape has a layer."
    return tuple(
        Finding(
            Severity.WARN,
            "parts/rule-unused",
            f"{rule_name(number, rule, item_rules)} decided about no shape.",
            f"Check its spelling, and whether a rule before it already takes its shapes. {there}",
        )
        for number, rule in enumerate(rules)
        if rule_name(number, rule, item_rules) not in used
    )


def _by_rule(shape: Shape, rules: Sequence[Rule], item_rules: int) -> ProcessedShape | None:
    for number, rule in enumerate(rules):
        if matches(rule, shape):
            name = rule_name(number, rule, item_rules)
            return ProcessedShape(shape, Process(rule.process), name)
    return None


def matches(rule: Rule, shape: Shape) -> bool:
    """Whether all tests of a rule match a shape."""
    if rule.layer is not None and not fnmatchcase(shape.layer.lower(), rule.layer.lower()):
        return False
    return _paint_matches(rule.fill, shape.paint.fill) and _paint_matches(
        rule.stroke, shape.paint.stroke
    )


def _paint_matches(wanted: bool | str | None, colour: str | None) -> bool:
    if wanted is None:
        return True
    if isinstance(wanted, bool):
        return wanted is (colour is not None)
    return colour is not None and wanted == colour.lower()


def _tests(rule: Rule) -> str:
    tests = [f'layer "{rule.layer}"'] if rule.layer is not None else []
    for what, wanted in (("fill", rule.fill), ("line", rule.stroke)):
        if isinstance(wanted, bool):
            tests.append(f"with {what}" if wanted else f"without {what}")
        elif wanted is not None:
            tests.append(f"{what} {wanted}")
    return ", ".join(tests) or "every shape"


def _paint_findings(
    drawing: Drawing, invisible: Sequence[Shape], both: Sequence[Shape]
) -> list[Finding]:
    return counted(
        Severity.WARN,
        "parts/invisible",
        [shape.name for shape in invisible],
        SHAPES,
        " left out: filled with white or not painted at all, so nothing of them shows on white "
        "paper.",
        'If they are meant, give them a line or a fill, or a rule such as fill = "#ffffff" with '
        "the process that you want.",
        drawing=drawing.name,
    ) + counted(
        Severity.NOTE,
        "parts/fill-and-stroke",
        [shape.name for shape in both],
        SHAPES,
        " filled and drawn with a line as well: the area is engraved, the line is not burned "
        "separately.",
        "To cut or score along the edge, add a copy without fill, or a rule with fill = true and "
        "stroke = true and the process that you want.",
        drawing=drawing.name,
    )


def _ambiguous_finding(drawing: Drawing, shapes: Sequence[Shape]) -> list[Finding]:
    layers = names_of(f'"{layer}"' for layer in dict.fromkeys(shape.layer for shape in shapes))
    return counted(
        Severity.NOTE,
        "parts/layer-says-two",
        [shape.name for shape in shapes],
        SHAPES,
        f" in a layer whose name speaks of more than one process ({layers}): filled ones are "
        "engraved, lines are cut.",
        "Give them a layer each, or a rule in the order file.",
        drawing=drawing.name,
    )
