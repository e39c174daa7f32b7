"""Learns what enclosed whites, loose parts, and pale pieces that hang on paint are, and writes `src/learned/whites.rs`, `parts.rs`
and `scraps.rs` there.

    cargo build --release --example features
    python3 tests/learning/learn.py target/release/examples/features SCANS [--check]

SCANS is a folder with the scans named in `whites.csv`, `parts.csv` and `scraps.csv`, which hold what a pair of eyes said of places
in them: name, x, y, and `w` for a white that belongs to the painting or `p` for a pocket of paper, `a` for art or `x` for what is none,
`m` or `?` for what is both or cannot be told. Needs numpy and scikit-learn 1.9.1 (a virtual environment outside of the
project). `--check` writes nothing and prints how often the trees are right about what they have not seen: every painting or
scene is judged by trees learned from others, once split by painting and once by the book that it comes from.

The trees are by gradient boosting (Friedman, "Greedy function approximation: a gradient boosting machine", Annals of Statistics
29, 2001), as scikit-learn does it.
"""

import csv
import io
import pathlib
import subprocess
import sys

import numpy as np
from sklearn.ensemble import GradientBoostingClassifier

HERE = pathlib.Path(__file__).resolve().parent
LEARNED = HERE.parents[1] / "src" / "learned"
DEPTH = 3
# Rendered scenes: seeds, and the size of their sheets.
SCENES = (("3001..3120", "600x750"), ("3121..3160", "1200x1500"), ("3161..3175", "2400x3000"))


class Kind:
    """What is told apart; of features, `left_out` are not learned from."""

    left_out = set()

    @staticmethod
    def counts(_names, _label, _values):
        """Whether something in a rendered scene is learned from."""
        return True


class Whites(Kind):
    kind, right, wrong = "white", "w", "p"
    about = "Which enclosed bare areas are whites"
    odds = "The log odds of a white."
    # So few sheets are too few to tell what toning means.
    left_out = {"toned"}
    rendered, areas = 0.5, (0.3, 30)
    count, trees, rate = "WHITES", 200, 0.05

    @staticmethod
    def counts(names, label, values):
        """A smooth hole in one wash is taken for a white whatever it is: the renderer makes pockets of this kind too."""
        value = dict(zip(names, map(float, values)))
        return not (label == "p" and value["gap"] == 0 and value["deep"] >= 0.75 and value["filled"] >= 0.94)


class Parts(Kind):
    kind, right, wrong = "part", "a", "x"
    about = "Which loose parts are art"
    odds = "The log odds of art."
    rendered, areas = 1.0, (0.05, 10)
    count, trees, rate = "PIECES", 100, 0.1


class Scraps(Parts):
    kind = "scrap"
    about = "Which pale pieces that hang on paint are art"
    rendered, areas = 0.5, (0.05, 30)


def measured(program, arguments):
    lines = subprocess.run([program, *arguments], check=True, capture_output=True, text=True).stdout
    return list(csv.reader(io.StringIO(lines)))


def gather(what, of_scans, of_scenes):
    names = next(row[5:] for row in of_scans if row[:2] == [what.kind, "name"])
    rows = []
    for kind, name, _, _, label, *values in [*of_scans, *of_scenes]:
        # Of scans by eye, of scenes by the truth.
        counts = not name.startswith("seed_") or what.counts(names, label, values)
        if kind == what.kind and label in (what.right, what.wrong) and counts:
            rows.append((name, label, values))
    name = np.array([r[0] for r in rows])
    return names, name, np.array([r[1] == what.right for r in rows]), np.array([r[2] for r in rows], np.float32)


def weights(what, name, area):
    """No painting outweighs others by its number of areas, and what is large counts for more."""
    rendered = np.char.startswith(name, "seed_")
    weight = np.ones(len(name))
    for one in set(name):
        weight[name == one] = (name == one).sum() ** -0.5
    weight[rendered] *= what.rendered * weight[~rendered].sum() / weight[rendered].sum()
    return weight * np.clip(area, *what.areas) ** 0.25


