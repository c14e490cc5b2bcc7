"""Small designs that the bench tests run."""

from simkit import (
    AnalogIn,
    AnalogOut,
    Clock,
    Design,
    DigitalIn,
    DigitalOut,
    HostReg,
    HostStream,
    Reg,
    ThermocoupleIn,
    bit,
    clocked,
    sequenced,
    signed,
    ufixed,
    unsigned,
    until,
)


class Mirror(Design):
    """The lamp follows the switch; the period of fan A's pulse in ticks, less one."""

    lamp = DigitalOut("lamp")
    switch = DigitalIn("switch")
    pulse = DigitalIn("fan A pulse")
    period = HostReg(unsigned(32), access="ro")
    count = Reg(unsigned(32))
    before = Reg(bit)

    @clocked
    def follow(self):
        self.lamp = self.switch

    @clocked
    def measure(self):
        self.before = self.pulse
        if self.pulse and not self.before:
            self.period = self.count
            self.count = 0
        else:
            self.count = self.count + 1


class Vibration(Design):
    """The newest sample for the host, and a command that the host sets."""

    accel = AnalogIn("fan B bearing")
    speed = AnalogOut("fan B speed")
    command = HostReg(signed(16))
    level = HostReg(signed(24), access="ro")

    @sequenced
    def acquire(self):
        self.level = self.accel.read()

    @clocked
    def drive(self):
        self.speed = self.command


class Registers(Design):
    """Host registers of several types."""

    limit = HostReg(unsigned(16), reset=900)
    gain = HostReg(ufixed(3, -4), unit="mm/s")
    seen = HostReg(unsigned(16), access="ro")

    @clocked
    def copy(self):
        self.seen = self.limit


class Both(Vibration):
    """A second channel beside the first."""

    other = AnalogIn("fan A bearing")
    second = HostReg(signed(24), access="ro")

    @clocked
    def watch(self):
        if self.other.valid:
            self.second = self.other.value


def misnamed(terminal):
    """A design with one digital output at any terminal."""

    class Misnamed(Design):
        lamp = DigitalOut(terminal)

        @clocked
        def glow(self):
            self.lamp = 1

    return Misnamed


class Warmth(Design):
    """Temperatures for the host, and a burner that the host switches."""

    plenum = ThermocoupleIn("plenum")
    grain = ThermocoupleIn("grain")
    cold = AnalogIn("cold junction")
    burner = DigitalOut("burner")
    heat = HostReg(bit)
    plenum_code = HostReg(signed(24), access="ro")
    grain_code = HostReg(signed(24), access="ro")
    cold_code = HostReg(signed(24), access="ro")

    @sequenced
    def read_plenum(self):
        v = self.plenum.read()
        self.plenum_code = v

    @sequenced
    def read_grain(self):
        v = self.grain.read()
        self.grain_code = v

    @sequenced
    def read_cold(self):
        v = self.cold.read()
        self.cold_code = v

    @clocked
    def fire(self):
        self.burner = self.heat


class Listener(Design):
    """Shows both bearings' newest codes and drives fan B's command and trip relay."""

    a = AnalogIn("fan A bearing")
    b = AnalogIn("fan B bearing")
    pulse = DigitalIn("fan B pulse")
    mains = AnalogIn("mains")
    speed = AnalogOut("fan B speed", signed(20))
    trip = DigitalOut("fan B trip")
    command = HostReg(signed(20))
    stop = HostReg(bit)

    @clocked
    def drive(self):
        self.speed = self.command
        self.trip = self.stop


class Serial(Design):
    """Looks at the serial line."""

    line = DigitalIn("serial in")
    seen = Reg(bit)

    @clocked
    def look(self):
        self.seen = self.line


class Slow(Vibration):
    """The same at 1 MHz, with a log, so that the reference engine gets through several blocks."""

    clock = Clock(1_000_000)
    log = HostStream(signed(24), 64, "to_host")
    pulse = DigitalIn("fan B pulse")
    turns = HostReg(unsigned(16), access="ro")
    before = Reg(bit)

    @clocked
    def count(self):
        self.before = self.pulse
        if self.pulse and not self.before:
            self.turns = self.turns + 1

    @sequenced
    def keep(self):
        until(self.accel.valid)
        self.log.try_put(self.accel.value)
