"""Settings of the site."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import lagwise

sys.path.insert(0, str(Path(__file__).parent))  # for the extension that lies beside this file

project, author, version = "lagwise", "The lagwise contributors", lagwise.__version__
html_title, html_theme = f"lagwise {version}", "furo"
extensions = ["myst_nb", "sphinx.ext.autodoc", "sphinx.ext.napoleon", "formulas"]
exclude_patterns = ["README.md"]
html_static_path, html_css_files = ["static"], ["site.css"]
html_copy_source = html_show_sphinx = html_show_copyright = False
html_show_search_summary = False  # it is fetched page by page, which a folder opened in a browser refuses
html_last_updated_fmt = None
smartquotes_action = "D"
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
