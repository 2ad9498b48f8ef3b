"""Print the table of all published cases and draw the cases that have a picture."""

import sys
from pathlib import Path

from validation.cases import all_checks, draw_all
from validation.refinement import table


def main() -> int:
    """Exit code 0 if every row is within its tolerance."""
    failed = 0
    print(f"{'case':22s} {'quantity':42s} {'reference':>13s} {'computed':>13s} {'error':>9s}"
          f" {'tolerance':>9s}  source")  # fmt: skip
    for check in all_checks():
        failed += not check.passed
        mark = "" if check.passed else "   <-- outside"
        mark = "   (missed)" if check.passed and check.missed else mark
        tolerance = check.kind if check.kind.startswith("at") else f"{check.tolerance:9.1e}"
        print(f"{check.case:22s} {check.quantity:42s} {check.reference:13.6g}"
              f" {check.computed:13.6g} {check.error:9.1e} {tolerance:>9s}  {check.source}"
              f"{mark}", flush=True)  # fmt: skip
    print("\n" + table() + "\n")
    folder = Path(__file__).parent / "figures"
    draw_all(folder)
    print(f"{failed} rows outside their tolerance; figures in {folder}")
    return 1 if failed else 0


sys.exit(main())
