"""Patterns and bend schedules to draw, made by the house from a job file of invented pieces."""

from functools import cache
from pathlib import Path

from fabplan.bending.schedule import schedule_bends
from fabplan.blanks.develop import develop
from fabplan.job.load import load_job
from fabplan.job.metals import load_metal
from fabplan.units import Show

JOB = Path(__file__).parent / "pieces.toml"


@cache
def job():
    return load_job(JOB)


@cache
def metals():
    return {job().metal.use: load_metal(job().metal.use)}


@cache
def patterns():
    return {p.mark: p for p in develop(job(), metals())}


@cache
def schedule(mark):
    return schedule_bends(patterns()[mark], job(), metals())


def show():
    return Show(job().info.units, int(job().info.round_to))


MARKS = ("A", "B", "S", "RH", "RL", "RR", "D", "P", "K", "X")
FOLDED = ("A", "B", "S", "P", "X", "D")
