"""Simulation models of the two ECP5 cells that yosys ships as black boxes only: DP16KD and MULT18X18D.

They model what yosys's own mapping files connect (``share/lattice/brams_map_16kd.v``, ``dsp_map_18x18.v``): memory without
output registers, multiplier without any register.  Layout of the memory's bits: bit *b* of the smallest unit lies in groups
of nine, of which the narrow widths reach the lower eight (memory_libmap's meaning of ``widths 1 2 4 9 18 36``).
"""

from __future__ import annotations


def _bus(name: str, width: int) -> str:
    return "{" + ", ".join(f"{name}{i}" for i in range(width - 1, -1, -1)) + "}"


def _ports(*names: tuple[str, int]) -> str:
    return ", ".join(f"{name}{i}" for name, width in names for i in range(width))


MULT18X18D = f"""
module MULT18X18D(input {_ports(("A", 18), ("B", 18), ("C", 18))}, input SIGNEDA, SIGNEDB, SOURCEA, SOURCEB,
                  output {_ports(("P", 36))});
    wire signed [18:0] a = {{SIGNEDA & A17, {_bus("A", 18)}}};
    wire signed [18:0] b = {{SIGNEDB & B17, {_bus("B", 18)}}};
    wire signed [37:0] p = a * b;
    assign {_bus("P", 36)} = p[35:0];
endmodule
"""


def _port(own: str, width: str) -> str:
    return f"""
    function integer base_{own}; input [13:0] at; case ({width})
        1: base_{own} = 9 * (at >> 3) + at[2:0];
        2: base_{own} = 9 * (at >> 3) + 2 * at[2:1];
        4: base_{own} = 9 * (at >> 3) + 4 * at[2];
        9: base_{own} = 9 * (at >> 3);
        18: base_{own} = 18 * (at >> 4);
        default: base_{own} = 36 * (at >> 5);
    endcase endfunction
"""


def _edge(own: str) -> str:
    """What one port does at its clock edge; both ports see the words as they were."""
    return (
        f"""
    always @(posedge CLK{own}) begin
        word = bits[base_{own}(ad_{own}) +: 36];
        data = word;
        for (k = 0; k < DATA_WIDTH_{own}; k = k + 1)
            if (DATA_WIDTH_{own} < 18 || ad_{own}[k / 9]) data[k] = di_{own}[k];
        if (CE{own} === 1'b1 && WE{own} === 1'b1) begin
            #0;
            for (k = 0; k < DATA_WIDTH_{own}; k = k + 1) bits[base_{own}(ad_{own}) + k] = data[k];
        end
        if (RST{own} === 1'b1) do_{own} <= 0;
        else if (CE{own} === 1'b1) begin
            if (WE{own} !== 1'b1 || WRITEMODE_{own} == "READBEFOREWRITE") do_{own} <= word;
            else if (WRITEMODE_{own} == "WRITETHROUGH") do_{own} <= data;
        end
    end
""".replace("word", f"word_{own}")
        .replace("data", f"data_{own}")
        .replace("(k", f"(k_{own}")
        .replace("; k ", f"; k_{own} ")
        .replace("= k +", f"= k_{own} +")
        .replace("[k", f"[k_{own}")
        .replace("+ k]", f"+ k_{own}]")
    )


def _dp16kd() -> str:
    inits = [f"INITVAL_{i:02X}" for i in range(64)]
    ins = [("DI{0}", 18), ("AD{0}", 14)]
    sides = {side: [(name.format(side), width) for name, width in ins] for side in "AB"}
    ports = "".join(
        f"input {_ports(*sides[s])}, input CE{s}, OCE{s}, CLK{s}, WE{s}, RST{s}, CS{s}2, CS{s}1, CS{s}0, "
        f"output {_ports((f'DO{s}', 18))}, "
        for s in "AB"
    ).rstrip(", ")
    parameters = [
        f'parameter {name} = "{value}";'
        for name, value in (
            ("REGMODE_A", "NOREG"),
            ("REGMODE_B", "NOREG"),
            ("RESETMODE", "SYNC"),
            ("ASYNC_RESET_RELEASE", "SYNC"),
            ("CSDECODE_A", "0b000"),
            ("CSDECODE_B", "0b000"),
            ("WRITEMODE_A", "NORMAL"),
            ("WRITEMODE_B", "NORMAL"),
            ("CLKAMUX", "CLKA"),
            ("CLKBMUX", "CLKB"),
            ("GSR", "AUTO"),
        )
    ]
    parameters += [
        "parameter DATA_WIDTH_A = 18, DATA_WIDTH_B = 18;",
        *(f"parameter [319:0] {name} = 320'b0;" for name in inits),
    ]
    starts = "\n".join(
        f"        for (i = 0; i < 16; i = i + 1) bits[(16 * {n} + i) * 18 +: 18] = {name}[i * 20 +: 18];"
        for n, name in enumerate(inits)
    )
    body = "".join(_port(s, f"DATA_WIDTH_{s}") + _edge(s) for s in "AB")
    return f"""
module DP16KD({ports});
    {chr(10).join(parameters)}
    reg [18431+36:0] bits = 0;
    integer i, k_A, k_B;
    reg [35:0] word_A, word_B, data_A, data_B;
    reg [35:0] do_A = 0, do_B = 0;
    wire [13:0] ad_A = {_bus("ADA", 14)}, ad_B = {_bus("ADB", 14)};
    wire [35:0] di_A = {{{_bus("DIB", 18)}, {_bus("DIA", 18)}}}, di_B = {{18'b0, {_bus("DIB", 18)}}};
    assign {_bus("DOA", 18)} = DATA_WIDTH_B == 36 ? do_B[17:0] : do_A[17:0];
    assign {_bus("DOB", 18)} = DATA_WIDTH_B == 36 ? do_B[35:18] : do_B[17:0];
    initial begin
{starts}
    end
{body}
endmodule
"""


MODELS = MULT18X18D + _dp16kd()
"""Verilog text of both models."""