def model(what):
    return GradientBoostingClassifier(
        n_estimators=what.trees, max_depth=DEPTH, learning_rate=what.rate, subsample=0.6, max_features=0.4, min_samples_leaf=15, random_state=1
    )


def check(what, name, right, values, weight):
    rendered = np.char.startswith(name, "seed_")
    book = np.where(rendered, name, np.array([n.split("_")[0] for n in name]))
    for unseen, group in (("painting", name), ("book", book)):
        probability = np.zeros(len(name))
        folds = sorted(set(group))
        np.random.RandomState(0).shuffle(folds)
        for fold in range(10):
            out = np.isin(group, folds[fold::10])
            fitted = model(what).fit(values[~out], right[~out], sample_weight=weight[~out])
            probability[out] = fitted.predict_proba(values[out])[:, 1]
        hit = (probability > 0.5) == right
        sure = np.abs(probability - 0.5) > 0.35
        print(f"{what.kind}s, never seen the {unseen}:")
        for title, part in (("paintings", ~rendered), ("rendered scenes", rendered)):
            print(
                f"  {title}: {part.sum()}, told right {hit[part].mean():.3f}"
                f" ({what.right} {hit[part & right].mean():.3f}, {what.wrong} {hit[part & ~right].mean():.3f});"
                f" sure of {sure[part].mean():.2f}, and right there {hit[part & sure].mean():.3f}"
            )


def complete(what, tree, columns):
    """The splits and leaves of a tree filled up to its full depth: beyond a leaf all goes left."""
    splits, leaves = [(0, None)] * (2**DEPTH - 1), [0.0] * 2**DEPTH

    def fill(node, place, depth, first):
        if depth == DEPTH:
            leaves[first] = what.rate * tree.value[node][0][0]
        elif tree.children_left[node] < 0:
            for leaf in range(first, first + 2 ** (DEPTH - depth)):
                leaves[leaf] = what.rate * tree.value[node][0][0]
        else:
            splits[place] = (columns[tree.feature[node]], np.float32(tree.threshold[node]))
            half = 2 ** (DEPTH - depth - 1)
            fill(tree.children_left[node], 2 * place + 1, depth + 1, first)
            fill(tree.children_right[node], 2 * place + 2, depth + 1, first + half)

    fill(0, 0, 0, 0)
    return splits, leaves


def number(value):
    text = f"{float(value):.6g}"
    return text if "." in text or "e" in text else f"{text}.0"


def written(what, fitted, start, columns):
    trees = what.count
    lines = [
        f"//! {what.about}: written by `tests/learning/learn.py`, not by hand.",
        "",
        f"use super::{{{', '.join(sorted(['Forest', 'Split', 'Tree', trees]))}}};",
        "",
        f"/// {what.odds}",
        "#[rustfmt::skip]",
        f"pub static FOREST: Forest<{trees}> = Forest {{",
        f"    start: {number(start)},",
        "    trees: [",
    ]
    for tree in fitted.estimators_[:, 0]:
        splits, leaves = complete(what, tree.tree_, columns)
        split = ", ".join(f"Split({f}, {'f32::MAX' if t is None else number(t)})" for f, t in splits)
        lines.append(f"        Tree {{ splits: [{split}], leaves: [{', '.join(map(number, leaves))}] }},")
    return "\n".join([*lines, "    ],", "};", ""])


def main():
    program, scans = sys.argv[1:3]
    of_scans = measured(program, [str(f) for f in sorted(pathlib.Path(scans).iterdir()) if f.is_file()])
    of_scenes = [row for seeds, size in SCENES for row in measured(program, ["--seeds", seeds, size])]
    for what in (Whites, Parts, Scraps):
        names, name, right, values = gather(what, of_scans, of_scenes)
        weight = weights(what, name, values[:, names.index("area_mm2")])
        columns = [i for i, n in enumerate(names) if n not in what.left_out]
        if "--check" in sys.argv:
            check(what, name, right, values[:, columns], weight)
            continue
        fitted = model(what).fit(values[:, columns], right, sample_weight=weight)
        odds = (weight * right).sum() / (weight * ~right).sum()
        (LEARNED / f"{what.kind}s.rs").write_text(written(what, fitted, np.log(odds), columns))


main()
