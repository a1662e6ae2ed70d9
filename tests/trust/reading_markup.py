"""What a page may not hold if its content policy is to need no exception: read from the markup itself."""

from html.parser import HTMLParser

_ADDRESSES = ("href", "src", "action", "formaction", "hx-get", "hx-post", "poster", "data", "srcset", "xlink:href")


class _Looking(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self._within = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = {name: (value or "").strip() for name, value in attrs}
        line, _column = self.getpos()
        if tag in ("style", "script"):
            self._within = tag
        if tag in ("iframe", "object", "embed", "base"):
            self._say(line, f"<{tag}>")
        for name, value in named.items():
            if name == "style" or name.startswith(("on", "hx-on")):
                self._say(line, f"{name}= on <{tag}>")
            if name == "hx-vals" and value.startswith(("js:", "javascript:")):
                self._say(line, "hx-vals that is script")
            if name in _ADDRESSES:
                self._look_at_address(line, tag, name, value)

    def _look_at_address(self, line: int, tag: str, name: str, value: str) -> None:
        scheme, colon, _rest = value.partition(":")
        if colon and scheme.isalpha() and scheme.lower() not in ("http", "https", "mailto", "tel"):
            self._say(line, f"{name}={value[:40]} on <{tag}>")
        loads = tag in ("script", "link", "img", "source", "image", "use", "form") or name.startswith("hx-")
        if loads and (value.startswith("//") or scheme in ("http", "https")) and colon:
            self._say(line, f"<{tag}> reaches out to {value[:60]}")

    def handle_endtag(self, tag: str) -> None:
        self._within = ""

    def handle_data(self, data: str) -> None:
        if self._within and data.strip():
            self._say(self.getpos()[0], f"<{self._within}> within the page")

    def _say(self, line: int, what: str) -> None:
        self.found.append(f"line {line}: {what}")


def forbidden_in(markup: str) -> list[str]:
    """Every inline style or script, frame, live address or load from elsewhere in ``markup``, with its line."""
    looking = _Looking()
    looking.feed(markup)
    looking.close()
    return looking.found
