"""A template as DXF in millimetres, one layer for what is cut and others for the rest."""

from __future__ import annotations

import io

from railwright.make.panel.lines import BELOW, Circle, Line, foot, template, title
from railwright.make.panel.placed import Panel

MILLIMETRES = 4
"""The drawing's unit, as the format counts."""


def dxf(panel: Panel) -> bytes:
    """The template; the same bytes for the same panel."""
    import ezdxf
    from ezdxf.enums import TextEntityAlignment

    ezdxf.options.write_fixed_meta_data_for_testing = True
    drawing = ezdxf.new("R2000")
    drawing.header["$INSUNITS"] = MILLIMETRES
    space = drawing.modelspace()
    for mark in (*template(panel), *foot(panel.width / 2.0, -BELOW, title(panel))):
        layer = {"layer": mark.layer.upper()}
        if isinstance(mark, Line):
            space.add_line(_mm(mark.start), _mm(mark.end), dxfattribs=layer)
        elif isinstance(mark, Circle):
            space.add_circle(_mm(mark.middle), mark.diameter * 500.0, dxfattribs=layer)
        else:
            text = space.add_text(mark.text, height=mark.height * 1e3, dxfattribs=layer)
            text.set_placement(_mm(mark.foot), align=TextEntityAlignment.CENTER)
    out = io.StringIO()
    drawing.write(out)
    return out.getvalue().encode()


def _mm(place: tuple[float, float]) -> tuple[float, float]:
    return round(place[0] * 1e3, 6), round(place[1] * 1e3, 6)
