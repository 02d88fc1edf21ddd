"""The same YAML values written in a random style: brackets or lines, quotes, indents, comments, line ends, anchors."""

from __future__ import annotations

import json
import re

PLAIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9_ ./%+-]*[A-Za-z0-9_.%+-]|[A-Za-z0-9]")


class Restyle:
    def __init__(self, rng):
        self.rng = rng
        self.step = rng.choice([2, 2, 4, 3])
        self.dashed = rng.choice([0, 2, 2])  # how far dashes stand in
        self.comments = rng.choice([0.0, 0.2, 0.5])
        self.flowing = rng.choice([0.3, 0.7, 0.95])
        self.eol = rng.choice(["\n", "\n", "\r\n", "\r"])
        self.aliases = rng.choice([0.0, 0.0, 0.5])
        self.anchors = {}
        self.number = 0

    def text(self, data):
        lines = ["# the head of it"] if self.rng.random() < 0.5 else []
        if self.rng.random() < 0.2:
            lines.append("---")
        if self.rng.random() < 0.05:
            lines.append(self.flow(data))
        else:
            lines += self.block_map(data, 0)
        if self.rng.random() < 0.3:
            lines.append("# the end of it")
        text = self.eol.join(lines)
        return text if self.rng.random() < 0.4 else text + self.eol

    def scalar(self, text, flow):
        text = str(text)
        roll = self.rng.random()
        if roll < 0.08:
            return json.dumps(text, ensure_ascii=False)
        if roll < 0.16 or not PLAIN.fullmatch(text) or text in {"null", "~"}:
            return "'" + text.replace("'", "''") + "'"
        return text

    def note(self):
        self.number += 1
        return f"  # note {self.number}: {{x, 'y}} - z" if self.rng.random() < self.comments else ""

    def lone(self, pad):
        self.number += 1
        return [f"{pad}# line {self.number}"] if self.rng.random() < self.comments / 2 else []

    def flow(self, value):
        if isinstance(value, dict):
            inner = [f"{self.scalar(k, True)}: {self.flow_value(v)}" for k, v in value.items()]
            end = self.rng.choice(["", "", "", ", "]) if inner else ""
            space = self.rng.choice(["", "", " "])
            return "{" + space + self.rng.choice([", ", ",  "]).join(inner) + end + space + "}"
        if isinstance(value, list):
            end = self.rng.choice(["", "", ","]) if value else ""
            return "[" + ", ".join(self.flow_value(v) for v in value) + end + "]"
        return self.scalar(value, True)

    def flow_value(self, value):
        return self.shared(value, lambda: self.flow(value))

    def shared(self, value, write):
        """An alias for a value that was written before under an anchor, or the value, perhaps with an anchor."""
        key = json.dumps(value)
        if key in self.anchors and self.rng.random() < self.aliases:
            return f"*{self.anchors[key]} "
        text = write()
        if self.rng.random() < self.aliases and len(key) > 4:
            self.number += 1
            self.anchors[key] = f"a{self.number}"
            return f"&a{self.number} {text}"
        return text

    def block_map(self, value, indent):
        pad = " " * indent
        lines = []
        for key, inner in value.items():
            lines += self.lone(pad)
            head = f"{pad}{self.scalar(key, False)}:"
            if isinstance(inner, dict) and inner and self.rng.random() > (0.02 if indent == 0 else self.flowing):
                lines.append(head + self.note())
                lines += self.block_map(inner, indent + self.step)
            elif isinstance(inner, list) and inner and self.rng.random() > (0.02 if indent == 0 else self.flowing):
                lines.append(head + self.note())
                lines += self.block_list(inner, indent + self.dashed)
            elif isinstance(inner, (dict, list)) and not inner and indent == 0 and self.rng.random() < 0.5:
                lines.append(head + self.note())
            elif isinstance(inner, dict) and len(inner) > 1 and self.rng.random() < 0.1:
                parts = [f"{self.scalar(k, True)}: {self.flow_value(v)}" for k, v in inner.items()]
                lines.append(f"{head} {{{parts[0]},{self.note()}")
                lines += [f"{pad}    {part},{self.note()}" for part in parts[1:-1]]
                lines.append(f"{pad}    {parts[-1]}{self.note()}")
                lines.append(f"{pad}  }}{self.note()}")
            else:
                gap = self.rng.choice([" ", " ", "   "])
                lines.append(head + gap + self.flow_value(inner) + self.note())
        return lines

    def block_list(self, value, indent):
        pad = " " * indent
        lines = []
        for inner in value:
            lines += self.lone(pad)
            if isinstance(inner, dict) and inner and self.rng.random() > self.flowing:
                deep = self.rng.choice([2, 2, 4])
                inside = self.block_map(inner, indent + deep)
                first = next(n for n, line in enumerate(inside) if not line.lstrip().startswith("#"))
                del inside[:first]
                inside[0] = pad + "-" + inside[0][indent + 1 :]
                lines += inside
            else:
                lines.append(f"{pad}- {self.flow_value(inner)}{self.note()}")
        return lines
