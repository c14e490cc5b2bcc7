"""Paths of the place-and-route tool's report, cut down.  The report here has the tool's form and invented delays."""

from simkit.build.rawpath import Cell, read_paths


def step(kind, cell, delay, net=""):
    at = {"cell": cell, "loc": [2, 3], "port": "?"}
    return {"type": kind, "delay": delay, "net": net, "from": at, "to": at}


def path_of(*steps):
    clock = "posedge $glbnet$clk_0$TRELLIS_IO_IN"
    cells = {
        "sum_CCU2C_S0": Cell("CCU2C", 7, ""),
        "sum_CCU2C_S1": Cell("CCU2C", 7, ""),
        "a_FF": Cell("TRELLIS_FF", 5, "a"),
        "b_FF": Cell("TRELLIS_FF", 9, "b"),
    }
    (path,) = read_paths({"critical_paths": [{"from": clock, "to": clock, "path": list(steps)}]}, cells)
    return [(stage.kind, stage.cell, stage.line, stage.cells, stage.inside) for stage in path.stages]


def test_cells_that_the_tool_adds_at_the_ends_of_a_carry_chain_are_part_of_it():
    design = "logic_of_design."
    halves = [f"{design}sum_CCU2C_S{k}$CCU2_COMB{half}" for k in (0, 1) for half in (0, 1)]
    whole = ["$nextpnr_CCU2C_4$CCU2_COMB0", "$nextpnr_CCU2C_4$CCU2_COMB1", *halves, "$nextpnr_CCU2C_5$CCU2_COMB0"]
    chain = [
        s for cell in whole for s in (step("routing", cell, 0.6 if cell is whole[0] else 0), step("logic", cell, 0.1))
    ]
    found = path_of(
        step("clk-to-q", f"{design}a_FF", 0.4),
        *chain,
        step("routing", f"{design}b_FF", 0.5),
        step("setup", f"{design}b_FF", 0),
    )
    assert found == [
        ("register", "a", 5, 1, True),
        ("carry", "sum_CCU2C_S0", 7, 4, True),
        ("register", "b", 9, 1, True),
    ]


def test_a_cell_outside_the_design_is_one_of_the_port_link():
    found = path_of(
        step("clk-to-q", "logic_of_design.a_FF", 0.4),
        step("routing", "link_word_LUT4_Z", 0.8),
        step("logic", "link_word_LUT4_Z", 0.2),
        step("routing", "link_word_FF", 0.1),
        step("setup", "link_word_FF", 0),
    )
    assert [inside for *_, inside in found] == [True, False, False]
