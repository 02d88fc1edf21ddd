"""Comments that allow a finding, and the two rules about such comments."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.finding import Finding, Severity
from netlister.rules.model import rule
from netlister.source import suggest

if TYPE_CHECKING:
    from collections.abc import Collection

    from netlister.rules.analysis import Analysis
    from netlister.rules.model import Breach, Told
    from netlister.source import Allow

UNUSED = """A comment allows a finding that is not there.

## What it finds

A comment `# netlister: allow RULE: reason` on a line of which that rule has nothing to say, or that names no rule.

## Why it matters

It would hide the finding if it came back.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}  # netlister: allow dead-track: the works siding is fed by hand
feeds:
  - {to: line}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
feeds:
  - {to: line}
```

## How to mend it

Drop the comment, or put it on the line that the finding names.

## When it is meant

Never.
"""

WITHOUT_REASON = """A comment allows a finding without saying why.

## What it finds

A comment `# netlister: allow RULE` with no reason behind it.

## Why it matters

A year later nobody knows whether the fault was understood or only silenced.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
  spur: {length: 300 mm}
joints:
  - {from: line, to: spur, insulate: vee}  # netlister: allow nothing-insulated
feeds:
  - {to: line}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
  spur: {length: 300 mm}
joints:
  - {from: line, to: spur, insulate: vee}  # netlister: allow nothing-insulated: a frog comes here next year
feeds:
  - {to: line}
```

## How to mend it

Write the reason behind a colon.

## When it is meant

Never.
"""


def _nothing(analysis: Analysis) -> tuple[str, ...]:  # noqa: ARG001
    return ()


def _unjudged(analysis: Analysis, subject: str) -> tuple[Breach[None], ...]:  # noqa: ARG001
    return ()


def _never_told(analysis: Analysis, broken: Breach[None]) -> Told:
    raise NotImplementedError  # these rules are decided when all findings are known: see `apply`


RULES = (
    rule("unused-allow", UNUSED, _nothing, _unjudged, _never_told),
    rule("allow-without-reason", WITHOUT_REASON, _nothing, _unjudged, _never_told),
)


def apply(findings: list[Finding], allows: list[Allow], known: Collection[str], ran: Collection[str]) -> list[Finding]:
    """Drop what comments allow, and add what is to be said of the comments themselves.

    `known`: the names of all rules; `ran`: of those that said all they can,
    since only they can show a comment to be unused.
    """
    used: set[Allow] = set()
    kept = []
    for finding in findings:
        matching = [a for a in allows if a.rule == finding.rule and any(_on(a, span) for span in finding.where)]
        used.update(matching)
        if not matching:
            kept.append(finding)
    for allow in allows:
        if not allow.reason and allow.rule in known:
            kept.append(
                _finding(
                    "allow-without-reason",
                    allow,
                    f"'{allow.rule}' is allowed here without a reason",
                    f"write '# netlister: allow {allow.rule}: reason'",
                )
            )
        if allow in used or (allow.rule in known and allow.rule not in ran):
            continue
        if allow.rule in known:
            text = f"nothing on this line breaks '{allow.rule}', so there is nothing to allow"
            kept.append(_finding("unused-allow", allow, text, "drop the comment"))
        else:
            text = f"there is no rule '{allow.rule}'{suggest(allow.rule, known)}"
            kept.append(_finding("unused-allow", allow, text, "name a rule that 'netlister explain' lists"))
    return kept


def _on(allow: Allow, span: tuple[str, int, int, int, int]) -> bool:
    return allow.span.file == span[0] and span[1] <= allow.span.line <= max(span[1], span[3] - (span[4] == 1))


def _finding(rule: str, allow: Allow, message: str, fix: str) -> Finding:
    return Finding(rule, Severity.WARNING, allow.rule, message, fix, where=(allow.span,))
