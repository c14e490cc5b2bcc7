"""The register map's SystemRDL text, read by an independent compiler (systemrdl-compiler, SystemRDL 2.0 of Accellera)."""

from systemrdl import RDLCompiler

from simkit import Design, HostReg, clocked, compile_design, sfixed, signed, ufixed, unsigned
from simkit.host import register_map, to_systemrdl


class Part(Design):
    gain = HostReg(ufixed(3, -4), reset=1.5, unit='"odd" unit')
    seen = HostReg(signed(40), access="ro")


class Monitor(Design):
    limit = HostReg(unsigned(16), reset=900)
    offset = HostReg(sfixed(7, -8), reset=-1.5)
    wide = HostReg(unsigned(100))

    def __init__(self):
        self.guard = Part()

    @clocked
    def idle(self):
        pass


def test_the_compiler_finds_every_register_where_the_map_says(tmp_path):
    netlist = compile_design(Monitor)
    path = tmp_path / "map.rdl"
    path.write_text(to_systemrdl(netlist))
    compiler = RDLCompiler()
    compiler.compile_file(str(path))
    top = compiler.elaborate().top
    found = {node.inst_name: node for node in top.registers()}
    entries = register_map(netlist)
    assert len(found) == len(entries) == 5
    for entry in entries:
        node = found[entry.endpoint.name.replace(".", "_")]
        (field,) = node.fields()
        width = entry.endpoint.type.width
        assert (node.absolute_address, node.size, field.width) == (entry.address, entry.size, width)
        assert field.get_property("reset") == entry.reset % 2**width
        assert field.is_sw_writable == (entry.endpoint.options["access"] == "rw")
