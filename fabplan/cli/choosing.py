"""`fabplan compare`, `best-size` and `quote`: what to buy, what size to make, what to ask."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fabplan.cli.options import (
    AsJson,
    ChartFile,
    Effort,
    JobPath,
    Paper,
    RackFile,
    Seconds,
    Seed,
)
from fabplan.cli.shared import (
    interruptible,
    offered,
    print_json,
    read,
    refuse_unplanned,
)
from fabplan.errors import PlanError
from fabplan.screen import complete

if TYPE_CHECKING:
    pass


def compare(
    job: JobPath,
    rack: RackFile = None,
    sold: Annotated[bool, typer.Option("--sold", help="Also try every width and sheet the metal is sold in.")] = False,
    effort: Annotated[
        float, typer.Option("--search-effort", "--effort", min=0, max=100, help="How hard to look, for each choice.")
    ] = 0.3,
    seed: Seed = None,
    seconds: Seconds = None,
    chart: ChartFile = None,
    price: Annotated[
        list[str] | None,
        typer.Option(
            "--price", help='What if: another price, "coil 24=10.20 per lb"; repeat for more.', show_default=False
        ),
    ] = None,
    with_trade: Annotated[
        bool, typer.Option("--trade/--no-trade", help="Also metal against work: from least metal to fewest settings.")
    ] = True,
    as_json: AsJson = False,
) -> None:
    """Stock against stock, and metal against work: metal, scrap, price, hours and set-ups side by side."""
    from fabplan.plan.make import make_pieces, with_rack
    from fabplan.screen.progress import count_progress
    from fabplan.shop.compare import compare as compare_stock
    from fabplan.shop.decide import best_lines, best_of, priced_otherwise
    from fabplan.shop.report import (
        COMPARE_COLUMNS,
        COMPARE_RIGHT,
        TRADE_COLUMNS,
        TRADE_RIGHT,
        compare_json,
        compare_rows,
        trade_rows,
    )
    from fabplan.shop.trade import trade

    the_job = priced_otherwise(read(job), price or ())
    pieces, left_out = foldable(the_job, make_pieces(the_job))
    offers = offered(rack, the_job)
    with count_progress("Stock choices", quiet=as_json) as done:
        results = compare_stock(
            the_job,
            pieces,
            rack=offers(pieces) if offers else (),
            sold=sold,
            effort=effort,
            seed=seed if seed is not None else the_job.nest.try_again,
            seconds=seconds,
            done=done,
        )
    traded: Any = ()
    if with_trade and any(c.good for c in results):
        with count_progress("Metal against work", quiet=as_json) as done:
            traded = trade(
                with_rack(the_job, pieces, offers),
                pieces,
                effort=effort,
                seed=seed if seed is not None else the_job.nest.try_again,
                seconds=seconds,
                done=done,
            )
    if chart is not None:
        from fabplan.shop.chart import compare_chart, trade_chart, write_chart

        write_chart(compare_chart(results, the_job), chart)
        if traded:
            write_chart(trade_chart(traded, the_job), chart.with_name(f"{chart.stem}-work{chart.suffix}"))
    if as_json:
        print_json(
            {**compare_json(results, the_job, traded, best_of(results, the_job, pieces)), "left_out": left_out[0]}
        )
    else:
        from fabplan.screen.tables import print_all, table

        for line in left_out[1]:
            print(line)
        rows = compare_rows(results, the_job)
        for line in best_lines(best_of(results, the_job, pieces), the_job):
            print(line)
        parts = [table("Stock choices", COMPARE_COLUMNS, rows, right=COMPARE_RIGHT)]
        if traded:
            parts.append(table("Metal against work", TRADE_COLUMNS, trade_rows(traded, the_job), right=TRADE_RIGHT))
        print_all(parts)
    if not any(c.good for c in results):
        raise PlanError("None of the stock choices holds the whole job.", help_="Add stock to the job and try again.")


def foldable(the_job: Any, pieces: Any) -> tuple[Any, tuple[list[str], list[str]]]:
    """The pieces a plan of the job would cut; the marks it leaves out because they cannot be folded, and a line each.

    Where nothing can be folded all pieces stay, and the lines say so.
    """
    from fabplan.plan.make import make_bends
    from fabplan.speech.folds import left_out_words

    unbent = make_bends(the_job, pieces).unbent
    lost = [u.mark for u in unbent]
    rest = pieces.without(set(lost))
    if not rest.patterns:
        return pieces, ([], left_out_words(unbent, counted=True))
    return rest, (lost, left_out_words(unbent))


def best_size(
    job: JobPath,
    piece: Annotated[
        str | None,
        typer.Option(
            "--piece",
            metavar="MARK",
            help="Which diamond.",
            show_default="the only one",
            autocompletion=complete.marks,
        ),
    ] = None,
    least: Annotated[str | None, typer.Option("--from", help="Least finished side.", show_default="2 in below")] = None,
    most: Annotated[str | None, typer.Option("--to", help="Greatest finished side.", show_default="2 in above")] = None,
    step: Annotated[str | None, typer.Option(help="Step between sizes.", show_default="about 65 sizes")] = None,
    angle: Annotated[
        list[float] | None, typer.Option(min=60, max=120, help="Top angle to try; repeat for more.")
    ] = None,
    nest: Annotated[bool, typer.Option("--nest/--no-nest", help="Nest the whole job at the best sizes.")] = True,
    chart: ChartFile = None,
    as_json: AsJson = False,
) -> None:
    """Which finished size of a diamond wastes least, on each stock."""
    from fabplan.plan.file import parts_json
    from fabplan.plan.make import make_bends, make_pieces, metals_of
    from fabplan.screen.progress import count_progress
    from fabplan.shop.counter import typed_length
    from fabplan.shop.nested_sizes import nested_sizes
    from fabplan.shop.report import (
        NESTED_COLUMNS,
        nested_rows,
        size_columns,
        size_json,
        size_rows,
        suggestion_lines,
    )
    from fabplan.shop.sizes import sweep

    the_job = read(job)
    units = the_job.info.units
    with count_progress("Sizes", quiet=as_json) as done:
        found = sweep(
            the_job,
            metals_of(the_job),
            mark=piece,
            least=typed_length(least, units, "--from"),
            most=typed_length(most, units, "--to"),
            step=typed_length(step, units, "--step"),
            angles=angle or (),
            done=(lambda i, n: done(i, n, "")) if done else None,
        )
    tried: Any = ()
    if nest and the_job.stock:
        with count_progress("Nested", quiet=as_json) as done:
            tried = nested_sizes(the_job, found, (lambda i, n: done(i, n, "")) if done else None)
    if chart is not None:
        from fabplan.shop.chart import size_chart, write_chart

        write_chart(size_chart(found, the_job), chart)
    bends = make_bends(the_job, make_pieces(the_job), mark=found.mark)
    if as_json:
        print_json({**size_json(found, the_job, tried), "unbent": parts_json(bends.unbent, the_job)})
        return
    from fabplan.screen.tables import print_all, table
    from fabplan.speech.folds import left_out_words

    for line in left_out_words(bends.unbent, counted=True):
        print(line)
    columns = size_columns(found, the_job)
    shown = table(f"Piece {found.mark}", columns, size_rows(found, the_job), right=tuple(range(len(columns) - 1)))
    parts = [shown, *suggestion_lines(found, the_job)]
    if tried:
        rows = nested_rows(tried, the_job)
        parts.append(table("The whole job, nested", NESTED_COLUMNS, rows, right=tuple(range(len(NESTED_COLUMNS) - 1))))
    print_all(parts)


def quote(
    job: JobPath,
    out: Annotated[Path | None, typer.Option("--out", help="PDF to write.", show_default="<number>-quote.pdf")] = None,
    paper: Annotated[Paper | None, typer.Option(help="Paper size.", show_default="the job's, or letter")] = None,
    seed: Seed = None,
    effort: Effort = None,
    seconds: Seconds = None,
    rack: RackFile = None,
    as_json: AsJson = False,
) -> None:
    """For the office: metal, hours, spares, scrap, total, for each square."""
    from fabplan.packet.output.write import quote_file
    from fabplan.plan.file import parts_json
    from fabplan.plan.make import make_plan
    from fabplan.screen.progress import nest_progress
    from fabplan.shop.quote_page import proved_quote, quote_lines, write_quote

    the_job = read(job)
    with interruptible() as should_stop, nest_progress(quiet=as_json) as progress:
        the_plan = make_plan(
            the_job,
            seed=seed,
            effort=effort,
            seconds=seconds,
            progress=progress,
            should_stop=should_stop,
            offers=offered(rack, the_job),
        )
    found = proved_quote(the_plan)
    size = paper.value if paper else the_job.info.paper
    written_to = write_quote(found, the_plan, quote_file(the_job, out), paper_size=size)
    if as_json:
        from fabplan.plan.file import head

        print_json({**head(the_job), "quote": parts_json(found, the_job)})
    else:
        for line in quote_lines(found, the_plan):
            print(line)
        print(f"Quote written to {written_to}")
    refuse_unplanned(the_plan)
