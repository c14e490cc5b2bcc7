"""A design of the capstone's size: two vibration channels, tacho, thermocouple, a control loop, registers and a log."""

from simkit import (
    AnalogIn,
    AnalogOut,
    Design,
    DigitalIn,
    DigitalOut,
    HostReg,
    HostStream,
    Reg,
    ThermocoupleIn,
    bit,
    clocked,
    ms,
    resize,
    sequenced,
    signed,
    unsigned,
)


class Monitor(Design):
    """Hold fan B's speed, watch both bearings, trip when fan B shakes, log its vibration."""

    accel_a = AnalogIn("fan A bearing")
    accel_b = AnalogIn("fan B bearing")
    pulse = DigitalIn("fan B pulse")
    plenum = ThermocoupleIn("plenum")
    speed = AnalogOut("fan B speed")
    relay = DigitalOut("fan B trip")
    setpoint = HostReg(signed(32), reset=1_600_000, unit="ticks")
    limit = HostReg(unsigned(24), reset=2_000_000)
    level_a = HostReg(unsigned(24), access="ro")
    level_b = HostReg(unsigned(24), access="ro")
    period = HostReg(signed(32), access="ro", unit="ticks")
    temperature = HostReg(signed(24), access="ro")
    log = HostStream(signed(24), 4096, "to_host")
    count = Reg(signed(32))
    before = Reg(bit)
    sum_a = Reg(unsigned(36))
    sum_b = Reg(unsigned(36))
    over = Reg(unsigned(16))
    drive = Reg(signed(32), reset=200_000_000)

    @sequenced
    def watch_a(self):
        a = self.accel_a.read()
        size = resize(unsigned(24)(abs(a)), unsigned(36))
        self.sum_a = self.sum_a - (self.sum_a >> 10) + size
        self.level_a = resize(self.sum_a >> 10, unsigned(24))

    @sequenced
    def watch_b(self):
        b = self.accel_b.read()
        self.log.try_put(b)
        self.sum_b = self.sum_b - (self.sum_b >> 10) + resize(unsigned(24)(abs(b)), unsigned(36))
        self.level_b = resize(self.sum_b >> 10, unsigned(24))
        if self.level_b <= self.limit:
            self.over = 0
        elif self.over < 2560:
            self.over = self.over + 1
        self.relay = self.over == 2560

    @clocked
    def tacho(self):
        self.before = self.pulse
        if self.pulse and not self.before:
            self.period = self.count
            self.count = 0
        else:
            self.count = self.count + 1

    @sequenced(every=ms(1))
    def control(self):
        error = self.period - self.setpoint
        self.drive = self.drive + (error >> 6)
        if self.drive > 536_000_000:
            self.drive = 536_000_000
        elif self.drive < 0:
            self.drive = 0
        self.speed = resize(self.drive >> 14, signed(16))

    @sequenced
    def warmth(self):
        t = self.plenum.read()
        self.temperature = t
