"""Sphinx settings: plain Markdown pages, Sphinx's own theme, nothing fetched from outside."""

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
