"""Circuits of the kinds that supplies are made of, at ordinary values."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from circuits import GROUND, Board

from railwright.engine.topology import AIR


def resistor_and_diode() -> Board:
    """The textbook's first nonlinear circuit."""
    board = Board().source("V", "IN", 5.0).resistor("R", "IN", "A", 1e3)
    return board.part("D", "diode", {"anode": "A", "cathode": GROUND})


def amplifier_stage() -> Board:
    """One transistor, biased by a divider and its emitter resistor."""
    board = Board().source("V", "VCC", 12.0)
    board.resistor("R1", "VCC", "B", 47e3).resistor("R2", "B", GROUND, 10e3)
    board.resistor("RC", "VCC", "C", 4.7e3).resistor("RE", "E", GROUND, 1e3)
    pins = {"collector": "C", "base": "B", "emitter": "E"}
    return board.part("Q", "bipolar-transistor", pins, early_voltage=80.0, gain_half_current=0.3)


def zener_shunt() -> Board:
    """A zener behind its resistor, with a load."""
    board = Board().source("V", "IN", 12.0, resistance=0.5).resistor("R", "IN", "OUT", 330.0)
    board.part("Z", "zener", {"anode": GROUND, "cathode": "OUT"})
    return board.load("LD", "OUT", 5e-3)


def adjustable_regulator() -> Board:
    """A 317 type with its divider, on a heat sink."""
    board = Board().source("V", "IN", 15.0, resistance=0.1)
    pins = {"input": "IN", "output": "OUT", "adjust": "ADJ", "case": "TAB"}
    board.part("U", "adjustable-regulator", pins)
    board.part("H", "heat-sink", {"face": "TAB", "air": AIR}, resistance=9.0)
    board.resistor("R1", "OUT", "ADJ", 240.0).resistor("R2", "ADJ", GROUND, 1.5e3)
    return board.load("LD", "OUT", 0.5)


def tracking_supply() -> Board:
    """A step-down regulator that follows the output of a linear one by a level shift."""
    board = Board().source("V", "IN", 19.0, resistance=0.12, current_limit=3.2)
    pins = {"input": "IN", "switch": "SW", "ground": GROUND, "feedback": "FB", "disable": "OFF"}
    board.part("U1", "step-down-regulator", pins, gain=100.0)
    board.part("D1", "diode", {"anode": GROUND, "cathode": "SW"}, forward_voltage=0.5, gap=0.7)
    board.part("L1", "inductor", {"one": "SW", "two": "PRE"})
    board.resistor("R1", "PRE", "E", 1.5e3).resistor("R2", "FB", GROUND, 1e3)
    pins = {"emitter": "E", "base": "OUT", "collector": "FB"}
    board.part("Q1", "bipolar-transistor", pins, {"polarity": "pnp"}, junction_to_ambient=200.0)
    board.resistor("R3", "OFF", GROUND, 1e3)
    pins = {"input": "PRE", "output": "OUT", "adjust": "ADJ"}
    board.part("U2", "adjustable-regulator", pins, junction_to_ambient=13.0)
    board.resistor("R4", "OUT", "ADJ", 100.0).resistor("R5", "ADJ", GROUND, 470.0)
    return board.load("LD", "OUT", 0.8)


def amplified_pass_transistor() -> Board:
    """An operational amplifier that drives a pass transistor, beyond its own output current."""
    board = Board().source("VIN", "IN", 12.0, resistance=0.05).source("VR", "REF", 1.2)
    pins = {"plus": "REF", "minus": "FB", "output": "DRV", "supply": "IN", "ground": GROUND}
    board.part("A", "operational-amplifier", pins)
    board.resistor("RB", "DRV", "B", 100.0)
    pins = {"collector": "IN", "base": "B", "emitter": "OUT", "case": "TAB"}
    board.part("Q", "bipolar-transistor", pins)
    board.part("H", "heat-sink", {"face": "TAB", "air": AIR}, resistance=3.0)
    board.resistor("R1", "OUT", "FB", 3e3).resistor("R2", "FB", GROUND, 1e3)
    return board.load("LD", "OUT", 0.4)


def comparator_and_latch() -> Board:
    """A comparator whose verdict sets a latch of two gates, which drives a transistor."""
    board = Board().source("VCC", "VCC", 12.0).source("VS", "S", 2.0)
    board.resistor("R1", "VCC", "REF", 10e3).resistor("R2", "REF", GROUND, 1.5e3)
    powered = {"supply": "VCC", "ground": GROUND}
    board.part("C", "comparator", {"plus": "S", "minus": "REF", "output": "T", **powered})
    board.resistor("RP", "VCC", "T", 10e3).resistor("RR", "RST", GROUND, 10e3)
    nor = {"function": "nor"}
    board.part("G1", "logic-gate", {"a": "T", "b": "Q", "output": "QN", **powered}, nor)
    board.part("G2", "logic-gate", {"a": "RST", "b": "QN", "output": "Q", **powered}, nor)
    board.resistor("RB", "Q", "B", 10e3).resistor("RL", "VCC", "C", 470.0)
    pins = {"collector": "C", "base": "B", "emitter": GROUND}
    return board.part("Q1", "bipolar-transistor", pins)


def crowbar() -> Board:
    """A shunt reference that watches a rail and fires a thyristor across it."""
    board = Board().source("V", "IN", 16.0, resistance=0.1, current_limit=2.0)
    board.resistor("R1", "IN", "REF", 40e3).resistor("R2", "REF", GROUND, 10e3)
    board.resistor("RE", "IN", "B", 1e3).resistor("RK", "B", "K", 1e3)
    board.part("U", "shunt-reference", {"cathode": "K", "anode": GROUND, "reference": "REF"})
    pins = {"emitter": "IN", "base": "B", "collector": "G"}
    board.part("Q", "bipolar-transistor", pins, {"polarity": "pnp"})
    board.resistor("RG", "G", GROUND, 1e3)
    pins = {"anode": "IN", "cathode": GROUND, "gate": "G"}
    return board.part("T", "thyristor", pins, junction_to_ambient=10.0)


EXAMPLES: Mapping[str, Callable[[], Board]] = {
    each.__name__: each
    for each in (
        resistor_and_diode,
        amplifier_stage,
        zener_shunt,
        adjustable_regulator,
        tracking_supply,
        amplified_pass_transistor,
        comparator_and_latch,
        crowbar,
    )
}
