"""Where each key of a TOML text stands: dotted path (counting from 1) to line number.

The TOML reader gives line numbers only for what it cannot read; an error about a value that it can read needs
them too. The text must already have been read without complaint: this walk finds places, it does not check.
"""


def line_numbers(text: str) -> dict[str, int]:
    """Line (from 1) of every table, key and array element, keyed by dotted path.

    `exhaust.route.1.2.angle` is the line of that key; keys keep their spelling without quotes.
    """
    walk = _Walk(text)
    walk.document()
    return walk.lines


class _Walk:
    """A cursor over the text."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1
        self.lines: dict[str, int] = {}
        self.counts: dict[str, int] = {}

    def document(self) -> None:
        table: list[str] = []
        self._blank()
        while self.at < len(self.text):
            if self._sees("["):
                table = self._header()
            else:
                self._pair(table)
            self._blank()

    def _header(self) -> list[str]:
        """A table heading; an array of tables counts up under its own path."""
        line, array = self.line, self.text.startswith("[[", self.at)
        self._step(2 if array else 1)
        names = self._key()
        path: list[str] = []
        for depth, name in enumerate(names, 1):
            path.append(name)
            whole = ".".join(path)
            self.lines.setdefault(whole, line)
            if array and depth == len(names):
                self.counts[whole] = self.counts.get(whole, 0) + 1
            if whole in self.counts:
                path.append(str(self.counts[whole]))
        self.lines[".".join(path)] = line
        self._step(2 if array else 1)
        return path

    def _pair(self, table: list[str]) -> None:
        line = self.line
        path = [*table]
        for name in self._key():
            path.append(name)
            self.lines.setdefault(".".join(path), line)
        self._blank()
        self._step(1)  # the equals sign
        self._value(path)

    def _key(self) -> list[str]:
        """A dotted key, as a list of names."""
        names: list[str] = []
        while True:
            self._blank()
            names.append(self._quoted() if self._sees("\"'") else self._bare())
            self._blank()
            if not self._sees("."):
                return names
            self._step(1)

    def _bare(self) -> str:
        start = self.at
        while self.at < len(self.text) and (self.text[self.at].isalnum() or self.text[self.at] in "_-"):
            self.at += 1
        if self.at == start:
            self._step(1)  # never stand still, whatever the text is
        return self.text[start : self.at]

    def _quoted(self) -> str:
        """A string of one of the four sorts, without its quotes."""
        mark = self.text[self.at]
        fence = mark * 3 if self.text.startswith(mark * 3, self.at) else mark
        self._step(len(fence))
        start = self.at
        while self.at < len(self.text) and not self.text.startswith(fence, self.at):
            self._step(2 if mark == '"' and self._sees("\\") else 1)
        found = self.text[start : self.at]
        self._step(len(fence))
        while fence != mark and self._sees(mark):  # a long string may end in quotes of its own
            self._step(1)
        return found

    def _value(self, path: list[str]) -> None:
        self._blank()
        if self._sees("["):
            self._array(path)
        elif self._sees("{"):
            self._inline_table(path)
        elif self._sees("\"'"):
            self._quoted()
        else:
            while self.at < len(self.text) and not self._sees(",]}\n#"):
                self._step(1)

    def _array(self, path: list[str]) -> None:
        self._step(1)
        number = 0
        while self._inside("]"):
            number += 1
            self.lines[".".join([*path, str(number)])] = self.line
            self._value([*path, str(number)])
        self._step(1)

    def _inline_table(self, path: list[str]) -> None:
        self._step(1)
        while self._inside("}"):
            self._pair(path)
        self._step(1)

    def _inside(self, close: str) -> bool:
        """Go to the next element; False at the closing bracket or the end of the text."""
        self._blank()
        while self._sees(","):
            self._step(1)
            self._blank()
        return self.at < len(self.text) and not self._sees(close)

    def _sees(self, marks: str) -> bool:
        return self.at < len(self.text) and self.text[self.at] in marks

    def _blank(self) -> None:
        """Skip white space, line ends and comments."""
        while self.at < len(self.text):
            if self._sees("#"):
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            elif self.text[self.at].isspace():
                self._step(1)
            else:
                return

    def _step(self, count: int) -> None:
        self.line += self.text.count("\n", self.at, self.at + count)
        self.at += count
