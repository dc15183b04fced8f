"""Labels on a trial piece: outlines of Source Sans, to be scored."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path as FilePath

from font_source_sans_pro import font_files_ttf

from kerfwright.drawing.lettering.font_files import font_file
from kerfwright.drawing.lettering.setting import Setting, set_font, set_line
from kerfwright.drawing.svg.geometry import flattened
from kerfwright.geometry.affine import scaling, translation
from kerfwright.geometry.paths import Path
from kerfwright.geometry.tolerances import CHORD_MM
from kerfwright.trials.model import Label


def lettered(labels: Sequence[Label]) -> tuple[Path, ...]:
    """Return the outlines of labels in mm, each centred on its place."""
    return tuple(path for label in labels for path in _outlines(label))


def _outlines(label: Label) -> tuple[Path, ...]:
    setting = _setting()
    clusters = set_line(label.text, [setting] * len(label.text))
    cap_height = setting.fonts[0].metrics.cap_height
    size = label.height_mm / cap_height
    width = sum(cluster.advance for cluster in clusters)
    # centred by the height of capitals and digits
    place = translation(label.x_mm, label.y_mm) @ scaling(size, size)
    place = place @ translation(-width / 2.0, -cap_height / 2.0)
    contours, pen = [], 0.0
    for cluster in clusters:
        contours += cluster.drawn(translation(pen, 0.0))
        pen += cluster.advance
    return flattened(contours, place, CHORD_MM)[0]


@lru_cache(maxsize=1)
def _setting() -> Setting:
    (face,) = font_file(FilePath(font_files_ttf["SourceSansPro"])).faces
    return Setting((set_font(face),))
