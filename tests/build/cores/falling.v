module falling (input wire clk, input wire d, output reg q);
    always @(negedge clk) q <= d;
endmodule
