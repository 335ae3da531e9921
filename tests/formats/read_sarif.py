"""Reads a SARIF log through a library of another make and makes each fix in the file it names.

Writes JSON: a list a result of [rule, [the file's text with each fix made]].
"""

import json
import sys
import urllib.parse

from sarif_pydantic import Sarif


def offset(lines, line, column):
    """Lines and columns count from 1, columns in code points."""
    return sum(len(text) for text in lines[: line - 1]) + column - 1


def fixed(fix):
    (change,) = fix.artifact_changes
    path = urllib.parse.unquote(change.artifact_location.uri.removeprefix("file://"))
    with open(path, encoding="utf-8", newline="") as file:
        text = file.read()
    lines = text.split("\n")
    lines = [one + "\n" for one in lines[:-1]] + [lines[-1]]
    for one in reversed(change.replacements):
        region = one.deleted_region
        start = offset(lines, region.start_line, region.start_column)
        end = offset(lines, region.end_line, region.end_column)
        assert start <= end <= len(text), region
        text = text[:start] + (one.inserted_content.text if one.inserted_content else "") + text[end:]
    return text


with open(sys.argv[1], encoding="utf-8") as file:
    log = Sarif.model_validate_json(file.read())
(run,) = log.runs
json.dump([[r.rule_id, [fixed(fix) for fix in r.fixes or []]] for r in run.results], sys.stdout)
