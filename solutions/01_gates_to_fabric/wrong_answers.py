"""What learners of lab 01 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import WrongAnswer

FULL = '''
class FullAdder(Design):
    a = HostReg(bit)
    b = HostReg(bit)
    carry_in = HostReg(bit)
    total = HostReg(bit, access="ro")
    carry_out = HostReg(bit, access="ro")

    @clocked
    def add(self):
        self.total = table({total}, self.a, self.b, self.carry_in)
        self.carry_out = table({carry}, self.a, self.b, self.carry_in)
'''

RIPPLE = '''
class RippleAdder(Design):
    a = HostReg(unsigned({width}))
    b = HostReg(unsigned(n))
    total = HostReg(unsigned(n + 1), access="ro")

    @clocked
    def add(self):
        word = table(0x6, self.a[0], self.b[0])
        carry = table(0x8, self.a[0], self.b[0])
        for i in range(1, n):
            word = {word}
            carry = {carry}
        self.total = {total}
'''

SWAP = '''
class Handover(Design):
    switch = DigitalIn("switch")
    duty = HostReg(unsigned(8), access="ro", reset={duty})
    standby = HostReg(unsigned(8), access="ro", reset={standby})
    spare = Reg(unsigned(8))
    before = Reg(bit)

    @{kind}
    def swap(self):
        {body}
'''


def full(total="0x96", carry="0xE8"):
    return FULL.format(total=total, carry=carry)


def ripple(word="cat(table(0x96, self.a[i], self.b[i], carry), word)", carry="table(0xE8, self.a[i], self.b[i], carry)",
           total="cat(carry, word)", width="n"):
    return RIPPLE.format(word=word, carry=carry, total=total, width=width)


def swap(*lines, kind="clocked", duty="mine_d.duty", standby="mine_d.standby"):
    return SWAP.format(body="\n        ".join(lines), kind=kind, duty=duty, standby=standby)


ON = "if self.switch:"
BOTH = "    self.duty = self.standby; self.standby = self.duty"


def changed(answer, **parts):
    """The solution's record with other values."""
    return f"{answer} = {{**{answer}, " + ", ".join(f'"{name}": {value}' for name, value in parts.items()) + "}"


def other(answer, name, one, two):
    return changed(answer, **{name: f'"{one}" if {answer}["{name}"] == "{two}" else "{two}"'})


