"""What is written down for tomorrow's drivers in the demo yard: one run is whole, one lacks its contact and its start."""

from __future__ import annotations

from datetime import datetime, time
from functools import partial

from config.demo.story import Script, World
from hire.actions.runs import RunWords, note_run

NOTED = (
    ("WC-21", "out", RunWords("Wes Tonkin", time(7), "Col Brandt, 08 5550 0344", "UHF 22", "Standpipe, shire depot")),
    ("WC-08", "out", RunWords("Ruby Anselm", water_point_words="Hydrant, Opaline Way; bring the key")),
    ("WC-01", "back", RunWords("Wes Tonkin", contact_words="Jo Renfrew, 08 5550 0311")),
)  # fmt: skip


def _note(world: World, n: int, at: datetime) -> None:
    cart, leg, typed = NOTED[n]
    note_run(line=world.lines[cart], leg=leg, typed=typed, by=world.people["dot"], at=at)


def runs(world: World, script: Script) -> None:
    for n in range(len(NOTED)):
        script.at(world.when(-1, 14, 5 * n), partial(_note, world, n))
