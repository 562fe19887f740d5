"""Merges demo dumps that a thousand seeds edit, and says whether anything was lost without a mark.

`python -m tests.benchmarks.merges [COUNT]`. The tests do the same with the first seeds.
"""

import sys
import time
from collections import Counter

from tests.git.demo import merged
from tests.git.random_merges import losses, three_sides


def main(count: int) -> int:
    """Print what became of the merges, and every loss; 1 where there is one."""
    start, how, lost = time.process_time(), Counter[str](), 0
    for seed in range(count):
        three = three_sides(seed)
        outcome = merged(*three)
        kind = "with conflicts" if outcome.conflicts else "without conflict"
        how[f"{'as text' if outcome.why_text else 'by setting'}, {kind}"] += 1
        for loss in losses(*three, outcome):
            lost += 1
            print(f"seed {seed}: {loss}")
    spent = time.process_time() - start
    print(f"{count:,} merges, {lost} losses, {spent:.0f} s of processor time")
    for name, number in how.most_common():
        print(f"  {number:>6,}  {name}")
    return int(lost > 0)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000))
