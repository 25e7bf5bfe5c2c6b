"""Bench source, multimeter, electronic load and oscilloscope around a simulated supply."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from railwright.bench.simulated.scpi import Answer, Speaker, boolean, number, real
from railwright.bench.simulated.stand import Change, Stand

Array = NDArray[np.float64]
MAKER = "SIMULATED"
MOST_VOLTS, MOST_AMPERES = 60.0, 10.0
"""What source and load can do."""
OVER = 1.9
"""Times a range of a power of ten from which on a meter shows overrange."""
MOST_OHMS, MOST_READ = 50e6, 1000.0


class Noise:
    """What instruments add: each has an error of its gain for good, and noise in every reading."""

    def __init__(self, seed: int, share: float, counts: float = 0.0) -> None:
        """share: greatest error of gain. counts: standard deviation of the noise [units]."""
        self.rng = np.random.default_rng([seed, 4882])
        self.gain = 1.0 + share * self.rng.uniform(-1.0, 1.0)
        self.counts = counts

    def on(self, value: float) -> float:
        """A reading of a value."""
        return value * self.gain + self.counts * float(self.rng.standard_normal())


class SimulatedSupply(Speaker):
    """The bench source."""

    def __init__(self, stand: Stand, noise: Noise) -> None:
        super().__init__(f"{MAKER},BENCH SOURCE,1,1.0", stand.one_by_one)
        self.stand, self.noise = stand, noise
        self.on("[SOURce:]VOLTage[:LEVel][:IMMediate][:AMPLitude]", self._volts)
        self.on("[SOURce:]CURRent[:LEVel][:IMMediate][:AMPLitude]", self._amperes)
        self.on("[SOURce:]VOLTage[:LEVel][:IMMediate][:AMPLitude]?", lambda _: real(stand.volts))
        self.on("[SOURce:]CURRent[:LEVel][:IMMediate][:AMPLitude]?", lambda _: real(stand.amperes))
        self.on("OUTPut[:STATe]", self._switch)
        self.on("OUTPut[:STATe]?", lambda _: str(int(stand.on)))
        self.on("MEASure[:SCALar]:VOLTage[:DC]?", lambda _: real(noise.on(stand.source_voltage())))
        self.on("MEASure[:SCALar]:CURRent[:DC]?", lambda _: real(noise.on(stand.source_current())))

    def reset(self) -> None:
        self.stand.change(on=False, volts=0.0, amperes=0.0)

    def _volts(self, text: str) -> None:
        self.stand.change(volts=number(text, 0.0, MOST_VOLTS))

    def _amperes(self, text: str) -> None:
        self.stand.change(amperes=number(text, 0.0, MOST_AMPERES))

    def _switch(self, text: str) -> None:
        self.stand.change(on=boolean(text))


class SimulatedMultimeter(Speaker):
    """The multimeter: it reads where its leads are."""

    def __init__(self, stand: Stand, noise: Noise) -> None:
        super().__init__(f"{MAKER},MULTIMETER,2,1.0", stand.one_by_one)
        self.stand, self.noise = stand, noise
        self.on("MEASure[:SCALar]:VOLTage[:DC]?", self._reads("voltage"))
        self.on("MEASure[:SCALar]:CURRent[:DC]?", self._reads("current"))
        self.on("MEASure[:SCALar]:RESistance?", self._reads("resistance"))

    def _reads(self, quantity: str) -> Callable[[str], Answer]:
        def read(_: str) -> str:
            leads = self.stand.leads
            if leads is None or leads.quantity != quantity:
                return real(math.inf if quantity == "resistance" else 0.0)
            found = self.stand.read(leads)
            most = MOST_OHMS if quantity == "resistance" else MOST_READ
            return real(self.noise.on(found) if abs(found) < most else found)

        return read


class SimulatedLoad(Speaker):
    """The electronic load, at constant current."""

    def __init__(self, stand: Stand, noise: Noise) -> None:
        super().__init__(f"{MAKER},ELECTRONIC LOAD,3,1.0", stand.one_by_one)
        self.stand, self.noise = stand, noise
        self.on("[SOURce:]FUNCtion[:MODE]", lambda _: None)
        self.on("[SOURce:]CURRent[:LEVel][:IMMediate][:AMPLitude]", self._amperes)
        self.on("[SOURce:]CURRent[:LEVel][:IMMediate][:AMPLitude]?", lambda _: real(stand.load))
        self.on("INPut[:STATe]", self._switch)
        self.on("INPut[:STATe]?", lambda _: str(int(stand.loaded)))
        self.on(
            "MEASure[:SCALar]:VOLTage[:DC]?", lambda _: real(noise.on(stand.terminal_voltage()))
        )
        self.on("MEASure[:SCALar]:CURRent[:DC]?", lambda _: real(noise.on(stand.load_current())))

    def reset(self) -> None:
        self.stand.change(loaded=False, load=0.0)

    def _amperes(self, text: str) -> None:
        self.stand.change(load=number(text, 0.0, MOST_AMPERES))

    def _switch(self, text: str) -> None:
        self.stand.change(loaded=boolean(text))


class SimulatedOscilloscope(Speaker):
    """The oscilloscope: one channel at the rail's terminals, or its probe on its own clip."""

    def __init__(self, stand: Stand, noise: Noise) -> None:
        super().__init__(f"{MAKER},OSCILLOSCOPE,4,1.0", stand.one_by_one)
        self.stand, self.noise = stand, noise
        self.span, self.points, self.offset = 1e-3, 10000, 0.0
        self.armed = self.immediate = False
        self.taken: Array = np.zeros(0)
        stand.changed = self._trigger
        self.on("FORMat[:DATA]", lambda _: None)
        self.on("FORMat:BORDer", lambda _: None)
        self.on("INPut:COUPling", lambda _: None)
        self.on("INPut:FILTer[:LPASs]:FREQuency", lambda _: None)
        self.on("[SENSe:]VOLTage[:DC]:RANGe:PTPeak", lambda _: None)
        self.on("[SENSe:]VOLTage[:DC]:RANGe:OFFSet", lambda _: None)
        self.on("[SENSe:]SWEep:TIME", self._span)
        self.on("[SENSe:]SWEep:POINts", self._points)
        self.on("[SENSe:]SWEep:OFFSet:TIME", self._offset)
        self.on("[SENSe:]SWEep:TINTerval?", lambda _: real(self.span / self.points))
        self.on("TRIGger:SOURce", self._source)
        self.on("TRIGger:LEVel", lambda _: None)
        self.on("TRIGger:SLOPe", lambda _: None)
        self.on("INITiate[:IMMediate]", lambda _: self._arm())
        self.on("ABORt", lambda _: self._abort())
        self.on("[SENSe:]DATA?", lambda _: self._data())

    def reset(self) -> None:
        self.span, self.points, self.offset = 1e-3, 10000, 0.0
        self._abort()

    def _span(self, text: str) -> None:
        self.span = number(text, 1e-9, 1e3)

    def _points(self, text: str) -> None:
        self.points = int(number(text, 10, 10_000_000))

    def _offset(self, text: str) -> None:
        self.offset = number(text, -1e3, 1e3)

    def _source(self, text: str) -> None:
        self.immediate = text.upper().startswith("IMM")

    def _arm(self) -> None:
        self.armed, self.taken = True, np.zeros(0)
        if self.immediate:
            self._keep(self.stand.steady(self._times()))

    def _abort(self) -> None:
        self.armed = False

    def _times(self) -> Array:
        """Of samples, 0 s at the trigger."""
        found: Array = self.offset + self.span / self.points * np.arange(self.points, dtype=float)
        return found

    def _trigger(self, change: Change) -> None:
        if self.armed and not self.immediate:
            self._keep(self.stand.course(change, self._times()))

    def _keep(self, volts: Array) -> None:
        own = self.noise.counts * self.noise.rng.standard_normal(volts.size)
        self.taken = own + (0.0 if self.stand.joined else volts * self.noise.gain)
        self.armed = False

    def _data(self) -> bytes:
        return self.taken.astype(">f4").tobytes()
