"""Formulas as MathML, which browsers draw by themselves, and a typeface for those that have none for it.

A browser places indices and fractions by a table in the typeface; many Linux machines have no typeface with one. So
signs of matplotlib's STIX are taken, get such a table and travel inside the style sheet, where a page opened from a
folder may read them too.
"""

from __future__ import annotations

import base64
import io
import logging
from pathlib import Path
from typing import Any

from docutils import nodes
from docutils.utils.math.latex2mathml import tex2mathml
from fontTools.otlLib.builder import buildMathTable
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont
from matplotlib import get_data_path

NAME = "lagwise formulas"
SIGNS = (range(0x20, 0x7F), range(0xA0, 0x180), range(0x370, 0x400), range(0x2010, 0x2070), range(0x2200, 0x2300),
         range(0x1D434, 0x1D468), range(0x1D6A4, 0x1D71C))  # fmt: skip
PLACES = {
    "ScriptPercentScaleDown": 70, "ScriptScriptPercentScaleDown": 55, "DelimitedSubFormulaMinHeight": 1500,
    "DisplayOperatorMinHeight": 1000, "MathLeading": 150, "AxisHeight": 250, "AccentBaseHeight": 450,
    "SubscriptShiftDown": 210, "SubscriptTopMax": 360, "SubscriptBaselineDropMin": 60,
    "SuperscriptShiftUp": 360, "SuperscriptShiftUpCramped": 300, "SuperscriptBottomMin": 120,
    "SuperscriptBaselineDropMax": 230, "SubSuperscriptGapMin": 150, "SuperscriptBottomMaxWithSubscript": 360,
    "SpaceAfterScript": 50, "UpperLimitGapMin": 200, "UpperLimitBaselineRiseMin": 350,
    "LowerLimitGapMin": 130, "LowerLimitBaselineDropMin": 600,
    "FractionNumeratorShiftUp": 480, "FractionNumeratorDisplayStyleShiftUp": 680,
    "FractionDenominatorShiftDown": 480, "FractionDenominatorDisplayStyleShiftDown": 690,
    "FractionNumeratorGapMin": 80, "FractionNumDisplayStyleGapMin": 150, "FractionRuleThickness": 50,
    "FractionDenominatorGapMin": 80, "FractionDenomDisplayStyleGapMin": 150,
    "OverbarVerticalGap": 120, "OverbarRuleThickness": 50, "OverbarExtraAscender": 50,
}  # fmt: skip
"""Heights and gaps in thousandths of the size of the type, and percents."""


def typeface() -> str:
    """The style sheet that holds the typeface."""
    logging.getLogger("fontTools").setLevel(logging.ERROR)  # it tells of every table it shortens
    font = TTFont(Path(get_data_path(), "fonts", "ttf", "STIXGeneral.ttf"))
    chosen = Subsetter(Options(hinting=False, layout_features=[]))
    chosen.populate(unicodes=[sign for signs in SIGNS for sign in signs])
    chosen.subset(font)
    for told in font["name"].names:  # a changed STIX may not carry that name
        if told.nameID in (1, 3, 4, 6, 16):
            told.string = NAME
    buildMathTable(font, constants=PLACES)
    file = io.BytesIO()
    font.save(file)
    data = base64.b64encode(file.getvalue()).decode("ascii")
    known = '"Cambria Math", "STIX Two Math", "Latin Modern Math"'
    return (
        f'@font-face {{ font-family: "{NAME}"; src: url("data:font/ttf;base64,{data}"); }}\n'
        f'math {{ font-family: {known}, "{NAME}", math; font-size: 1.1em; }}\n'
    )


def formula(writer: Any, node: nodes.Element) -> None:
    """Write a formula as MathML."""
    block = isinstance(node, nodes.math_block)
    drawn = tex2mathml(
        node.astext().replace(r"\dots", r"\ldots"), as_block=block
    )  # it knows the second alone
    writer.body.append(f'<div class="formula" tabindex="0">{drawn}</div>' if block else drawn)
    raise nodes.SkipNode


def beside(app: Any, failed: Exception | None) -> None:
    """Put the style sheet beside the others."""
    if not failed:
        Path(app.outdir, "_static", "formulas.css").write_text(typeface(), "utf-8")


def setup(app: Any) -> dict[str, bool]:
    """Make the renderer and its style sheet known."""
    app.add_html_math_renderer("mathml", (formula, None), (formula, None))
    app.add_css_file("formulas.css")
    app.connect("build-finished", beside)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