wrong_answers = [
    # 01-a
    WrongAnswer("01-a", "row 0 at the left end", 'tables = {**tables, "rule": int(format(tables["rule"], "08b")[::-1], 2)}',
                "rule", "mirrored", alone=True),
    WrongAnswer("01-a", "the gate's opposite", changed("tables", gate='tables["gate"] ^ 0xF'), "gate", "inverted", alone=True),
    WrongAnswer("01-a", "data inputs of the selector exchanged", changed("tables", pick='0xCA ^ 0xAC ^ tables["pick"]'),
                "pick", "rows", alone=True),
    WrongAnswer("01-a", "the last input counted 1", 'tables = {**tables, "pick": sum((tables["pick"] >> int(format(r, "03b")'
                '[::-1], 2) & 1) << r for r in range(8))}', "pick", "order", alone=True),
    WrongAnswer("01-a", "a row wrong", changed("tables", rule='tables["rule"] ^ 0b10'), "rule", "rows", alone=True),
    WrongAnswer("01-a", "eight bits for two inputs", changed("tables", gate='tables["gate"] * 0x11'), "gate", "bits", alone=True),
    # 01-b
    WrongAnswer("01-b", "total is OR", full(total="0xFE"), "total", "or", alone=True),
    WrongAnswer("01-b", "total without the carry", full(total="0x66"), "total", "carry_forgotten", alone=True),
    WrongAnswer("01-b", "total inverted", full(total="0x69"), "total", "inverted", alone=True),
    WrongAnswer("01-b", "carry only if all three", full(carry="0x80"), "carry", "all_three", alone=True),
    WrongAnswer("01-b", "carry of a and b alone", full(carry="0x88"), "carry", "carry_forgotten", alone=True),
    WrongAnswer("01-b", "carry if any", full(carry="0xFE"), "carry", "any", alone=True),
    WrongAnswer("01-b", "the two tables exchanged", full(total="0xE8", carry="0x96"), "total", "count"),
    WrongAnswer("01-b", "carry left out", full(carry="0"), "carry", "still", alone=True),
    # 01-c
    WrongAnswer("01-c", "no carries at all", ripple(word="cat(table(0x6, self.a[i], self.b[i]), word)", carry="table(0, carry, carry)"),
                "carry", "no_carry"),
    WrongAnswer("01-c", "a carry goes one place far", ripple(carry="table(0x8, self.a[i], self.b[i])"), "carry", "one_place",
                alone=True),
    WrongAnswer("01-c", "the last carry lost", ripple(total="unsigned(n + 1)(word)"), "top", "last_carry", alone=True),
    WrongAnswer("01-c", "bits in the wrong order", ripple(word="cat(word, table(0x96, self.a[i], self.b[i], carry))"), "plain", "places"),
    WrongAnswer("01-c", "the carry used after it was made", ripple(word="0", carry="0").replace(
        "            word = 0\n            carry = 0", "            carry = table(0xE8, self.a[i], self.b[i], carry)\n"
        "            word = cat(table(0x96, self.a[i], self.b[i], carry), word)"), "carry", "chain"),
    WrongAnswer("01-c", "a plain plus", ripple(total="unsigned(n + 1)(self.a) + self.b"), "tables", "tables", alone=True),
    # 01-d
    WrongAnswer("01-d", "one after the other", swap(ON, "    self.duty = self.standby", "    tick()", "    self.standby = self.duty",
                                                    kind="sequenced"), "swap", "copied"),
    WrongAnswer("01-d", "a wire in between", swap(ON, "    new = self.standby", "    self.duty = new", "    self.standby = new"),
                "swap", "copied"),
    WrongAnswer("01-d", "without asking for the switch", swap("self.duty = self.standby; self.standby = self.duty"), "swap", "idle"),
    WrongAnswer("01-d", "set back when the switch goes off", swap(ON, BOTH, "else:", "    self.duty = mine_d.duty; "
                "self.standby = mine_d.standby"), "swap", "falls_back"),
    WrongAnswer("01-d", "a spare register", swap(ON, "    self.spare = self.duty", "    self.duty = self.standby",
                                                 "    self.standby = self.spare"), "swap", "spare"),
    WrongAnswer("01-d", "a spare register that follows", swap("self.spare = self.duty", ON, "    self.duty = self.standby",
                                                              "    self.standby = self.spare"), "every", "every", alone=True),
    WrongAnswer("01-d", "once for each press", swap("self.before = self.switch", "if self.switch and not self.before:", BOTH),
                "every", "edge", alone=True),
    WrongAnswer("01-d", "the numbers exchanged", swap(ON, BOTH, duty="mine_d.standby", standby="mine_d.duty"), "start", "exchanged",
                alone=True),
    WrongAnswer("01-d", "no start values", swap(ON, BOTH, duty=0, standby=0), "start", "start"),
    # 01-e
    WrongAnswer("01-e", "one adder for all", changed("loops", space_adders=1), "space_adders", "adders", alone=True),
    WrongAnswer("01-e", "as many adders as values", changed("loops", space_adders="mine_e.n"), "space_adders", "fence", alone=True),
    WrongAnswer("01-e", "a tick for each pass", changed("loops", space_ticks="mine_e.n"), "space_ticks", "one_tick", alone=True),
    WrongAnswer("01-e", "adders copied in time too", changed("loops", time_adders="mine_e.n - 1"), "time_adders", "reused", alone=True),
    WrongAnswer("01-e", "the last tick forgotten", changed("loops", time_ticks="mine_e.n"), "time_ticks", "handover", alone=True),
    WrongAnswer("01-e", "a loop that costs nothing", changed("loops", time_ticks=1), "time_ticks", "steps", alone=True),
    # 01-f
    WrongAnswer("01-f", "the rate of the clock", changed("work", one="mine_f.clock"), "one", "clock_alone", alone=True),
    WrongAnswer("01-f", "clock times multiplications", changed("work", one="mine_f.clock * mine_f.taps"), "one", "upside_down",
                alone=True),
    WrongAnswer("01-f", "rounded down", changed("work", needed='work["needed"] - 1'), "needed", "round_up", alone=True),
    WrongAnswer("01-f", "one for each product", changed("work", needed="mine_f.taps"), "needed", "all_taps", alone=True),
    WrongAnswer("01-f", "far too few", changed("work", needed=1), "needed", "needed", alone=True),
    WrongAnswer("01-f", "the slower one", other("work", "choice", "core", "fabric"), "choice", "choice", alone=True),
    # 01-g
    WrongAnswer("01-g", "a share", changed("reaction", late_percent="float(np.mean(desktop > 2e-3))"), "late", "share", alone=True),
    WrongAnswer("01-g", "late only after 4 ms", changed("reaction", late_percent="100 * float(np.mean(desktop > 4e-3))"), "late",
                "late", alone=True),
    WrongAnswer("01-g", "typical instead of worst", changed("reaction", worst_us="1e6 * float(np.median(real_time))"), "worst",
                "typical", alone=True),
    WrongAnswer("01-g", "in seconds", changed("reaction", worst_us="float(real_time.max())"), "worst", "unit", alone=True),
    WrongAnswer("01-g", "the limit of one access", changed("reaction", worst_us=20 + 20 + 20), "worst", "worst", alone=True),
    WrongAnswer("01-g", "the desktop is mostly in time", changed("reaction", in_2_ms='"desktop"'), "in_2_ms", "sometimes", alone=True),
    WrongAnswer("01-g", "fabric for everything", changed("reaction", in_50_us='"fabric"'), "in_50_us", "faster_than_needed",
                alone=True),
    WrongAnswer("01-g", "real-time means at once", changed("reaction", in_200_ns='"real-time"'), "in_200_ns", "who", alone=True),
    WrongAnswer("01-g", "nobody", changed("reaction", in_own='"none"'), "in_own", "who", alone=True),
    # 01-h
    WrongAnswer("01-h", "the lamp the wrong way round", other("crashed", "lamp", "stops", "goes on"), "lamp", alone=True),
    WrongAnswer("01-h", "the trip the wrong way round", other("crashed", "trip", "stops", "goes on"), "trip", alone=True),
    WrongAnswer("01-h", "the speed falls to 0", changed("crashed", speed='"stops"'), "speed", "register", alone=True),
    WrongAnswer("01-h", "everything stops", 'crashed = dict.fromkeys(crashed, "stops")', "age", "fabric_needs_nobody"),
    # 01-i
    WrongAnswer("01-i", "the chip for nothing", changed("costs", break_even="round(mine_i.masks / mine_i.fpga)"), "break_even", "difference",
                alone=True),
    WrongAnswer("01-i", "half of it", changed("costs", break_even='costs["break_even"] // 2'), "break_even", "equal", alone=True),
    WrongAnswer("01-i", "one device only", changed("costs", fpga_upgrade="mine_i.download"), "fpga_upgrade", "upgrade_cost", alone=True),
    WrongAnswer("01-i", "no new masks", changed("costs", chip_upgrade="mine_i.volume * mine_i.exchange"), "chip_upgrade", "masks_again",
                alone=True),
    WrongAnswer("01-i", "the whole bill", changed("costs", fpga_upgrade="mine_i.volume * (mine_i.fpga + mine_i.download)"), "fpga_upgrade",
                "extra", alone=True),
    WrongAnswer("01-i", "the other one", other("costs", "choice", "fpga", "chip"), "choice", "choice", alone=True),
]
