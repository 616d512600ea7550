"""The whole manual as one HTML file: no network, no scripts, readable in print."""

from html import escape

from parasim.manual import SCHEMA, contents, page, topics

STYLE = """
body { font: 15px/1.5 sans-serif; color: #111; max-width: 60em; margin: 2em auto; padding: 0 1em; }
pre { font-size: 12px; line-height: 1.35; overflow-x: auto; }
pre { border-left: 3px solid #999; padding-left: 0.8em; }
table { border-collapse: collapse; font-size: 13px; }
th, td { border-bottom: 1px solid #bbb; padding: 0.2em 0.6em; text-align: left; vertical-align: top; }
section { break-before: page; }
nav { break-after: page; }
"""


def manual_html() -> str:
    """The manual as HTML, without the JSON Schema."""
    from markdown_it import MarkdownIt

    markdown = MarkdownIt("commonmark").enable("table")
    shown = [name for name in topics() if name != SCHEMA]
    links = "".join(f'<li><a href="#{name}">{escape(topics()[name])}</a></li>' for name in shown)
    pages = "\n".join(f'<section id="{name}">{markdown.render(page(name))}</section>' for name in shown)
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Manual of parasim</title>\n'
        f"<style>{STYLE}</style></head><body>\n{markdown.render(contents())}<nav><ol>{links}</ol></nav>\n"
        f"{pages}\n</body></html>\n"
    )
