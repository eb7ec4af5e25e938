"""Trade terms in the texts of pages: the first use of each leads to the glossary."""

from urllib.parse import quote

from jinja2 import pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape

from loomwright.app.glossary import pieces

LINK = Markup('<a class="term" href="/glossary#{0}" hx-get="/glossary/{0}" hx-target="#sheet-body">{1}</a>')


@pass_context
def linked(context: Context, text: str) -> Markup:
    """The filter ``terms``: the text, escaped, with the first use on this page of each trade term as a link."""
    seen = context.get("seen_terms")
    if not isinstance(seen, set):  # a macro imported without its context cannot know what the page has told
        return escape(text)
    made = Markup()
    for words, name in pieces(str(text), seen):
        seen.update({name} if name else ())
        made += LINK.format(quote(name, safe=""), words) if name else escape(words)
    return made
