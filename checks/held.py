"""Holds a file of expected values against what is computed anew, value by value."""

from __future__ import annotations

from pathlib import Path

import pandas as pd


def compare(method: str, file: Path, found: pd.DataFrame, by: str, near: float) -> tuple[int, list[str]]:
    """How many values the file holds, and what disagrees by more than `near`, relative above 1; `by`: what computed them anew."""
    held = pd.read_csv(file, comment="#")
    names = [name for name in held.columns if name != "value"]
    wrong = []
    if len(held) != len(found):
        wrong.append(f"{method}: {len(held)} expected values in the file, {len(found)} by {by}")
    for (_, here), (_, there) in zip(held.iterrows(), found.iterrows()):
        if not abs(here["value"] - there["value"]) <= near * max(1.0, abs(there["value"])):
            which = " ".join(str(here[name]) for name in names if pd.notna(here[name]))
            wrong.append(f"{method}: {which}: {here['value']}, by {by} {there['value']}")
    return len(held), wrong
