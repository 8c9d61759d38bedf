"""Settings of the site, and formulas as MathML, which browsers draw by themselves."""

from __future__ import annotations

from typing import Any

from docutils import nodes
from docutils.utils.math.latex2mathml import tex2mathml

import lagwise

project, author, version = "lagwise", "The lagwise contributors", lagwise.__version__
html_title, html_theme = f"lagwise {version}", "furo"
extensions = ["myst_nb", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
exclude_patterns = ["README.md"]
html_static_path, html_css_files = ["static"], ["site.css"]
html_copy_source = html_show_sphinx = html_show_copyright = False
html_show_search_summary = False  # it is fetched page by page, which a folder opened in a browser refuses
html_last_updated_fmt = None
smartquotes = False  # they would make one dash of the two of an option
default_role = "code"
nitpicky = True
nitpick_ignore_regex = [("py:.*", ".*")]  # types of other libraries, whose pages are not asked

myst_enable_extensions = ["dollarmath", "attrs_block", "attrs_inline"]
myst_heading_anchors = 4
nb_execution_mode = "off"
nb_ipywidgets_js: dict[str, Any] = {}  # these would be fetched
nb_merge_streams = True
html_math_renderer = "mathml"
napoleon_google_docstring = False
autodoc_typehints_format = "short"
python_maximum_signature_line_length = 80


def formula(writer: Any, node: nodes.Element) -> None:
    """Write a formula as MathML."""
    block = isinstance(node, nodes.math_block)
    drawn = tex2mathml(node.astext().replace(r"\dots", r"\ldots"), as_block=block)  # it knows the second alone
    writer.body.append(f'<div class="formula" tabindex="0">{drawn}</div>' if block else drawn)
    raise nodes.SkipNode


def setup(app: Any) -> None:
    """Make the renderer known."""
    app.add_html_math_renderer("mathml", (formula, None), (formula, None))
