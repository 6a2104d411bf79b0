"""What stands under the sketch of a heat sheet: how to read it."""

from flamefe.reporting.heat_drawing import Remarks
from flamefe.reporting.heat_sketch import Sketch


def legend_words(sketch: Sketch, remarks: Remarks) -> list[str]:
    """How a sketch is to be read, and what its drawing left out.

    Args:
        sketch: what was drawn.
        remarks: of its drawing.
    """
    views = sketch.views
    said = ["dimensions in mm from the ring at 0"]
    if len({(v.first, v.second) for v in views}) == 1:
        said[0] = f"mm, first {views[0].first}, second {views[0].second}"
    holders = [one for view in views for one in view.holders]
    said.append("not to scale")
    if any(one.over is not None for one in holders):
        said.append("violet line: held all along it, or all over")
    if any(one.label.startswith("(") for one in holders):
        said.append("(S1): on another side")
    if remarks.cut:
        said.append("cold lengths cut out")
    if remarks.uneven:
        said.append("length and width at different scales")
    if remarks.unnumbered:
        said.append(f"{remarks.unnumbered} numbers left out where places are too close")
    if remarks.undimensioned:
        said.append(f"{remarks.undimensioned} places not dimensioned, see the table")
    if any(view.hidden for view in views):
        said.append("dashed: plates behind it")
    if remarks.left_out:
        said.insert(0, f"NOT DRAWN for want of room: {', '.join(remarks.left_out)}")
    return said
