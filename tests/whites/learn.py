"""Learns which enclosed areas are whites and which are pockets, and writes `src/matte/trees/table.rs`.

    cargo build --release --example island_features
    python3 tests/whites/learn.py target/release/examples/island_features SCANS [--check]

SCANS is a folder with the scans named in `labels.csv`. Needs numpy and scikit-learn 1.9.0 (a virtual environment outside of the
project). `--check` writes nothing and prints how often a model is right about what it has not seen: every painting or scene is
judged by a model that was learned from others, once split by painting and once by the book that it comes from.

The model is gradient boosting of small trees (Friedman, "Greedy function approximation: a gradient boosting machine", Annals of
Statistics 29, 2001), by scikit-learn.
"""

import csv
import io
import pathlib
import subprocess
import sys

import numpy as np
from sklearn.ensemble import GradientBoostingClassifier

HERE = pathlib.Path(__file__).resolve().parent
TABLE = HERE.parents[1] / "src" / "matte" / "trees" / "table.rs"
TREES, DEPTH, RATE = 100, 3, 0.1
# Not learned from: that leaves are green is true of plants alone, and few sheets are too few to tell what toning means.
LEFT_OUT = {"greener", "toned"}
# Rendered scenes: seeds, and the size of their sheets.
SCENES = (("3001..3120", "600x750"), ("3121..3160", "1200x1500"), ("3161..3175", "2400x3000"))


def measured(program, arguments):
    lines = subprocess.run([program, *arguments], check=True, capture_output=True, text=True).stdout
    rows = list(csv.reader(io.StringIO(lines)))
    return rows[0][4:], rows[1:]


def gather(program, scans):
    wanted = {}
    for name, x, y, label in csv.reader(open(HERE / "labels.csv")):
        wanted.setdefault(name, []).append((int(x), int(y), label))
    files = [str(f) for f in sorted(pathlib.Path(scans).iterdir()) if f.stem in wanted]
    names, of_scans = measured(program, files)
    rows, missing = [], 0
    for name, x, y, _, *values in of_scans:
        near = [l for i, j, l in wanted[name] if abs(i - int(x)) <= 2 and abs(j - int(y)) <= 2]
        missing += not near
        if near and near[0] in "wp":
            rows.append((name, near[0], values))
    for seeds, size in SCENES:
        scenes = measured(program, ["--seeds", seeds, size])[1]
        rows += [(name, label, values) for name, _, _, label, *values in scenes if not (label == "p" and is_oval(names, values))]
    print(f"{len(rows)} areas; {missing} of the scans' have no label", file=sys.stderr)
    name = np.array([r[0] for r in rows])
    return names, name, np.array([r[1] == "w" for r in rows]), np.array([r[2] for r in rows], np.float32)


def is_oval(names, values):
    """A smooth hole in one wash. The renderer makes pockets and whites of this kind alike; the lifter takes all for whites."""
    value = dict(zip(names, map(float, values)))
    return value["gap"] == 0 and value["deep"] >= 0.75 and value["filled"] >= 0.94


def weights(name, area):
    rendered = np.char.startswith(name, "seed_")
    weight = np.ones(len(name))
    for one in set(name):
        weight[name == one] = (name == one).sum() ** -0.5
    weight[rendered] *= 0.5 * weight[~rendered].sum() / weight[rendered].sum()
    return weight * np.clip(area, 0.3, 30) ** 0.25


def model():
    return GradientBoostingClassifier(
        n_estimators=TREES, max_depth=DEPTH, learning_rate=RATE, subsample=0.6, max_features=0.4, min_samples_leaf=15, random_state=1
    )


def check(names, name, white, values, weight):
    rendered = np.char.startswith(name, "seed_")
    book = np.where(rendered, name, np.array([n.split("_")[0] for n in name]))
    for what, group in (("painting", name), ("book", book)):
        probability = np.zeros(len(name))
        folds = sorted(set(group))
        np.random.RandomState(0).shuffle(folds)
        for fold in range(10):
            out = np.isin(group, folds[fold::10])
            fitted = model().fit(values[~out], white[~out], sample_weight=weight[~out])
            probability[out] = fitted.predict_proba(values[out])[:, 1]
        right = (probability > 0.5) == white
        sure = np.abs(probability - 0.5) > 0.4
        print(f"never seen the {what}:")
        for title, part in (("paintings", ~rendered), ("rendered scenes", rendered)):
            print(
                f"  {title}: {part.sum()} areas, right {right[part].mean():.3f}"
                f" (whites {right[part & white].mean():.3f}, pockets {right[part & ~white].mean():.3f});"
                f" sure of {sure[part].mean():.2f}, and right there {right[part & sure].mean():.3f}"
            )


def complete(tree, rate, columns):
    """The splits and leaves of a tree filled up to its full depth: beyond a leaf all goes left."""
    splits, leaves = [(0, None)] * (2**DEPTH - 1), [0.0] * 2**DEPTH

    def fill(node, place, depth, first):
        if depth == DEPTH:
            leaves[first] = rate * tree.value[node][0][0]
        elif tree.children_left[node] < 0:
            for leaf in range(first, first + 2 ** (DEPTH - depth)):
                leaves[leaf] = rate * tree.value[node][0][0]
        else:
            splits[place] = (columns[tree.feature[node]], np.float32(tree.threshold[node]))
            half = 2 ** (DEPTH - depth - 1)
            fill(tree.children_left[node], 2 * place + 1, depth + 1, first)
            fill(tree.children_right[node], 2 * place + 2, depth + 1, first + half)

    fill(0, 0, 0, 0)
    return splits, leaves


def written(fitted, start, columns):
    number = lambda v: f"{float(v):.6g}" if "." in f"{float(v):.6g}" or "e" in f"{float(v):.6g}" else f"{float(v):.6g}.0"
    lines = [
        "//! What was learned: written by `tests/whites/learn.py`, not by hand.",
        "",
        "use super::{Split, Tree};",
        "",
        "/// Log odds of a white before any tree has spoken.",
        f"pub(super) const START: f32 = {number(start)};",
        "",
        "/// The trees.",
        "#[rustfmt::skip]",
        f"pub(super) const TREES: [Tree; {TREES}] = [",
    ]
    for tree in fitted.estimators_[:, 0]:
        splits, leaves = complete(tree.tree_, RATE, columns)
        split = ", ".join(f"Split({f}, {'f32::MAX' if t is None else number(t)})" for f, t in splits)
        lines.append(f"    Tree {{ splits: [{split}], leaves: [{', '.join(map(number, leaves))}] }},")
    return "\n".join([*lines, "];", ""])


def main():
    arguments = sys.argv[1:]
    checking = "--check" in arguments
    names, name, white, values = gather(arguments[0], arguments[1])
    weight = weights(name, values[:, names.index("area_mm2")])
    columns = [i for i, n in enumerate(names) if n not in LEFT_OUT]
    if checking:
        check(names, name, white, values[:, columns], weight)
        return
    fitted = model().fit(values[:, columns], white, sample_weight=weight)
    odds = (weight * white).sum() / (weight * ~white).sum()
    TABLE.write_text(written(fitted, np.log(odds), columns))


main()
