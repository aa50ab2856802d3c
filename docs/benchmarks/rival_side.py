"""The rival's side of `rival_bench.py`: one problem on standard input, its costs as they fall on standard output.

Runs in an environment of its own (Python 3.12 and `packingsolver`), never in the project's. Ended from outside once it
has had its processor time; what was printed by then counts.
"""

from __future__ import annotations

import json
import sys
import time

from packingsolver import rectangleguillotine as guillotine  # type: ignore[import-not-found]


def main() -> None:
    """Solve; print processor seconds and cost of every better plan, and whether the last is proven."""
    data = json.load(sys.stdin)
    builder = guillotine.InstanceBuilder()
    builder.set_objective(guillotine.Objective.VariableSizedBinPacking)
    builder.set_number_of_stages(3)
    builder.set_cut_type(guillotine.CutType.NonExact)
    builder.set_first_stage_orientation(guillotine.CutOrientation.Any)
    pieces = sum(i["count"] for i in data["items"])
    for s in data["stock"]:
        have = pieces if s["available"] is None else s["available"]
        builder.add_bin_type(s["width"], s["length"], cost=s["cost"], copies=have)
    for i in data["items"]:
        builder.add_item_type(i["width"], i["length"], oriented=not i["may_turn"], copies=i["count"])
    parameters = guillotine.OptimizeParameters()
    parameters.verbosity_level = 0
    parameters.time_limit = data["wall"]

    def better(output: guillotine.Output) -> None:
        if output.solution.full() and output.solution.feasible():
            print(time.process_time(), output.solution.cost(), flush=True)

    parameters.new_solution_callback = better
    output = guillotine.optimize(builder.build(), parameters)
    better(output)
    if output.is_proven_optimal():
        print("proven", flush=True)


if __name__ == "__main__":
    main()
