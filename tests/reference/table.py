"""Puts the tables of several methods side by side: python table.py OUT NAME ...

Reads OUT/NAME/table.txt, as `truth_table --out` writes it, and prints a row for each figure and a column for each name: first the
means over the scenes, then the medians. The best of each row stands out.
"""

import pathlib
import sys

NAME_WIDTH = 24  # Of a figure's name in table.txt; names hold blanks.
COLUMNS = {"mean": 1, "median": 2}


def figures(path, column):
    """The figures of one table by name; what is no row of figures is passed over."""
    found = {}
    for row in path.read_text().splitlines()[1:]:
        if not row.strip():
            break
        found[row[:NAME_WIDTH].strip()] = float(row[NAME_WIDTH:].split()[column])
    return found


def main():
    if len(sys.argv) < 3:
        raise SystemExit("usage: table.py OUT NAME ...")
    out, names = pathlib.Path(sys.argv[1]), sys.argv[2:]
    for title, column in COLUMNS.items():
        tables = [figures(out / name / "table.txt", column) for name in names]
        print(f"| {title} | {' | '.join(names)} |\n|---|{'---:|' * len(names)}")
        for figure in tables[0]:
            values = [table.get(figure) for table in tables]
            best = f"{min(v for v in values if v is not None):.2f}"
            cells = ["" if v is None else f"{v:.2f}" for v in values]
            cells = [f"**{cell}**" if cell == best else cell for cell in cells]
            print(f"| {figure} | {' | '.join(cells)} |")
        print()


main()
