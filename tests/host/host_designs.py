"""Designs that the host tests run."""

from simkit import (
    Design,
    HostReg,
    HostStream,
    Interrupt,
    Reg,
    clocked,
    ms,
    resize,
    sequenced,
    sfixed,
    signed,
    ufixed,
    unsigned,
    us,
)


class Counter(Design):
    """Logs a running number every 20 us; what does not fit is lost and counted."""

    log = HostStream(unsigned(32), 256, "to_host")
    n = Reg(unsigned(32))

    @sequenced(every=us(20))
    def produce(self):
        self.log.try_put(self.n)
        self.n = self.n + 1


class Slow(Design):
    """Takes a word from the host every 50 us and adds them up."""

    words = HostStream(sfixed(3, -4), 16, "from_host")
    total = HostReg(sfixed(20, -4), access="ro")
    taken = HostReg(unsigned(32), access="ro")

    @sequenced(every=us(50))
    def consume(self):
        w = self.words.get()
        self.total = resize(self.total + w, sfixed(20, -4))
        self.taken = self.taken + 1


class Hungry(Design):
    """Asks for a word every 100 us, whether there is one or not."""

    orders = HostStream(unsigned(8), 16, "from_host")
    asked = Reg(unsigned(32))

    @sequenced(every=us(100))
    def ask(self):
        self.orders.try_get()
        self.asked = self.asked + 1


class Alarm(Design):
    """Asks for attention at 3 ms and counts the acknowledgements that follow."""

    alarm = Interrupt()
    now = HostReg(unsigned(32), access="ro")
    limit = HostReg(unsigned(32), reset=120_000, unit="ticks")

    @clocked
    def clock(self):
        self.now = self.now + 1
        if self.now == self.limit:
            self.alarm.request()


class Part(Design):
    gain = HostReg(ufixed(3, -4), reset=1.5, unit="mm/s")
    seen = HostReg(signed(40), access="ro")

    @sequenced(every=ms(1))
    def go(self):
        self.seen = -2


class Whole(Design):
    """A sub-design with registers of its own."""

    def __init__(self):
        self.guard = Part()

    limit = HostReg(unsigned(16), reset=900)

    @clocked
    def idle(self):
        pass
