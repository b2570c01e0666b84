"""Sphinx settings: plain Markdown pages, Sphinx's own theme, nothing fetched from outside."""

from docutils.nodes import SkipNode
from docutils.utils.math import MathError
from docutils.utils.math.latex2mathml import tex2mathml
from sphinx.util import logging

logger = logging.getLogger(__name__)

project = "Limbwright"
author = "The Limbwright authors"
extensions = ["myst_parser"]
myst_enable_extensions = ["colon_fence", "deflist", "dollarmath"]
myst_heading_anchors = 3
source_suffix = {".md": "markdown"}
root_doc = "index"
exclude_patterns = ["_build"]
language = "en"
html_theme = "alabaster"
html_theme_options = {
    "description": "From a survey of an old fruit tree to the few best cuts",
    "fixed_sidebar": True,
    "page_width": "60rem",
    "link": "#7a2a4d",
}
html_show_sourcelink = False
html_math_renderer = "mathml"


def setup(app):
    """Write equations as MathML, which browsers show by themselves: no script from elsewhere."""
    app.add_html_math_renderer("mathml", (_inline, None), (_block, None))


def _inline(writer, node):
    _write(writer, node, as_block=False)


def _block(writer, node):
    _write(writer, node, as_block=True)


def _write(writer, node, *, as_block):
    try:
        math = tex2mathml(node.astext(), as_block=as_block)
    except MathError as error:
        logger.warning("equation not understood: %s", error, location=node)
        math = "<code>" + writer.encode(node.astext()) + "</code>"
    writer.body.append(math)
    raise SkipNode
