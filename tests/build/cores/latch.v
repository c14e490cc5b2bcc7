module latch (input wire clk, input wire en, input wire [3:0] d, output reg [3:0] q);
    always @* if (en) q = d;
endmodule
